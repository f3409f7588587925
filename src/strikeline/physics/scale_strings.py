"""The strings of a whole scale at once: as `stringing.carried_string`, but quick where windings leave the ends bare."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from strikeline.measured import Measured
from strikeline.physics.stringing import CarriedString, StringDimensions, carried_string
from strikeline.physics.wire import WireMaterial

_BARE_POWER = 3.0
"""ΔB grows with the third power of a bare end over the length; see `bare_ends`."""
_BARE_INPUTS = ("bare_left_mm", "bare_right_mm")


def carried_in_scale(dimensions: StringDimensions, *, f0_hz: Measured, strength_mpa: Measured | None) -> CarriedString:
    """Return all results of one string with the share that each input has in their errors.

    The results are those of `stringing.carried_string`. So are the shares, but for strings with bare ends: there the
    partials are solved once, not twice for every input. What an input does to a string wound from end to end is
    scaled to the string as it is, and the part of B that the bare ends make follows its first-order law, the third
    power of the bare length. The tests compare the two.

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
    value = carried_string(
        _exact(dimensions), f0_hz=f0_hz.value, strength_mpa=None if strength_mpa is None else strength_mpa.value
    ).value
    with np.errstate(invalid="ignore", divide="ignore"):
        ratio = np.where(quick.value != 0.0, value / quick.value, 1.0)
    shares = np.nan_to_num(quick.shares) * np.nan_to_num(ratio, nan=1.0)
    b, stiff = quick.fields.index("inharmonicity_b"), quick.fields.index("stiffness_b")
    bare = quick.fields.index("bare_ends_b")
    rows = [*shares]
    rows_of = list(quick.inputs)
    place = rows_of.index("length_mm")
    rows[place][bare] = -_BARE_POWER * value[bare] * dimensions.length_mm.se / dimensions.length_mm.value
    ends = dimensions.bare_mm or (Measured(0.0, 0.0), Measured(0.0, 0.0))
    cubes = sum(end.value**3 for end in ends)
    for name, end in zip(_BARE_INPUTS, ends, strict=True):
        row = np.zeros(len(value))
        row[bare] = _BARE_POWER * value[bare] * end.value**2 * end.se / cubes if cubes > 0 else 0.0
        rows.append(row)
        rows_of.append(name)
    together = np.array(rows)
    together[:, b] = together[:, stiff] + together[:, bare]
    return CarriedString(inputs=tuple(rows_of), fields=quick.fields, value=value, shares=together)


def _exact(dimensions: StringDimensions) -> StringDimensions:
    """Return the same string without errors, which is calculated once."""

    def metal(material: WireMaterial) -> WireMaterial:
        return replace(
            material,
            young_modulus_pa=_plain(material.young_modulus_pa),
            density_kg_per_m3=_plain(material.density_kg_per_m3),
        )

    return StringDimensions(
        _plain(dimensions.length_mm),
        _plain(dimensions.core_diameter_mm),
        metal(dimensions.core),
        tuple(
            replace(
                one,
                wrap_diameter_mm=_plain(one.wrap_diameter_mm),
                material=metal(one.material),
                packing=_plain(one.packing),
                inset_mm=None if one.inset_mm is None else (_plain(one.inset_mm[0]), _plain(one.inset_mm[1])),
            )
            for one in dimensions.windings
        ),
        None if dimensions.bare_mm is None else (_plain(dimensions.bare_mm[0]), _plain(dimensions.bare_mm[1])),
    )


def _plain(one: Measured) -> Measured:
    return Measured(one.value, 0.0)
