"""What is measured on one string and what it is made of; how the numbers of these become a core that carries layers."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from strikeline.errors import InputError
from strikeline.measured import Measured
from strikeline.physics.bare_ends import MassLayer, SteppedString
from strikeline.physics.winding import Winding, winding_linear_density_kg_per_m, winding_stiffness_n_m2
from strikeline.physics.wire import WireMaterial, within

_M_PER_MM: Final = 1e-3
_ROUND_MOMENT: Final = np.pi / 64.0
"""Second moment of area of a round rod over the fourth power of its diameter."""
_HEXAGON_MOMENT: Final = 5.0 * np.sqrt(3.0) / 144.0
"""The same of a regular hexagon over the fourth power of the distance of its flats, about any axis."""
_HEXAGON_AREA: Final = np.sqrt(3.0) / 2.0
HEXAGON_CORNERS: Final = 2.0 / np.sqrt(3.0)
"""Distance of opposite corners over distance of the flats."""
HEXAGON_LAY: Final = within(2.0 * np.sqrt(3.0) / np.pi, HEXAGON_CORNERS)
"""Diameter of the round core on which a turn of the winding would be as long, over the distance of the flats: between
the hexagon's own circumference (wire that follows the flats) and a circle through its corners (derived here)."""

WINDING_SPRING: Final = within(0.85, 1.15)
"""Bending stiffness of a winding over that of a thin spring: its turns are hardly wider than its wire, for which the
theory of thin curved bars is some 15 % uncertain (our reasoning). Friction on the core would make it more."""


@dataclass(frozen=True, slots=True)
class StringDimensions:
    """What is measured on one string, and what it is made of."""

    length_mm: Measured
    """Speaking length: agraffe or pressure bar to bridge pin."""
    core_diameter_mm: Measured
    """Diameter of the wire; of the core where the string is wound."""
    core: WireMaterial
    windings: tuple[Winding, ...] = ()
    """From the inside out; none for plain wire."""
    bare_mm: tuple[Measured, Measured] | None = None
    """Speaking length left bare of winding: agraffe end, bridge end. ``None`` where it was not measured: the string is
    then taken as wound from end to end, which gives too low a B."""
    is_hexagonal: bool = False
    """Whether the core of a wound string is a regular hexagon; `core_diameter_mm` is then the distance of its flats."""

    def __post_init__(self) -> None:
        for name, one in (("length_mm", self.length_mm), ("core_diameter_mm", self.core_diameter_mm)):
            if one.value <= 0:
                raise InputError.of(name, one.value, "above 0 mm")
        if self.is_hexagonal and not self.windings:
            raise InputError("only the core of a wound string is hexagonal; this string has no winding", name="core")
        if self.bare_mm is not None and not self.windings:
            raise InputError(
                "bare ends are where a winding ends, but the string has no winding; give its wire or outside",
                name="bare_mm",
            )
        if self.bare_mm is not None and min(one.value for one in self.bare_mm) < 0:
            raise InputError.of("bare_mm", [one.value for one in self.bare_mm], "0 mm or more at each end")
        self.body({name: one.value for name, one in self.inputs().items()})

    @property
    def is_stepped(self) -> bool:
        """Whether the mass of the string is known to step somewhere."""
        return self.bare_mm is not None or any(one.inset_mm is not None for one in self.windings)

    def inputs(self) -> dict[str, Measured]:
        """Return everything measured by name; what two strings share (a metal) has the same name in both."""
        found = {
            "length_mm": self.length_mm,
            "core_diameter_mm": self.core_diameter_mm,
            f"young_modulus_pa of {self.core.name}": self.core.young_modulus_pa,
        }
        for winding in self.windings:
            name = f"young_modulus_pa of {winding.material.name}"
            if found.setdefault(name, winding.material.young_modulus_pa) != winding.material.young_modulus_pa:
                raise InputError.of("material", winding.material.name, "one Young's modulus for one name of a metal")
            found["winding_spring_ratio"] = WINDING_SPRING
        for material in (self.core, *(winding.material for winding in self.windings)):
            name = f"density_kg_per_m3 of {material.name}"
            if found.setdefault(name, material.density_kg_per_m3) != material.density_kg_per_m3:
                raise InputError.of("material", material.name, "one density for one name of a metal")
        for place, winding in enumerate(self.windings, start=1):
            if winding.outside_mm is None:
                found[f"wrap_{place}_diameter_mm"] = winding.wrap_diameter_mm
            else:
                found[f"wrap_{place}_outside_mm"] = winding.outside_mm
            found[f"wrap_{place}_packing"] = winding.packing
            if winding.inset_mm is not None:
                found[f"wrap_{place}_inset_left_mm"], found[f"wrap_{place}_inset_right_mm"] = winding.inset_mm
        if self.bare_mm is not None:
            found["bare_left_mm"], found["bare_right_mm"] = self.bare_mm
        if self.is_hexagonal:
            found["hexagon_lay_ratio"] = HEXAGON_LAY
        return found

    def core_area_m2(self, diameter_mm: float) -> float:
        """Return the section of the core: ``π·d²/4``, or ``(√3/2)·s²`` of a hexagon with flats s apart."""
        return (_HEXAGON_AREA if self.is_hexagonal else np.pi / 4.0) * (diameter_mm * _M_PER_MM) ** 2

    def body(self, values: Mapping[str, float]) -> SteppedString:
        """Return the string as a core that carries layers, for values of its `inputs`."""
        diameter_mm = values["core_diameter_mm"]
        modulus_pa = values[f"young_modulus_pa of {self.core.name}"]
        moment = _HEXAGON_MOMENT if self.is_hexagonal else _ROUND_MOMENT
        return SteppedString(
            length_mm=values["length_mm"],
            core_density_kg_per_m=values[f"density_kg_per_m3 of {self.core.name}"] * self.core_area_m2(diameter_mm),
            bending_stiffness_n_m2=modulus_pa * moment * (diameter_mm * _M_PER_MM) ** 4,
            layers=tuple(self._layers(values)),
        )

    def _layers(self, values: Mapping[str, float]) -> Iterator[MassLayer]:
        """Yield the layers from the inside out; a string moved by its error may not have negative bare ends."""
        beneath_mm = values["core_diameter_mm"] * (HEXAGON_CORNERS if self.is_hexagonal else 1.0)
        turned_on_mm = values["core_diameter_mm"] * values.get("hexagon_lay_ratio", 1.0)
        left_mm, right_mm = (max(values.get(f"bare_{end}_mm", 0.0), 0.0) for end in ("left", "right"))
        for place, winding in enumerate(self.windings, start=1):
            left_mm += max(values.get(f"wrap_{place}_inset_left_mm", 0.0), 0.0)
            right_mm += max(values.get(f"wrap_{place}_inset_right_mm", 0.0), 0.0)
            if winding.outside_mm is None:
                wrap_mm = values[f"wrap_{place}_diameter_mm"]
            else:
                wrap_mm = (values[f"wrap_{place}_outside_mm"] - beneath_mm) / 2.0
            density = winding_linear_density_kg_per_m(
                inner_diameter_mm=turned_on_mm,
                wrap_diameter_mm=wrap_mm,
                density_kg_per_m3=values[f"density_kg_per_m3 of {winding.material.name}"],
                packing=values[f"wrap_{place}_packing"],
            )
            stiffness = values["winding_spring_ratio"] * winding_stiffness_n_m2(
                inner_diameter_mm=turned_on_mm,
                wrap_diameter_mm=wrap_mm,
                young_modulus_pa=values[f"young_modulus_pa of {winding.material.name}"],
            )
            yield MassLayer(float(density), left_mm, right_mm, float(stiffness))
            beneath_mm = turned_on_mm = beneath_mm + 2.0 * wrap_mm
