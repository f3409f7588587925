"""The stringing of an invented piano: lengths, wires and wraps from a handful of design figures.

The figures of `UPRIGHT_1920S` and `SMALL_GRAND` are invented within what is usual (speaking lengths growing by about
1.88 per octave downwards, 600 to 900 N on a string, copper-wound bass; common practice, no source). They are judged by
what follows from them: B near 3e-4 at C4 and 7e-4 at A4, a minimum around the break, and a step up from the last wound
to the first plain string, as on the pianos of the reference tests (Chabassier & Duruflé 2012; Rigaud et al. 2011).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.errors import InputError
from strikeline.keyboard import Compass, equal_tempered_hz
from strikeline.physics.strings import (
    COPPER_DENSITY_KG_PER_M3,
    STEEL_YOUNG_MODULUS_PA,
    characteristic_impedance_kg_per_s,
    partial_frequencies_hz,
    plain_inharmonicity_b,
    plain_linear_density_kg_per_m,
    tension_for_pitch_n,
    wound_linear_density_kg_per_m,
)
from strikeline.synthesis.polarisation import FalseBeat, Polarisation
from strikeline.units import ratio_from_cents

_HIGHEST_SCALED_KEY: Final = 88


@dataclass(frozen=True, slots=True, kw_only=True)
class StringUnison:
    """The one, two or three strings of a note, alike in length and wire and each at its own pitch."""

    key: int
    speaking_length_mm: float
    core_diameter_mm: float
    wrap_diameter_mm: float | None
    """Diameter of the wrap wire; ``None`` on plain strings."""
    f0_hz: tuple[float, ...]
    """Fundamental without stiffness of each string alone, from left to right."""
    stiffness_ratio: float = 1.0
    """B of this string over B of the formula: real wire and real windings scatter by a few per cent."""
    string_stiffness_ratio: tuple[float, ...] = ()
    """B of each string over the B of the note; empty where all are alike."""
    departure_cents: tuple[tuple[float, ...], ...] = ()
    """How far the partials of each string lie above its stiff-string law, from partial 1 on; empty for not at all."""
    polarisation: Polarisation | None = None
    """``None`` for strings that swing only along the blow."""
    false_beats: tuple[FalseBeat, ...] = ()
    """Strings that beat with themselves; needs a `polarisation`."""

    def __post_init__(self) -> None:
        if not 1 <= len(self.f0_hz) <= 3:
            raise InputError.of("f0_hz", self.f0_hz, "one, two or three strings")
        for name in ("string_stiffness_ratio", "departure_cents"):
            if len(getattr(self, name)) not in (0, len(self.f0_hz)):
                raise InputError.of(name, getattr(self, name), "one entry per string, or none")
        if any(beat.string not in range(len(self.f0_hz)) for beat in self.false_beats):
            raise InputError.of("false_beats", self.false_beats, f"strings 0 to {len(self.f0_hz) - 1}")
        if self.false_beats and self.polarisation is None:
            raise InputError.of("polarisation", None, "a Polarisation where a string beats with itself")

    @property
    def n_strings(self) -> int:
        """Strings of this note."""
        return len(self.f0_hz)

    @property
    def is_wound(self) -> bool:
        """Whether the strings carry a wrap."""
        return self.wrap_diameter_mm is not None

    @property
    def mean_f0_hz(self) -> float:
        """Arithmetic mean of the strings' fundamentals."""
        return float(np.mean(self.f0_hz))

    @property
    def linear_density_kg_per_m(self) -> float:
        """Mass per length of one string."""
        if self.wrap_diameter_mm is None:
            return float(plain_linear_density_kg_per_m(diameter_mm=self.core_diameter_mm))
        return float(
            wound_linear_density_kg_per_m(
                core_diameter_mm=self.core_diameter_mm, wrap_diameter_mm=self.wrap_diameter_mm
            )
        )

    @property
    def tension_n(self) -> float:
        """Mean tension of one string at its present pitch."""
        return float(
            tension_for_pitch_n(
                length_mm=self.speaking_length_mm,
                f0_hz=self.mean_f0_hz,
                linear_density_kg_per_m=self.linear_density_kg_per_m,
            )
        )

    @property
    def inharmonicity_b(self) -> float:
        """B of the strings, their mean where they differ; the core alone bends."""
        formula_b = plain_inharmonicity_b(
            diameter_mm=self.core_diameter_mm,
            length_mm=self.speaking_length_mm,
            tension_n=self.tension_n,
            young_modulus_pa=STEEL_YOUNG_MODULUS_PA,
        )
        return self.stiffness_ratio * float(formula_b)

    @property
    def string_inharmonicity_b(self) -> tuple[float, ...]:
        """B of each string, from left to right."""
        return tuple(self.inharmonicity_b * ratio for ratio in self.string_stiffness_ratio or (1.0,) * self.n_strings)

    def string_partials_hz(self, partial: NDArray[np.int64], *, string_f0_hz: Sequence[float]) -> NDArray[np.float64]:
        """Return the partials of each string on a rigid bridge.

        Parameters
        ----------
        partial : ndarray of int, shape (k,)
            Partial numbers.
        string_f0_hz : sequence of float, length n_strings
            f0 of each string; usually `f0_hz`.

        Returns
        -------
        ndarray of float, shape (k, n_strings)
            The stiff-string law, with each string's departures from it.
        """
        strings = zip(string_f0_hz, self.string_inharmonicity_b, strict=True)
        frequency_hz = np.stack([partial_frequencies_hz(partial, f0_hz=f0, inharmonicity_b=b) for f0, b in strings], 1)
        for string, cents in enumerate(self.departure_cents):
            known = partial <= len(cents)
            frequency_hz[known, string] *= ratio_from_cents(np.asarray(cents)[partial[known] - 1])
        return frequency_hz

    @property
    def impedance_kg_per_s(self) -> float:
        """Wave impedance of one string."""
        return float(
            characteristic_impedance_kg_per_s(
                tension_n=self.tension_n, linear_density_kg_per_m=self.linear_density_kg_per_m
            )
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleDesign:
    """The figures from which a whole stringing follows."""

    top_length_mm: float
    """Speaking length at key 88 (also when the compass ends below it)."""
    octave_length_ratio: float
    """Growth of the speaking length per octave downwards, before foreshortening."""
    foreshortening_from_key: int
    """Plain strings below this key are shorter than the ratio asks, for the case ends."""
    longest_plain_mm: float
    """Speaking length of the lowest plain string."""
    top_diameter_mm: float
    break_diameter_mm: float
    """Plain wire at key 88 and at the lowest plain string."""
    last_wound_key: int
    last_single_key: int
    """Bass notes up to here have one string, from there to `last_wound_key` two, above three."""
    longest_wound_mm: float
    shortest_wound_mm: float
    thickest_core_mm: float
    thinnest_core_mm: float
    single_tension_n: float
    double_tension_n: float
    """Tension that the wrap is chosen for, at equal temperament."""


UPRIGHT_1920S: Final = ScaleDesign(
    top_length_mm=51.5,
    octave_length_ratio=1.89,
    foreshortening_from_key=41,
    longest_plain_mm=1060.0,
    top_diameter_mm=0.800,
    break_diameter_mm=1.050,
    last_wound_key=28,
    last_single_key=9,
    longest_wound_mm=1175.0,
    shortest_wound_mm=880.0,
    thickest_core_mm=1.50,
    thinnest_core_mm=0.95,
    single_tension_n=820.0,
    double_tension_n=720.0,
)
"""An upright of about 1.27 m: break between C3 and C♯3."""

SMALL_GRAND: Final = ScaleDesign(
    top_length_mm=52.0,
    octave_length_ratio=1.89,
    foreshortening_from_key=40,
    longest_plain_mm=1360.0,
    top_diameter_mm=0.775,
    break_diameter_mm=1.075,
    last_wound_key=22,
    last_single_key=8,
    longest_wound_mm=1480.0,
    shortest_wound_mm=1180.0,
    thickest_core_mm=1.45,
    thinnest_core_mm=0.95,
    single_tension_n=1050.0,
    double_tension_n=800.0,
)
"""A grand of about 1.9 m: break between F♯2 and G2."""


def lay_out_strings(*, compass: Compass, design: ScaleDesign, a4_hz: float) -> tuple[StringUnison, ...]:
    """Return the stringing of every key in `compass`, each string at equal temperament.

    Parameters
    ----------
    compass : Compass
        Keys to string.
    design : ScaleDesign
        Design figures.
    a4_hz : float
        Reference pitch, above 0.

    Returns
    -------
    tuple of StringUnison
        One for each key, lowest first.
    """
    return tuple(_unison(key, design, float(equal_tempered_hz(key, a4_hz=a4_hz))) for key in compass)


def _unison(key: int, design: ScaleDesign, f0_hz: float) -> StringUnison:
    """Return the stringing of one key: wound up to the break, plain above."""
    if key <= design.last_wound_key:
        return _wound_unison(key, design, f0_hz)
    length = design.top_length_mm * design.octave_length_ratio ** ((_HIGHEST_SCALED_KEY - key) / 12.0)
    if key < design.foreshortening_from_key:
        first, turn = design.last_wound_key + 1, design.foreshortening_from_key
        length_at_turn = design.top_length_mm * design.octave_length_ratio ** ((_HIGHEST_SCALED_KEY - turn) / 12.0)
        share = (turn - key) / (turn - first)
        length = length_at_turn * (design.longest_plain_mm / length_at_turn) ** share
    share = (key - design.last_wound_key) / (_HIGHEST_SCALED_KEY - design.last_wound_key)
    diameter = design.break_diameter_mm + share * (design.top_diameter_mm - design.break_diameter_mm)
    return StringUnison(
        key=key,
        speaking_length_mm=round(length, 1),
        core_diameter_mm=round(round(diameter / 0.025) * 0.025, 3),  # metric piano wire comes in steps of 0.025 mm
        wrap_diameter_mm=None,
        f0_hz=(f0_hz,) * 3,
    )


def _wound_unison(key: int, design: ScaleDesign, f0_hz: float) -> StringUnison:
    """Choose core by position and wrap so that the tension comes out as designed."""
    share = (key - 1) / (design.last_wound_key - 1)
    length = design.longest_wound_mm + share * (design.shortest_wound_mm - design.longest_wound_mm)
    core = design.thickest_core_mm + share * (design.thinnest_core_mm - design.thickest_core_mm)
    core = round(round(core / 0.025) * 0.025, 3)
    is_single = key <= design.last_single_key
    tension = design.single_tension_n if is_single else design.double_tension_n
    density = tension / (2.0 * length * 1e-3 * f0_hz) ** 2
    excess = density - float(plain_linear_density_kg_per_m(diameter_mm=core))
    # w·(d + w) = excess/(ρ·π²/4), the helix left out (0.8 %): the tension moves by as much
    product_mm2 = excess / (COPPER_DENSITY_KG_PER_M3 * np.pi**2 / 4.0) * 1e6
    wrap = (-core + np.sqrt(core**2 + 4.0 * product_mm2)) / 2.0
    return StringUnison(
        key=key,
        speaking_length_mm=round(length, 1),
        core_diameter_mm=core,
        wrap_diameter_mm=max(0.05, round(round(float(wrap) / 0.05) * 0.05, 2)),
        f0_hz=(f0_hz,) * (1 if is_single else 2),
    )
