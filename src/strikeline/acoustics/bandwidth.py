"""Find where the spectrum of a recording ends."""

from __future__ import annotations

from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

_CLIFF_DB: Final = 25.0
_BANDS_PER_OCTAVE: Final = 12
_LOWEST_CLIFF_HZ: Final = 1500.0


def find_cliff_hz(mean_power: NDArray[np.float64], *, bin_hz: float) -> float | None:
    """Return where the spectrum of a whole recording ends like a wall, or ``None`` if it does not.

    Bands of a twelfth of an octave are compared by the median of their bins, which a few narrow partials do not move.
    A wall is an edge above which every band (the two next to it left out) lies 25 dB or more below each of the three
    bands before it. Air, wood and microphones fall by some 12 dB in an octave, and then end in noise (common practice,
    no source); only a filter falls by 25 dB in a sixth of one.

    Parameters
    ----------
    mean_power : ndarray of float, shape (bins,)
        Power spectrum averaged over the recording, from 0 Hz up.
    bin_hz : float
        Distance of the bins.

    Returns
    -------
    float or None
        Frequency of the edge in hertz.
    """
    top_hz = 0.96 * (len(mean_power) - 1) * bin_hz
    n_bands = int(np.floor(_BANDS_PER_OCTAVE * np.log2(top_hz / _LOWEST_CLIFF_HZ))) if top_hz > _LOWEST_CLIFF_HZ else 0
    if n_bands < 6:
        return None
    edges_hz = top_hz * 2.0 ** (-np.arange(n_bands, -1, -1) / _BANDS_PER_OCTAVE)
    edges = np.round(edges_hz / bin_hz).astype(int)
    bands = np.array([np.median(mean_power[low : max(high, low + 1)]) for low, high in pairwise(edges)])
    bands_db = 10 * np.log10(np.maximum(bands, 1e-20))
    drops = {edge: bands_db[edge - 3 : edge].min() - bands_db[edge + 2 :].max() for edge in range(3, n_bands - 2)}
    edge = max(drops, key=lambda at: drops[at])
    return float(edges_hz[edge]) if drops[edge] >= _CLIFF_DB else None
