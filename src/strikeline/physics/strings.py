"""Stiff strings: partials, fundamental, inharmonicity and linear density, plain and wound.

All functions broadcast, so that a whole scale goes in as arrays of shape ``(n_notes,)``; numbers give arrays of shape
``()``. Lengths and diameters are in millimetres, as a restorer measures them; Young's modulus in pascal, densities in
kilograms per cubic metre.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeline.errors import InputError
from strikeline.physics.ranges import above_zero, zero_or_more

STEEL_YOUNG_MODULUS_PA: Final = 2.02e11
"""Piano wire; the value of Chabassier & Duruflé (2012), INRIA RT-0425, appendix A, as read in a secondary survey."""
STEEL_DENSITY_KG_PER_M3: Final = 7850.0
"""Piano wire; the value of the plain strings in the same table."""
COPPER_DENSITY_KG_PER_M3: Final = 8930.0
"""Copper wrap wire (from memory; tables give 8900 to 8960)."""

_M_PER_MM: Final = 1e-3


def partial_frequencies_hz(partial: ArrayLike, *, f0_hz: float, inharmonicity_b: float) -> NDArray[np.float64]:
    """Return the partial frequencies of a stiff string with pinned ends.

    ``f_n = n·f0·sqrt(1 + B·n²)``

    Parameters
    ----------
    partial : array_like of int, shape (k,)
        Partial numbers, 1 for the lowest.
    f0_hz : float
        Fundamental of the same string without stiffness, above 0.
        Not the measured first partial, which is higher by ``sqrt(1 + B)``.
    inharmonicity_b : float
        Inharmonicity coefficient B, dimensionless, 0 or more.

    Returns
    -------
    ndarray of float, shape (k,)
        Frequencies in hertz, in the order of `partial`.

    Raises
    ------
    InputError
        If a value leaves the range given above or is not finite.

    References
    ----------
    .. [1] H. Fletcher, "Normal vibration frequencies of a stiff piano
       string", J. Acoust. Soc. Am. 36, 203-209 (1964), as reported in a
       secondary survey.

    Examples
    --------
    >>> partial_frequencies_hz([1, 2, 8], f0_hz=110.0, inharmonicity_b=4e-4)
    array([110.0219978 , 220.17592966, 891.19281864])
    """
    n = np.asarray(partial, dtype=np.float64)
    if not (np.isfinite(n) & (n >= 1) & (n == np.floor(n))).all():
        raise InputError.of("partial", partial, "whole numbers from 1")
    f0 = above_zero("f0_hz", f0_hz)
    b = zero_or_more("inharmonicity_b", inharmonicity_b)
    return np.asarray(n * f0 * np.sqrt(1.0 + b * n**2))


def fundamental_hz(
    *, length_mm: ArrayLike, tension_n: ArrayLike, linear_density_kg_per_m: ArrayLike
) -> NDArray[np.float64]:
    """Return the fundamental of the string without stiffness, ``f0 = sqrt(T/μ)/(2L)``.

    Parameters
    ----------
    length_mm : array_like of float
        Speaking length (agraffe or pressure bar to bridge pin), above 0.
    tension_n : array_like of float
        Tension of one string, above 0.
    linear_density_kg_per_m : array_like of float
        Mass per length, wrap included, above 0.

    Returns
    -------
    ndarray of float
        f0 in hertz, in the broadcast shape of the arguments.

    Raises
    ------
    InputError
        If a value is not finite or not above 0.

    References
    ----------
    .. [1] Mersenne's law, as in N. H. Fletcher and T. D. Rossing, "The Physics of Musical
       Instruments" (2nd ed.), ch. 2 (from memory).

    Examples
    --------
    A4 of Chabassier & Duruflé (2012):

    >>> float(fundamental_hz(length_mm=404, tension_n=701, linear_density_kg_per_m=5.529e-3).round(2))
    440.68
    """
    length_m = above_zero("length_mm", length_mm, advice="measure agraffe to bridge pin") * _M_PER_MM
    tension = above_zero("tension_n", tension_n)
    density = above_zero("linear_density_kg_per_m", linear_density_kg_per_m)
    return np.asarray(np.sqrt(tension / density) / (2.0 * length_m))


def tension_for_pitch_n(
    *, length_mm: ArrayLike, f0_hz: ArrayLike, linear_density_kg_per_m: ArrayLike
) -> NDArray[np.float64]:
    """Return the tension that brings a string to `f0_hz`, ``T = μ·(2·L·f0)²``.

    Parameters
    ----------
    length_mm, linear_density_kg_per_m : array_like of float
        As in `fundamental_hz`.
    f0_hz : array_like of float
        Fundamental without stiffness, above 0.

    Returns
    -------
    ndarray of float
        Tension in newton, in the broadcast shape of the arguments.

    Raises
    ------
    InputError
        If a value is not finite or not above 0.

    Examples
    --------
    >>> float(tension_for_pitch_n(length_mm=404, f0_hz=440.68, linear_density_kg_per_m=5.529e-3).round(1))
    701.0
    """
    length_m = above_zero("length_mm", length_mm, advice="measure agraffe to bridge pin") * _M_PER_MM
    f0 = above_zero("f0_hz", f0_hz)
    density = above_zero("linear_density_kg_per_m", linear_density_kg_per_m)
    return np.asarray(density * (2.0 * length_m * f0) ** 2)


def plain_linear_density_kg_per_m(
    *, diameter_mm: ArrayLike, density_kg_per_m3: ArrayLike = STEEL_DENSITY_KG_PER_M3
) -> NDArray[np.float64]:
    """Return the mass per length of a round plain wire, ``μ = ρ·π·d²/4``.

    Parameters
    ----------
    diameter_mm : array_like of float
        Wire diameter, above 0. Give millimetres, never gauge numbers: the systems differ by up to 0.02 mm.
    density_kg_per_m3 : array_like of float
        Density of the wire, above 0.

    Returns
    -------
    ndarray of float
        Kilograms per metre, in the broadcast shape of the arguments.

    Raises
    ------
    InputError
        If a value is not finite or not above 0.

    Examples
    --------
    >>> float(plain_linear_density_kg_per_m(diameter_mm=1.0).round(6))
    0.006165
    """
    diameter_m = above_zero("diameter_mm", diameter_mm) * _M_PER_MM
    return np.asarray(above_zero("density_kg_per_m3", density_kg_per_m3) * np.pi * diameter_m**2 / 4.0)


def wound_linear_density_kg_per_m(
    *,
    core_diameter_mm: ArrayLike,
    wrap_diameter_mm: ArrayLike,
    core_density_kg_per_m3: ArrayLike = STEEL_DENSITY_KG_PER_M3,
    wrap_density_kg_per_m3: ArrayLike = COPPER_DENSITY_KG_PER_M3,
) -> NDArray[np.float64]:
    """Return the mass per length of a round core close-wound with one layer of round wire.

    With core d and wrap wire w the turns lie at pitch w on a circle of diameter d + w, so that
    ``μ = ρ_c·π·d²/4 + ρ_w·(π²/4)·w·(d + w)·sqrt(1 + (w/(π(d + w)))²)``. Without the last factor (the slope of the
    helix) the wrap fills exactly π/4 of its annulus. Wrap flattened on a hexagonal core weighs more.

    Parameters
    ----------
    core_diameter_mm : array_like of float
        Diameter of the core wire, above 0.
    wrap_diameter_mm : array_like of float
        Diameter of the wrap *wire* (not of the finished string), above 0.
    core_density_kg_per_m3, wrap_density_kg_per_m3 : array_like of float
        Densities, above 0.

    Returns
    -------
    ndarray of float
        Kilograms per metre, in the broadcast shape of the arguments.

    Raises
    ------
    InputError
        If a value is not finite or not above 0.

    References
    ----------
    .. [1] Derived here from the length of the helix per turn; the π/4 filling is checked in the tests.

    Examples
    --------
    >>> float(wound_linear_density_kg_per_m(core_diameter_mm=1.5, wrap_diameter_mm=1.0).round(4))
    0.0694
    """
    core_m = above_zero("core_diameter_mm", core_diameter_mm) * _M_PER_MM
    wrap_m = above_zero("wrap_diameter_mm", wrap_diameter_mm) * _M_PER_MM
    core = above_zero("core_density_kg_per_m3", core_density_kg_per_m3) * np.pi * core_m**2 / 4.0
    turn_diameter = core_m + wrap_m
    helix = np.sqrt(1.0 + (wrap_m / (np.pi * turn_diameter)) ** 2)
    wrap_density = above_zero("wrap_density_kg_per_m3", wrap_density_kg_per_m3)
    return np.asarray(core + wrap_density * np.pi**2 / 4.0 * wrap_m * turn_diameter * helix)


def plain_inharmonicity_b(
    *, diameter_mm: ArrayLike, length_mm: ArrayLike, tension_n: ArrayLike, young_modulus_pa: ArrayLike
) -> NDArray[np.float64]:
    """Return the inharmonicity coefficient of a round plain string, ``B = π³·E·d⁴/(64·T·L²)``.

    Parameters
    ----------
    diameter_mm, length_mm, tension_n : array_like of float
        Wire diameter, speaking length and tension, above 0.
    young_modulus_pa : array_like of float
        Young's modulus, above 0; `STEEL_YOUNG_MODULUS_PA` for piano wire.

    Returns
    -------
    ndarray of float
        B, dimensionless, in the broadcast shape of the arguments.

    Raises
    ------
    InputError
        If a value is not finite or not above 0.

    References
    ----------
    .. [1] H. Fletcher, "Normal vibration frequencies of a stiff piano string", J. Acoust. Soc. Am. 36, 203-209
       (1964), as quoted by M. Hodgkinson et al., DAFx-09, eq. 2.

    Examples
    --------
    A4 of Chabassier & Duruflé (2012):

    >>> b = plain_inharmonicity_b(diameter_mm=0.947, length_mm=404, tension_n=701, young_modulus_pa=2.02e11)
    >>> f"{float(b):.2e}"
    '6.88e-04'
    """
    diameter_m = above_zero("diameter_mm", diameter_mm) * _M_PER_MM
    length_m = above_zero("length_mm", length_mm, advice="measure agraffe to bridge pin") * _M_PER_MM
    tension = above_zero("tension_n", tension_n)
    modulus = above_zero("young_modulus_pa", young_modulus_pa)
    return np.asarray(np.pi**3 * modulus * diameter_m**4 / (64.0 * tension * length_m**2))


def wound_inharmonicity_b(
    *, core_diameter_mm: ArrayLike, length_mm: ArrayLike, tension_n: ArrayLike, young_modulus_pa: ArrayLike
) -> NDArray[np.float64]:
    """Return the inharmonicity coefficient of a wound string: only the round core bends.

    The formula of `plain_inharmonicity_b` with the core's diameter; the wrap counts through the tension, which is
    that of the whole mass. Real wound strings depart from it (bare ends, uneven wrap): a starting value, no more.

    Parameters
    ----------
    core_diameter_mm, length_mm, tension_n, young_modulus_pa : array_like of float
        Core diameter, speaking length, tension and Young's modulus of the core, above 0.

    Returns
    -------
    ndarray of float
        B, dimensionless, in the broadcast shape of the arguments.

    Raises
    ------
    InputError
        If a value is not finite or not above 0.

    References
    ----------
    .. [1] H. Fletcher, J. Acoust. Soc. Am. 36, 203-209 (1964): "core diameter for stiffness but total mass for f0"
       (as worded in a secondary survey).

    Examples
    --------
    >>> b = wound_inharmonicity_b(core_diameter_mm=1.0, length_mm=1200, tension_n=800, young_modulus_pa=2.02e11)
    >>> f"{float(b):.2e}"
    '8.50e-05'
    """
    return plain_inharmonicity_b(
        diameter_mm=above_zero("core_diameter_mm", core_diameter_mm),
        length_mm=length_mm,
        tension_n=tension_n,
        young_modulus_pa=young_modulus_pa,
    )


def characteristic_impedance_kg_per_s(
    *, tension_n: ArrayLike, linear_density_kg_per_m: ArrayLike
) -> NDArray[np.float64]:
    """Return the wave impedance of a string, ``Z = sqrt(T·μ)``.

    Parameters
    ----------
    tension_n, linear_density_kg_per_m : array_like of float
        Above 0.

    Returns
    -------
    ndarray of float
        Kilograms per second, in the broadcast shape of the arguments.

    Raises
    ------
    InputError
        If a value is not finite or not above 0.

    Examples
    --------
    >>> float(characteristic_impedance_kg_per_s(tension_n=741.0, linear_density_kg_per_m=6.24e-3).round(2))
    2.15
    """
    tension = above_zero("tension_n", tension_n)
    return np.asarray(np.sqrt(tension * above_zero("linear_density_kg_per_m", linear_density_kg_per_m)))
