"""Strings whose winding ends before the string does: stiff strings of stepped mass, their partials and effective B.

A wound string is bare at both ends. There it is lighter, and so the higher partials, which move the ends more, sound
sharper than those of a string wound from end to end: the bare ends add to the inharmonicity. The problem is

``T·y″ - (S(x)·y″)″ = -μ(x)·ω²·y``, ends pinned; y, y′, S·y″ and S·y‴ continuous where mass and stiffness S step.

In the wound part ``y = sin(q·x + φ)`` but for a tail that dies away from the step within millimetres, and the phase φ
that an end gives is found exactly, piece by piece, from the pin inwards. Partial n is where
``q·L + φ_left + φ_right = n·π``. The tails of the two ends are taken not to meet.

To first order in ``a/L`` the law of the stiff string keeps its form, with the same f0 and ``B + ΔB``, where
``ΔB = (2π²/3)·Σ (Δμ/μ)·(a/L)³`` over all steps of mass Δμ at the distance a from their end (derived here, from
Rayleigh's principle: ``sin²(nπx/L)`` is ``(nπx/L)²`` near an end).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.errors import InputError
from strikeline.physics.ranges import above_zero, zero_or_more
from strikeline.units import cents_from_ratio

FITTED_PARTIALS: Final = 20
"""Partials 1 to this, equally weighted in cents, give the effective f0 and B unless another count is asked for."""
_M_PER_MM: Final = 1e-3
_LEAST_TAILS: Final = 30.0
"""Tail lengths in the wound part: the tails of the two ends meet with e⁻³⁰ of their height."""
_SETTLED: Final = 1e-12
_MOST_ROUNDS: Final = 30


_Waves = tuple[NDArray[np.float64], NDArray[np.float64]]
"""Per partial, the wave number of the sine and of the tail in a piece."""
_Motion = tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]
"""Per partial: sine part, its slope, growing part, dying part, at the beginning of a piece."""


@dataclass(frozen=True, slots=True)
class MassLayer:
    """A layer of winding: what it weighs, and how far from each end of the string it begins."""

    linear_density_kg_per_m: float
    from_left_mm: float
    from_right_mm: float
    bending_stiffness_n_m2: float = 0.0
    """What the layer adds to the bending stiffness of the core."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SteppedString:
    """A core of uniform stiffness and mass that carries layers of winding."""

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
        above_zero("bending_stiffness_n_m2", self.bending_stiffness_n_m2)
        for layer in self.layers:
            zero_or_more("linear_density_kg_per_m", layer.linear_density_kg_per_m)
            zero_or_more("bending_stiffness_n_m2", layer.bending_stiffness_n_m2)
            bare = zero_or_more("from_left_mm, from_right_mm", [layer.from_left_mm, layer.from_right_mm])
            if bare.sum() >= self.length_mm:
                raise InputError.of(
                    "bare ends",
                    " and ".join(f"{one:g}" for one in bare.tolist()) + " mm",
                    f"together less than the speaking length of {self.length_mm:g} mm",
                )

    @property
    def full_density_kg_per_m(self) -> float:
        """Mass per length where all layers lie."""
        return self.core_density_kg_per_m + sum(layer.linear_density_kg_per_m for layer in self.layers)

    @property
    def full_stiffness_n_m2(self) -> float:
        """Bending stiffness where all layers lie."""
        return self.bending_stiffness_n_m2 + sum(layer.bending_stiffness_n_m2 for layer in self.layers)


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
        Frequencies in hertz, ascending.

    Raises
    ------
    InputError
        If the tension is not above 0, no partial is asked for, or the wound part is so short that what happens at its
        two ends cannot be told apart.

    References
    ----------
    .. [1] Derived here from the differential equation; the tests solve the whole boundary-value problem at once, and by
       Rayleigh-Ritz with the modes of the uniform string.

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
    length_m = string.length_mm * _M_PER_MM
    target = np.pi * np.arange(1.0, n_partials + 1)
    full, stiffness = string.full_density_kg_per_m, string.full_stiffness_n_m2
    ends = [_pieces(string, from_left=from_left) for from_left in (True, False)]
    wound_m = length_m - sum(float(piece.length_m) for pieces in ends for piece in pieces)
    groups = [group for group in _side_by_side(ends) if group]
    if wound_m * np.sqrt(tension / stiffness) < _LEAST_TAILS:
        raise InputError(
            f"{wound_m / _M_PER_MM:.0f} mm of winding between the bare ends are too few for a core so stiff; are bare "
            "ends and length in the same unit?",
            name="wound length",
        )

    def squared_omega(wave_per_m: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.asarray((tension * wave_per_m**2 + stiffness * wave_per_m**4) / full)

    def miss(wave_per_m: NDArray[np.float64]) -> NDArray[np.float64]:
        omega2 = squared_omega(wave_per_m)
        phases = [np.atleast_2d(_phase(group, string, tension, omega2)).sum(axis=0) for group in groups]
        return np.asarray(wave_per_m * length_m + sum(phases) - target)

    wave_per_m = _secant(miss, target / length_m, length_m)
    return np.asarray(np.sqrt(squared_omega(wave_per_m)) / (2.0 * np.pi))


def _secant(
    miss: Callable[[NDArray[np.float64]], NDArray[np.float64]], start: NDArray[np.float64], slope: float
) -> NDArray[np.float64]:
    """Return where `miss`, which rises by about `slope`, is 0, for all partials at once."""
    before, missed_before = start, miss(start)
    at = before - missed_before / slope
    for _ in range(_MOST_ROUNDS):
        if (np.abs(at - before) <= _SETTLED * at).all():
            break
        missed = miss(at)
        step = at - before
        has_moved = np.abs(step) > _SETTLED * at
        rise = np.where(has_moved, (missed - missed_before) / np.where(has_moved, step, 1.0), slope)
        before, missed_before, at = at, missed, at - missed / rise
    return at


@dataclass(frozen=True, slots=True)
class _Piece:
    """A stretch of string that is the same throughout; or one at each end, as arrays of shape (2, 1)."""

    length_m: float | NDArray[np.float64]
    density_kg_per_m: float | NDArray[np.float64]
    stiffness_n_m2: float | NDArray[np.float64]


def _side_by_side(ends: list[list[_Piece]]) -> list[list[_Piece]]:
    """Return both ends as one where they have as many pieces, for it halves the work; else as they are."""
    left, right = ends
    if len(left) != len(right):
        return ends

    def pair(one: float | NDArray[np.float64], other: float | NDArray[np.float64]) -> NDArray[np.float64]:
        return np.array([[one], [other]], dtype=np.float64)

    return [
        [
            _Piece(
                pair(one.length_m, other.length_m),
                pair(one.density_kg_per_m, other.density_kg_per_m),
                pair(one.stiffness_n_m2, other.stiffness_n_m2),
            )
            for one, other in zip(left, right, strict=True)
        ]
    ]


def _pieces(string: SteppedString, *, from_left: bool) -> list[_Piece]:
    """Return the pieces between an end and where all layers lie."""
    starts = sorted(
        (
            layer.from_left_mm if from_left else layer.from_right_mm,
            layer.linear_density_kg_per_m,
            layer.bending_stiffness_n_m2,
        )
        for layer in string.layers
    )
    found, edge_mm = list[_Piece](), 0.0
    density, stiffness = string.core_density_kg_per_m, string.bending_stiffness_n_m2
    for start_mm, heavier, stiffer in starts:
        if start_mm > edge_mm:
            found.append(_Piece((start_mm - edge_mm) * _M_PER_MM, density, stiffness))
        edge_mm, density, stiffness = start_mm, density + heavier, stiffness + stiffer
    return found


def _phase(
    pieces: list[_Piece], string: SteppedString, tension_n: float, squared_omega: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the phase φ of ``sin(q·x + φ)`` that one end gives to the wound part, x from the end, per partial.

    Two motions satisfy the pin: a sine, and one that grows inwards. In each piece the sine is freed of what grows, so
    that nothing is lost to rounding; a motion is (sine part, its slope, growing part, dying part).
    """

    def waves(piece: _Piece) -> _Waves:
        squared = piece.density_kg_per_m * squared_omega / piece.stiffness_n_m2
        half = tension_n / (2.0 * piece.stiffness_n_m2)
        p2 = half + np.sqrt(half**2 + squared)
        return np.sqrt(squared / p2), np.sqrt(p2)

    here = waves(pieces[0])
    zero = np.zeros_like(here[0])
    sine: _Motion = (zero, here[0], zero, zero)
    growing: _Motion = (zero, zero, zero + 1.0, zero - 1.0)
    wound = _Piece(0.0, string.full_density_kg_per_m, string.full_stiffness_n_m2)
    for piece, following in zip(pieces, [*pieces[1:], wound], strict=True):
        beyond = waves(following)
        softer = piece.stiffness_n_m2 / following.stiffness_n_m2
        fade = np.exp(-here[1] * piece.length_m)
        sine = _across(sine, piece.length_m, here, beyond, softer, scale=1.0)
        growing = _across(growing, piece.length_m, here, beyond, softer, scale=fade)
        share = sine[2] / growing[2]
        sine = (sine[0] - share * growing[0], sine[1] - share * growing[1], zero, sine[3] - share * growing[3])
        here = beyond
    travelled_m = sum(piece.length_m for piece in pieces)
    return np.asarray(np.unwrap(np.arctan2(here[0] * sine[0], sine[1]) - here[0] * travelled_m))


def _across(
    motion: _Motion,
    length_m: float | NDArray[np.float64],
    here: _Waves,
    beyond: _Waves,
    softer: float | NDArray[np.float64],
    *,
    scale: float | NDArray[np.float64],
) -> _Motion:
    """Return a motion past a piece and its joint, times `scale`, which takes away what a growing motion has grown.

    Moment and shear pass the joint, so that curvature and its slope change by the ratio `softer` of the stiffnesses.
    """
    u, slope, growing, dying = motion
    (q, p), (next_q, next_p) = here, beyond
    cosine, sine = np.cos(q * length_m), np.sin(q * length_m)
    wave, wave_slope = scale * (u * cosine + slope / q * sine), scale * (slope * cosine - q * u * sine)
    rise = growing if isinstance(scale, np.ndarray) else np.zeros_like(q)
    fall = scale * np.exp(-p * length_m) * dying
    tail, tail_slope = rise + fall, p * (rise - fall)
    y, dy = wave + tail, wave_slope + tail_slope
    d2y, d3y = softer * (p**2 * tail - q**2 * wave), softer * (p**2 * tail_slope - q**2 * wave_slope)
    whole = next_p**2 + next_q**2
    v, dv = (d2y + next_q**2 * y) / whole, (d3y + next_q**2 * dy) / whole
    return (
        (next_p**2 * y - d2y) / whole,
        (next_p**2 * dy - d3y) / whole,
        (v + dv / next_p) / 2.0,
        (v - dv / next_p) / 2.0,
    )


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
    squared, off_middle = (partials_hz / n) ** 2, n**2 - np.mean(n**2)
    slope = float(off_middle @ squared / (off_middle @ off_middle))
    level = float(np.mean(squared) - slope * np.mean(n**2))
    law_hz = n * np.sqrt(level + slope * n**2)
    return SteppedLaw(
        f0_hz=level**0.5,
        inharmonicity_b=slope / level,
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
