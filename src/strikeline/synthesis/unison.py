"""Two or three strings on one bridge: the modes of each partial, exactly.

On a bridge that gives way, the strings of a note exchange energy. With one complex amplitude a_s per string, a partial
obeys ``da/dt = M·a``, ``M = diag(iω_s - σ) - κ·11ᵀ`` and ``κ = 2·f0·Z·Y(ω)`` (Z the impedance of a string, Y the
admittance of the bridge): the picture of G. Weinreich, "Coupled piano strings", J. Acoust. Soc. Am. 62, 1474 (1977),
written from memory. The eigenvalues of M are the modes that sound: prompt sound and aftersound where the strings are
close, beats where they are not.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from strikeline.physics.strings import partial_frequencies_hz
from strikeline.synthesis.scale import StringUnison

_SPLIT_CENTS = 1e-3
"""Strings in exactly the same place are moved apart by this much, far below any effect: equal eigenvalues have no
unique eigenvectors."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class UnisonModes:
    """Modes of the partials of one note: sums of ``weight·e^(pole·t)`` give the force on the bridge."""

    partial: NDArray[np.int64]  # shape (k,)
    pole_per_s: NDArray[np.complex128]  # shape (k, n_strings), -α + iω
    weight: NDArray[np.complex128]  # shape (k, n_strings), for strings released with their share each


def string_decay_per_s(partial: NDArray[np.int64], unison: StringUnison) -> NDArray[np.float64]:
    """Return the amplitude decay of a string on a rigid bridge, ``b1 + b2·(nπ/L)²``.

    The law is that of Bensa, Bilbao, Kronland-Martinet & Smith (2003, J. Acoust. Soc. Am. 114:1095, as read in a
    secondary survey), with their ``b2 = 1e-6·f0 + 1e-5`` taken at three tenths and ``b1 = 0.15 + 3e-4·f0``: theirs
    include the bridge, which is counted apart here. The figures were chosen so that the aftersound of partial 1 falls
    by 1.5 dB/s in the bass, 2 at C4, 5 at C6 and 40 at A7, as measured on two recorded grands.
    """
    f0 = unison.mean_f0_hz
    wave_number = partial * np.pi / (unison.speaking_length_mm * 1e-3)
    return np.asarray(0.15 + 3e-4 * f0 + 0.3 * (1e-6 * f0 + 1e-5) * wave_number**2)


def couple_strings(
    unison: StringUnison,
    partial: NDArray[np.int64],
    *,
    admittance_s_per_kg: NDArray[np.complex128],
    share: tuple[float, ...],
) -> UnisonModes:
    """Return the modes of all partials of a note.

    Parameters
    ----------
    unison : StringUnison
        The strings, each at its own pitch.
    partial : ndarray of int, shape (k,)
        Partial numbers.
    admittance_s_per_kg : ndarray of complex, shape (k,)
        Admittance of the bridge at each partial; 0 for a rigid bridge.
    share : tuple of float
        Starting amplitude of each string over the mean.

    Returns
    -------
    UnisonModes
        Poles and weights, shape (k, n_strings), and exact to rounding.
    """
    n = unison.n_strings
    split = np.exp2(_SPLIT_CENTS / 1200.0 * (np.arange(n) - (n - 1) / 2.0))
    frequency_hz = np.stack(
        [
            partial_frequencies_hz(partial, f0_hz=f0 * s, inharmonicity_b=unison.inharmonicity_b)
            for f0, s in zip(unison.f0_hz, split, strict=True)
        ],
        axis=1,
    )
    coupling = 2.0 * unison.mean_f0_hz * unison.impedance_kg_per_s * admittance_s_per_kg
    centre = 2j * np.pi * frequency_hz.mean(axis=1) - string_decay_per_s(partial, unison)
    offset = 2j * np.pi * (frequency_hz - frequency_hz.mean(axis=1, keepdims=True))  # small numbers keep their digits
    matrix = np.zeros((partial.size, n, n), dtype=np.complex128) - coupling[:, None, None]
    matrix[:, np.arange(n), np.arange(n)] += offset
    value, vector = np.linalg.eig(matrix)
    start = np.linalg.solve(vector, np.broadcast_to(np.array(share[:n])[:, None], (partial.size, n, 1)))
    return UnisonModes(
        partial=partial,
        pole_per_s=centre[:, None] + value,
        weight=vector.sum(axis=1) * start[:, :, 0],
    )
