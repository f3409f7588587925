"""The strings of a whole scale at once: as `stringing.carried_string`, but quick where windings leave the ends bare."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np

from strikeline.measured import Measured
from strikeline.physics.stringing import CarriedString, StringDimensions, carried_string
from strikeline.physics.wire import WireMaterial

_PARTS_OF_B: Final = ("inharmonicity_b", "stiffness_b", "winding_b", "bare_ends_b")
"""The whole, and what it is the sum of."""
_BARE_POWER: Final = 3.0
"""ΔB grows with the third power of a bare end over the length; see `bare_ends`."""


def carried_in_scale(dimensions: StringDimensions, *, f0_hz: Measured, strength_mpa: Measured | None) -> CarriedString:
    """Return all results of one string with the share that each input has in their errors.

    The results are those of `stringing.carried_string`. So are the shares, but for strings with bare ends: there the
    partials are solved anew only for the bare ends, not for every input. What another input does to a string wound
    from end to end is scaled to the string as it is; the part of B that the bare ends make goes with the third power
    of the length, as to first order. The tests compare the two.

    Parameters
    ----------
    dimensions : StringDimensions
        What was measured.
    f0_hz : Measured
        Pitch.
    strength_mpa : Measured or None
        Ultimate strength of the wire; without it nothing is said of breaking.
    """
    if not dimensions.is_stepped:
        return carried_string(dimensions, f0_hz=f0_hz, strength_mpa=strength_mpa)
    even = replace(dimensions, bare_mm=None, windings=tuple(replace(one, inset_mm=None) for one in dimensions.windings))
    quick = carried_string(even, f0_hz=f0_hz, strength_mpa=strength_mpa)
    ends = carried_string(
        exact_but_for_the_ends(dimensions),
        f0_hz=f0_hz.value,
        strength_mpa=None if strength_mpa is None else strength_mpa.value,
    )
    value = ends.value
    with np.errstate(invalid="ignore", divide="ignore"):
        ratio = np.where(quick.value != 0.0, value / quick.value, 1.0)
    shares = np.nan_to_num(quick.shares) * np.nan_to_num(ratio, nan=1.0)
    b, stiff, winding, bare = (quick.fields.index(name) for name in _PARTS_OF_B)
    length = quick.inputs.index("length_mm")
    shares[length, bare] = -_BARE_POWER * value[bare] * dimensions.length_mm.se / dimensions.length_mm.value
    shares[:, b] = shares[:, stiff] + shares[:, winding] + shares[:, bare]
    own = [place for place, name in enumerate(ends.inputs) if name not in quick.inputs]
    return CarriedString(
        inputs=(*quick.inputs, *(ends.inputs[place] for place in own)),
        fields=quick.fields,
        value=value,
        shares=np.concatenate([shares, np.nan_to_num(ends.shares[own])]),
    )


def exact_but_for_the_ends(dimensions: StringDimensions) -> StringDimensions:
    """Return the same string with no error but that of where its windings end."""

    def metal(material: WireMaterial) -> WireMaterial:
        return replace(
            material,
            young_modulus_pa=_plain(material.young_modulus_pa),
            density_kg_per_m3=_plain(material.density_kg_per_m3),
        )

    return replace(
        dimensions,
        length_mm=_plain(dimensions.length_mm),
        core_diameter_mm=_plain(dimensions.core_diameter_mm),
        core=metal(dimensions.core),
        windings=tuple(
            replace(
                one,
                wrap_diameter_mm=_plain(one.wrap_diameter_mm),
                material=metal(one.material),
                packing=_plain(one.packing),
            )
            for one in dimensions.windings
        ),
    )


def _plain(one: Measured) -> Measured:
    return Measured(one.value, 0.0)
