"""The wire wound round a core: its mass per length, single and double, and how far in from the ends it begins."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeline.errors import InputError
from strikeline.measured import Measured, carry
from strikeline.physics.ranges import above_zero
from strikeline.physics.wire import WireMaterial, within

_M_PER_MM: Final = 1e-3
_POISSON: Final = 0.33
"""Poisson's ratio; steel, copper and brass have 0.28 to 0.35 (from memory), which moves the result by 2 %."""
CLOSE_PACKING: Final = within(0.75, 0.82, value=math.pi / 4.0)
"""Share of its ring that round wire fills, turn against turn on a round core: π/4 by geometry. Turns that do not quite
touch make it less, wire pressed flat makes it more; the range 0.75 to 0.82 is our reasoning."""


@dataclass(frozen=True, slots=True)
class Winding:
    """One layer of wire wound round the core, or round the layer beneath."""

    wrap_diameter_mm: Measured
    """Diameter of the wrap *wire*: half of what the layer adds to the diameter of the string."""
    material: WireMaterial
    packing: Measured = CLOSE_PACKING
    """Share of the ring between the inner and the outer diameter of the layer that metal fills."""
    inset_mm: tuple[Measured, Measured] | None = None
    """How much farther in from each end than the layer beneath it begins: agraffe end, bridge end. ``None`` where it
    begins with the layer beneath, or, for the first layer, with the bare ends of the string."""
    outside_mm: Measured | None = None
    """Diameter over the finished layer, where that was measured in place of the wrap wire; it then counts, and the wrap
    wire is only what follows from it. `winding_from_outside` makes such a layer."""

    def __post_init__(self) -> None:
        if self.wrap_diameter_mm.value <= 0:
            raise InputError.of("wrap_diameter_mm", self.wrap_diameter_mm.value, "above 0 mm")
        if not 0 < self.packing.value <= 1:
            raise InputError.of(
                "packing", self.packing.value, "above 0 and not above 1", advice="close turns of round wire fill 0.785"
            )
        if self.inset_mm is not None and min(one.value for one in self.inset_mm) < 0:
            raise InputError.of("inset_mm", [one.value for one in self.inset_mm], "0 mm or more at each end")


def winding_from_outside(
    outside_mm: Measured,
    *,
    inner_mm: Measured,
    material: WireMaterial,
    packing: Measured = CLOSE_PACKING,
    inset_mm: tuple[Measured, Measured] | None = None,
) -> Winding:
    """Return a layer whose outer diameter was measured: on a finished string the wrap wire cannot be.

    Parameters
    ----------
    outside_mm : Measured
        Diameter over the layer.
    inner_mm : Measured
        Diameter of what it is wound on: the core (over the corners, if it is hexagonal) or the layer beneath.
    material : WireMaterial
        Metal of the wrap wire.
    packing : Measured
        As in `Winding`.
    inset_mm : tuple of Measured, optional
        As in `Winding`.

    Returns
    -------
    Winding
        Its wrap wire is half the difference.

    Raises
    ------
    InputError
        If the layer is not thicker than what it is wound on.
    """
    if outside_mm.value <= inner_mm.value:
        raise InputError(
            f"{outside_mm.value:g} mm over the winding is no more than the {inner_mm.value:g} mm of what it is wound "
            "on; measure both again",
            name="outside_mm",
            value=outside_mm.value,
            expected=f"more than {inner_mm.value:g} mm",
        )
    wrap = carry(lambda outside, inner: (outside - inner) / 2.0, outside=outside_mm, inner=inner_mm)
    return Winding(wrap, material, packing, inset_mm, outside_mm)


def winding_stiffness_n_m2(
    *, inner_diameter_mm: ArrayLike, wrap_diameter_mm: ArrayLike, young_modulus_pa: ArrayLike
) -> NDArray[np.float64]:
    """Return the bending stiffness of a winding as a close-coiled spring that slides on its core: the least it can add.

    A turn of mean diameter D = d + w that is bent by a moment M turns by ``M·(πD/2)·(1/(E·I) + 1/(G·J))``, half of it
    bending and half twisting of the wire; with ``G·J = E·I/(1 + ν)`` and one turn for each w of length this is
    ``2·E·I·w/(πD·(2 + ν))``, I = π·w⁴/64. Friction and turns that touch add to it, by how much is not known: the
    tension stretches the core by 0.3 % and more, which parts the turns.

    Parameters
    ----------
    inner_diameter_mm : array_like of float
        Diameter d of what the layer is wound on, above 0.
    wrap_diameter_mm : array_like of float
        Diameter w of the wrap wire, above 0.
    young_modulus_pa : array_like of float
        Young's modulus E of the wrap wire, above 0.

    Returns
    -------
    ndarray of float
        Newton square metres, in the broadcast shape of the arguments.

    Raises
    ------
    InputError
        If a value is not finite or not above 0.

    References
    ----------
    .. [1] Bending of helical springs as in textbooks of elasticity (from memory; derived again here). That the winding
       stiffens "somewhat", and much less than turns that touch: an abstract titled "Inharmonicity of piano bass
       strings", author not shown where it was read.

    Examples
    --------
    Two per cent of the stiffness of a steel core of 1.05 mm:

    >>> least = winding_stiffness_n_m2(inner_diameter_mm=1.05, wrap_diameter_mm=0.8, young_modulus_pa=1.2e11)
    >>> f"{float(least):.2e}"
    '2.85e-04'
    """
    wrap_m = above_zero("wrap_diameter_mm", wrap_diameter_mm) * _M_PER_MM
    turn_m = above_zero("inner_diameter_mm", inner_diameter_mm) * _M_PER_MM + wrap_m
    bending = above_zero("young_modulus_pa", young_modulus_pa) * np.pi * wrap_m**4 / 64.0
    return np.asarray(2.0 * bending * wrap_m / (np.pi * turn_m * (2.0 + _POISSON)))


def winding_linear_density_kg_per_m(
    *, inner_diameter_mm: ArrayLike, wrap_diameter_mm: ArrayLike, density_kg_per_m3: ArrayLike, packing: ArrayLike
) -> NDArray[np.float64]:
    """Return the mass per length that one layer of winding adds.

    ``μ = packing·ρ·π·w·(d + w)·sqrt(1 + (w/(π(d + w)))²)``: the ring between d and d + 2w has the area π·w·(d + w),
    and the last factor is the slope of the helix. With ``packing = π/4`` this is the layer of
    `strings.wound_linear_density_kg_per_m`. A second layer has the outside of the first as its inner diameter.

    Parameters
    ----------
    inner_diameter_mm : array_like of float
        Diameter d of what the layer is wound on, above 0.
    wrap_diameter_mm : array_like of float
        Diameter w of the wrap wire, above 0.
    density_kg_per_m3 : array_like of float
        Density of the wrap wire, above 0.
    packing : array_like of float
        Share of the ring filled with metal, above 0.

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
    .. [1] Derived here from the length of the helix per turn.

    Examples
    --------
    >>> layer = winding_linear_density_kg_per_m(
    ...     inner_diameter_mm=1.5, wrap_diameter_mm=1.0, density_kg_per_m3=8930, packing=np.pi / 4
    ... )
    >>> float(layer.round(4))
    0.0555
    """
    inner_m = above_zero("inner_diameter_mm", inner_diameter_mm) * _M_PER_MM
    wrap_m = above_zero("wrap_diameter_mm", wrap_diameter_mm) * _M_PER_MM
    turn_m = inner_m + wrap_m
    helix = np.sqrt(1.0 + (wrap_m / (np.pi * turn_m)) ** 2)
    density = above_zero("density_kg_per_m3", density_kg_per_m3) * above_zero("packing", packing)
    return np.asarray(density * np.pi * wrap_m * turn_m * helix)
