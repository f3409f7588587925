"""Strings whose winding ends before the string does: stiff strings of stepped mass, their partials and effective B.

A wound string is bare at both ends. There it is lighter, and so the higher partials, which move the ends more, sound
sharper than those of a string wound from end to end: the bare ends add to the inharmonicity. The mode shapes are sought
as sums of sines, in which tension and stiffness are diagonal and only the mass couples:

``T·y'' - E·I·y'''' = -ω²·μ(x)·y``, ends pinned, ``y = Σ c_k·sin(kπx/L)``.

To first order in ``a/L`` the law of the stiff string keeps its form, with the same f0 and ``B + ΔB``, where
``ΔB = (2π²/3)·Σ (Δμ/μ)·(a/L)³`` over all steps of mass Δμ at the distance a from their end (derived here, from
Rayleigh's principle: ``sin²(nπx/L)`` is ``(nπx/L)²`` near an end).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import eigh

from strikeline.errors import InputError
from strikeline.physics.ranges import above_zero, zero_or_more
from strikeline.units import cents_from_ratio

FITTED_PARTIALS: Final = 20
"""Partials 1 to this, equally weighted in cents, give the effective f0 and B unless another count is asked for."""
_LEAST_SINES: Final = 64
_SINES_PER_PARTIAL: Final = 7
_M_PER_MM: Final = 1e-3


@dataclass(frozen=True, slots=True)
class MassLayer:
    """A layer of winding: what it weighs, and how far from each end of the string it begins."""

    linear_density_kg_per_m: float
    from_left_mm: float
    from_right_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SteppedString:
    """A core of uniform stiffness and mass that carries layers of winding; only the core bends."""

    length_mm: float
    """Speaking length."""
    core_density_kg_per_m: float
    """Mass per length of the core."""
    bending_stiffness_n_m2: float
    """Young's modulus times second moment of area of the core."""
    layers: tuple[MassLayer, ...]

    def __post_init__(self) -> None:
        above_zero("length_mm", self.length_mm)
        above_zero("core_density_kg_per_m", self.core_density_kg_per_m)
        zero_or_more("bending_stiffness_n_m2", self.bending_stiffness_n_m2)
        for layer in self.layers:
            zero_or_more("linear_density_kg_per_m", layer.linear_density_kg_per_m)
            bare = zero_or_more("from_left_mm, from_right_mm", [layer.from_left_mm, layer.from_right_mm])
            if bare.sum() >= self.length_mm:
                raise InputError.of(
                    "from_left_mm, from_right_mm",
                    bare.tolist(),
                    f"together less than the speaking length of {self.length_mm:g} mm",
                )

    @property
    def full_density_kg_per_m(self) -> float:
        """Mass per length where all layers lie."""
        return self.core_density_kg_per_m + sum(layer.linear_density_kg_per_m for layer in self.layers)


@dataclass(frozen=True, slots=True, kw_only=True)
class SteppedLaw:
    """The law of the stiff string that comes nearest to the partials of a stepped one."""

    f0_hz: float
    inharmonicity_b: float
    n_partials: int
    """Partials 1 to this were fitted."""
    departure_cents: float
    """The largest distance of a fitted partial from the law."""


def stepped_partials_hz(string: SteppedString, *, tension_n: float, n_partials: int) -> NDArray[np.float64]:
    """Return the lowest partials of a stiff string of stepped mass, pinned at both ends.

    Parameters
    ----------
    string : SteppedString
        Core and layers.
    tension_n : float
        Tension, above 0.
    n_partials : int
        How many, 1 or more.

    Returns
    -------
    ndarray of float, shape (n_partials,)
        Frequencies in hertz, ascending. The sines bound them from above; with seven and more per partial they are within
        0.01 cents of the exact boundary-value problem (the tests solve it piece by piece).

    Raises
    ------
    InputError
        If the tension is not above 0, or no partial is asked for.

    References
    ----------
    .. [1] Rayleigh-Ritz method with the modes of the uniform string, as in textbooks of vibration (from memory).

    Examples
    --------
    A string wound from end to end follows the law of the stiff string:

    >>> layer = MassLayer(0.0555, 0.0, 0.0)
    >>> string = SteppedString(
    ...     length_mm=1200, core_density_kg_per_m=0.0139, bending_stiffness_n_m2=0.05, layers=(layer,)
    ... )
    >>> stepped_partials_hz(string, tension_n=1000, n_partials=2).round(3)
    array([ 50.025, 100.101])
    """
    tension = float(above_zero("tension_n", tension_n))
    if n_partials < 1:
        raise InputError.of("n_partials", n_partials, "1 or more")
    n_sines = max(_LEAST_SINES, _SINES_PER_PARTIAL * n_partials)
    wave_per_m = np.arange(1, n_sines + 1) * np.pi / (string.length_mm * _M_PER_MM)
    stiff = tension * wave_per_m**2 + string.bending_stiffness_n_m2 * wave_per_m**4
    mass = string.core_density_kg_per_m * np.eye(n_sines)
    for layer in string.layers:
        mass += layer.linear_density_kg_per_m * _overlap(layer, length_mm=string.length_mm, n_sines=n_sines)
    root = 1.0 / np.sqrt(stiff)
    inverse = eigh(root[:, None] * mass * root, eigvals_only=True, subset_by_index=(n_sines - n_partials, n_sines - 1))
    return np.asarray(1.0 / (2.0 * np.pi * np.sqrt(inverse[::-1])), dtype=np.float64)


def _overlap(layer: MassLayer, *, length_mm: float, n_sines: int) -> NDArray[np.float64]:
    """Return ``(2/L)·∫ sin(jπx/L)·sin(kπx/L) dx`` over the length of a layer, for all pairs of sines."""
    start, end = layer.from_left_mm / length_mm, 1.0 - layer.from_right_mm / length_mm
    order = np.arange(1, 2 * n_sines + 1)
    cosines = np.concatenate(
        [[end - start], (np.sin(order * np.pi * end) - np.sin(order * np.pi * start)) / (order * np.pi)]
    )
    k = np.arange(1, n_sines + 1)
    return np.asarray(cosines[np.abs(k[:, None] - k)] - cosines[k[:, None] + k])


def stepped_law(string: SteppedString, *, tension_n: float, n_partials: int) -> SteppedLaw:
    """Return f0 and B of the law ``f_n = n·f0·sqrt(1 + B·n²)`` that comes nearest to a stepped string.

    ``(f_n/n)²`` is fitted by a straight line over ``n²``, all partials alike.

    Parameters
    ----------
    string : SteppedString
        Core and layers.
    tension_n : float
        Tension, above 0.
    n_partials : int
        Partials 1 to this are fitted, 3 or more. The effective B depends on it, for the partials of a stepped string
        leave the law: state it with the result.

    Returns
    -------
    SteppedLaw
        f0, B, and how far the partials leave the law.

    Raises
    ------
    InputError
        If the tension is not above 0 or fewer than 3 partials are asked for.
    """
    if n_partials < 3:
        raise InputError.of("n_partials", n_partials, "3 or more, or the departure from the law cannot be told")
    n = np.arange(1.0, n_partials + 1)
    partials_hz = stepped_partials_hz(string, tension_n=tension_n, n_partials=n_partials)
    slope, level = np.polyfit(n**2, (partials_hz / n) ** 2, 1)
    law_hz = n * np.sqrt(level + slope * n**2)
    return SteppedLaw(
        f0_hz=float(np.sqrt(level)),
        inharmonicity_b=float(slope / level),
        n_partials=n_partials,
        departure_cents=float(np.abs(cents_from_ratio(partials_hz / law_hz)).max()),
    )


def first_order_bare_b(string: SteppedString) -> float:
    """Return what the bare ends add to B while they are short: ``ΔB = (2π²/3)·Σ (Δμ/μ)·(a/L)³`` (derived here).

    Examples
    --------
    20 mm at each end of a bass string of 1.2 m:

    >>> layer = MassLayer(0.0555, 20.0, 20.0)
    >>> string = SteppedString(
    ...     length_mm=1200, core_density_kg_per_m=0.0139, bending_stiffness_n_m2=0.05, layers=(layer,)
    ... )
    >>> f"{first_order_bare_b(string):.2e}"
    '4.87e-05'
    """
    total = sum(
        layer.linear_density_kg_per_m * (layer.from_left_mm**3 + layer.from_right_mm**3) for layer in string.layers
    )
    return float(2.0 * np.pi**2 / 3.0 * total / (string.full_density_kg_per_m * string.length_mm**3))
