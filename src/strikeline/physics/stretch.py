"""How B runs over a typical piano, and the stretch that follows from it.

Both are the model of Rigaud, David & Daudet (2011): B is the sum of two straight lines in ln B (bass bridge and treble
bridge), and the tuning puts partial ρ(m) of note m on the same frequency as partial ρ·f_ET(m)/f_ET(A4) of A4, ρ running
from a wide octave type in the bass to 1 in the treble. The constants are those in the published code of a research
synthesiser (repository lrenault/ddsp-piano, ``modules/sub_modules.py``), which credits the paper; the paper itself was
not opened. That code writes tanh where the paper has erf; erf is used here.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import erf

from strikeline.errors import InputError
from strikeline.keyboard import A4_KEY
from strikeline.physics.ranges import finite, zero_or_more
from strikeline.units import cents_from_ratio

_MIDI_FROM_KEY: Final = 20  # A4 is key 49 and MIDI note 69; the paper counts in MIDI
_TREBLE_SLOPE, _TREBLE_OFFSET = 9.26e-2, -13.64
_BASS_SLOPE, _BASS_OFFSET = -8.47e-2, -5.82
_OCTAVE_TYPE_K: Final = 4.51
_OCTAVE_TYPE_CENTRE, _OCTAVE_TYPE_WIDTH = 64.0, 24.0


def typical_inharmonicity_b(key: ArrayLike) -> NDArray[np.float64]:
    """Return the inharmonicity coefficient of a typical piano.

    ``B(m) = exp(0.0926·m - 13.64) + exp(-0.0847·m - 5.82)`` with m the MIDI note number. Good as a prior: around C4 and
    A4 it and the grands in tests/reference agree within 12 %; in the bass pianos differ by a factor of 5 and more.

    Parameters
    ----------
    key : array_like of float
        Key numbers, 49 for A4; fractions are allowed.

    Returns
    -------
    ndarray of float
        B, dimensionless, in the shape of `key`.

    Raises
    ------
    InputError
        If a key is not finite.

    References
    ----------
    .. [1] F. Rigaud, B. David and L. Daudet, "A parametric model of piano tuning", Proc. DAFx-11, Paris (2011);
       constants as in the code named at the head of this module.

    Examples
    --------
    >>> [f"{b:.2e}" for b in typical_inharmonicity_b([40, 49, 64])]
    ['3.27e-04', '7.18e-04', '2.85e-03']
    """
    midi = finite("key", key) + _MIDI_FROM_KEY
    return np.asarray(np.exp(_TREBLE_SLOPE * midi + _TREBLE_OFFSET) + np.exp(_BASS_SLOPE * midi + _BASS_OFFSET))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stretch:
    """A stretched tuning against equal temperament, both counted from the same A4."""

    key: NDArray[np.float64]  # shape (k,)
    first_partial_cents: NDArray[np.float64]
    """First partial f0·√(1+B) against equal temperament, cents; 0 at A4. What a stretch curve shows."""
    f0_cents: NDArray[np.float64]
    """f0 of the stiff-string law against equal temperament, cents; below 0 at A4 by √(1+B)."""


def natural_stretch(
    key: ArrayLike,
    *,
    inharmonicity_b: ArrayLike,
    a4_inharmonicity_b: float,
    octave_type_k: float = _OCTAVE_TYPE_K,
) -> Stretch:
    """Return the stretch that a piano's own inharmonicity asks for.

    With ``ρ(m) = 1 + (K - 1)/2·(1 - erf((m - 64)/24))`` and ``r = f_ET(m)/f_ET(A4)`` the note is tuned to
    ``f0(m) = f_ET(m)·sqrt((1 + B_A4·(r·ρ)²)/(1 + B_m·ρ²))``. The paper sets f0 of A4; a fork is compared with the first
    partial, so the whole curve is moved (by √(1 + B_A4), about 0.6 cents) to put the first partial of A4 at 0.

    Parameters
    ----------
    key : array_like of float, shape (k,)
        Key numbers, 49 for A4.
    inharmonicity_b : array_like of float, shape (k,)
        B of each key, 0 or more (measured, or from `typical_inharmonicity_b`).
    a4_inharmonicity_b : float
        B of A4, 0 or more.
    octave_type_k : float
        Octave type in the bass: the partial of the lowest notes that is matched, 1 or more; 4.51 fits the pianos of the
        paper.

    Returns
    -------
    Stretch
        Cents against equal temperament, shape (k,).

    Raises
    ------
    InputError
        If a value leaves its range or the shapes differ.

    References
    ----------
    .. [1] F. Rigaud, B. David and L. Daudet, "A parametric model of piano tuning", Proc. DAFx-11, Paris (2011);
       constants as in the code named at the head of this module.

    Examples
    --------
    >>> keys = [1, 49, 88]
    >>> b = typical_inharmonicity_b(keys)
    >>> natural_stretch(keys, inharmonicity_b=b, a4_inharmonicity_b=b[1]).first_partial_cents.round(1)
    array([-9. ,  0. , 54.9])
    """
    keys = finite("key", key)
    b = zero_or_more("inharmonicity_b", inharmonicity_b)
    if b.shape != keys.shape:
        raise InputError.of("inharmonicity_b", b.shape, f"the shape of key, {keys.shape}")
    b_a4 = zero_or_more("a4_inharmonicity_b", a4_inharmonicity_b)
    if not octave_type_k >= 1:
        raise InputError.of("octave_type_k", octave_type_k, "1 or more")
    turn = erf((keys + _MIDI_FROM_KEY - _OCTAVE_TYPE_CENTRE) / _OCTAVE_TYPE_WIDTH)
    rho = 1.0 + (octave_type_k - 1.0) / 2.0 * (1.0 - turn)
    ratio = np.exp2((keys - A4_KEY) / 12.0)
    f0_ratio = np.sqrt((1.0 + b_a4 * (ratio * rho) ** 2) / (1.0 + b * rho**2)) / np.sqrt(1.0 + b_a4)
    return Stretch(
        key=keys,
        first_partial_cents=cents_from_ratio(f0_ratio * np.sqrt(1.0 + b)),
        f0_cents=cents_from_ratio(f0_ratio),
    )
