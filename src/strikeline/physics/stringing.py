"""One string: tension, stress, share of breaking load, stretch, impedance and inharmonicity, with their errors.

Everything measured is an independent input: speaking length, core, each winding, bare ends, pitch, and what tables say
of the metals. Each input is moved by itself through the whole calculation, and all results follow the same move, so
that results of one string, and sums over strings that share a metal, stay tied.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.errors import InputError
from strikeline.measured import Measured, carried, measured_from
from strikeline.physics.bare_ends import FITTED_PARTIALS, SteppedLaw, SteppedString, stepped_law
from strikeline.physics.string_dimensions import StringDimensions
from strikeline.physics.strings import fundamental_hz, tension_for_pitch_n
from strikeline.physics.wire_strength import WireStrength

__all__ = [
    "CarriedString",
    "StringDimensions",
    "StringState",
    "carried_string",
    "frequency_of_tension",
    "state_of",
    "string_results",
    "string_state",
]

_M_PER_MM: Final = 1e-3
_PA_PER_MPA: Final = 1e6
_SETTLED: Final = 1e-6
"""Relative change of f0 in a round after which what is left is a thousandth of it."""
_MOST_ROUNDS: Final = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class StringState:
    """What a string does at a pitch."""

    f0_hz: Measured
    """Fundamental of the law ``f_n = n·f0·sqrt(1 + B·n²)``."""
    first_partial_hz: Measured
    """What sounds lowest: ``f0·sqrt(1 + B)``."""
    tension_n: Measured
    stress_mpa: Measured
    """Tension over the section of the wire or core; over what is left of it where a share is lost."""
    breaking_load_n: Measured | None
    """Load at which sound wire of the grade breaks, less the share of section lost."""
    breaking_share: Measured | None
    """Tension over breaking load: 0.6 for 60 %."""
    breaking_reason: str | None
    """Why the breaking load cannot be told, where it cannot."""
    elongation_mm: Measured
    """How much the speaking length is stretched by its tension."""
    linear_density_kg_per_m: Measured
    """Mass per length, winding included."""
    impedance_kg_per_s: Measured
    """Wave impedance ``sqrt(T·μ)`` of the (wound) string."""
    inharmonicity_b: Measured
    """Inharmonicity coefficient B, bare ends included where they are known."""
    stiffness_b: Measured
    """The part of B that the stiffness of the core makes, ``π²·E·I/(T·L²)``: the published formula ends here."""
    winding_b: Measured
    """The part of B that the winding makes as a spring that slides on the core; friction would add to it. 0 for plain
    wire."""
    bare_ends_b: Measured | None
    """The part of B that the bare ends make; ``None`` for plain wire and where they were not measured."""
    bare_ends_tension_ratio: Measured | None
    """Tension over what it would be, at the same f0, if the string were wound from end to end."""
    fitted_partials: int | None
    """Partials 1 to this stand behind f0 and B of a string with bare ends; ``None`` where the law is exact."""
    law_departure_cents: float | None
    """How far the worst of those partials is from the law."""


_ALWAYS_KNOWN: Final = (
    "f0_hz",
    "first_partial_hz",
    "tension_n",
    "stress_mpa",
    "elongation_mm",
    "linear_density_kg_per_m",
    "impedance_kg_per_s",
    "inharmonicity_b",
    "stiffness_b",
    "winding_b",
)
_SOMETIMES_KNOWN: Final = ("bare_ends_b", "bare_ends_tension_ratio", "breaking_load_n", "breaking_share")
_FIELDS: Final = (*_ALWAYS_KNOWN, *_SOMETIMES_KNOWN, "law_departure_cents")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CarriedString:
    """The state of a string with the share of each input in each error, for sums over strings."""

    inputs: tuple[str, ...]
    """Names of the inputs; what strings share (a metal) has the same name in all of them."""
    fields: tuple[str, ...]
    """Names of the results, as in `StringState`."""
    value: NDArray[np.float64]
    """Results, shape ``(n_fields,)``."""
    shares: NDArray[np.float64]
    """Change of each result when an input moves by one standard error, shape ``(n_inputs, n_fields)``."""

    def measured(self, field: str) -> Measured:
        """Return one result with its standard error."""
        at = self.fields.index(field)
        return measured_from(self.value[at], self.shares[:, at])


def carried_string(
    dimensions: StringDimensions,
    *,
    f0_hz: Measured | float | None = None,
    tension_n: Measured | float | None = None,
    strength_mpa: Measured | float | None = None,
    section_lost_ratio: Measured | float = 0.0,
    n_partials: int = FITTED_PARTIALS,
) -> CarriedString:
    """Return all results of one string with the share that each input has in their errors.

    Parameters
    ----------
    dimensions : StringDimensions
        What was measured.
    f0_hz, tension_n : Measured or float, optional
        Pitch or tension: one of the two.
    strength_mpa : Measured or float, optional
        Ultimate strength of the wire; without it nothing is said of breaking.
    section_lost_ratio : Measured or float
        Share of the section of wire or core that rust has taken, 0 or more and below 1.
    n_partials : int
        Partials 1 to this are fitted where the string has bare ends.

    Returns
    -------
    CarriedString
        Values and signed shares.

    Raises
    ------
    InputError
        If not exactly one of pitch and tension is given, or a value leaves its range.
    """
    if (f0_hz is None) == (tension_n is None):
        raise InputError(
            "give the pitch (f0_hz) or the tension (tension_n) of the string, one of the two", name="f0_hz"
        )
    inputs: dict[str, Measured | float] = {**dimensions.inputs(), "section_lost_ratio": section_lost_ratio}
    asked = {"f0_hz": f0_hz, "tension_n": tension_n, "strength_mpa": strength_mpa}
    inputs |= {name: one for name, one in asked.items() if one is not None}
    lost = section_lost_ratio.value if isinstance(section_lost_ratio, Measured) else section_lost_ratio
    if not 0 <= lost < 1:
        raise InputError.of("section_lost_ratio", lost, "0 or more and below 1")

    def results(**values: float) -> NDArray[np.float64]:
        found = string_results(dimensions, values, n_partials=n_partials)
        return np.array([found[field] for field in _FIELDS])

    value, shares = carried(results, inputs)
    return CarriedString(inputs=tuple(inputs), fields=_FIELDS, value=value, shares=shares)


def string_results(dimensions: StringDimensions, values: Mapping[str, float], *, n_partials: int) -> dict[str, float]:
    """Return the results of one string for plain numbers in place of its inputs.

    Parameters
    ----------
    dimensions : StringDimensions
        Says of what kind the string is.
    values : mapping of str to float
        All of `StringDimensions.inputs`, ``section_lost_ratio``, ``f0_hz`` or ``tension_n``, and ``strength_mpa`` where
        it is known.
    n_partials : int
        Partials 1 to this are fitted where the mass steps.

    Returns
    -------
    dict of str to float
        By the names of `StringState`; nan for what is not known.
    """
    body = dimensions.body(values)
    density, length_mm = body.full_density_kg_per_m, body.length_mm
    law = None
    if "f0_hz" in values:
        f0_hz = values["f0_hz"]
        tension_n, law = _at_pitch(body, f0_hz=f0_hz, n_partials=n_partials if dimensions.is_stepped else None)
    else:
        tension_n = values["tension_n"]
        f0_hz = float(fundamental_hz(length_mm=length_mm, tension_n=tension_n, linear_density_kg_per_m=density))
        if dimensions.is_stepped:
            law = stepped_law(body, tension_n=tension_n, n_partials=n_partials)
            f0_hz = law.f0_hz
    stiffness_b = np.pi**2 * body.bending_stiffness_n_m2 / (tension_n * (length_mm * _M_PER_MM) ** 2)
    winding_b = stiffness_b * (body.full_stiffness_n_m2 / body.bending_stiffness_n_m2 - 1.0)
    b, bare_b, ratio, departure = stiffness_b + winding_b, np.nan, np.nan, np.nan
    if law is not None:
        b, departure = law.inharmonicity_b, law.departure_cents
        bare_b = b - stiffness_b - winding_b
        full = tension_for_pitch_n(length_mm=length_mm, f0_hz=f0_hz, linear_density_kg_per_m=density)
        ratio = tension_n / float(full)
    area_m2 = dimensions.core_area_m2(values["core_diameter_mm"])
    left_m2 = area_m2 * (1.0 - max(values["section_lost_ratio"], 0.0))
    modulus_pa = values[f"young_modulus_pa of {dimensions.core.name}"]
    breaking_n = values.get("strength_mpa", np.nan) * _PA_PER_MPA * left_m2
    return {
        "f0_hz": f0_hz,
        "first_partial_hz": f0_hz * np.sqrt(1.0 + b),
        "tension_n": tension_n,
        "stress_mpa": tension_n / left_m2 / _PA_PER_MPA,
        "elongation_mm": length_mm * tension_n / (modulus_pa * area_m2),
        "linear_density_kg_per_m": density,
        "impedance_kg_per_s": np.sqrt(tension_n * density),
        "inharmonicity_b": b,
        "stiffness_b": stiffness_b,
        "winding_b": winding_b,
        "bare_ends_b": bare_b,
        "bare_ends_tension_ratio": ratio,
        "law_departure_cents": departure,
        "breaking_load_n": breaking_n,
        "breaking_share": tension_n / breaking_n,
    }


def _at_pitch(body: SteppedString, *, f0_hz: float, n_partials: int | None) -> tuple[float, SteppedLaw | None]:
    """Return the tension at a pitch; where the mass steps, that at which the fitted law has this f0, and the law."""
    tension_n = float(
        tension_for_pitch_n(length_mm=body.length_mm, f0_hz=f0_hz, linear_density_kg_per_m=body.full_density_kg_per_m)
    )
    law = None
    if n_partials is not None:
        for _ in range(_MOST_ROUNDS):  # stiffness hardly moves f0: each round gains three digits and more
            law = stepped_law(body, tension_n=tension_n, n_partials=n_partials)
            change = f0_hz / law.f0_hz
            tension_n *= change**2
            if abs(change - 1.0) < _SETTLED:
                break
    return tension_n, law


def string_state(
    dimensions: StringDimensions,
    *,
    f0_hz: Measured | float,
    strength: WireStrength | None,
    section_lost_ratio: Measured | float = 0.0,
    n_partials: int = FITTED_PARTIALS,
) -> StringState:
    """Return what a string does at a pitch: tension, stress, breaking share, stretch, impedance, inharmonicity.

    Parameters
    ----------
    dimensions : StringDimensions
        What was measured.
    f0_hz : Measured or float
        Fundamental of the law of the stiff string, as strikeline hears it; not the first partial, which is sharper by
        ``sqrt(1 + B)`` (0.6 cents at A4, some 20 at C8).
    strength : WireStrength or None
        Strength of the wire or core; ``None`` where none is known.
    section_lost_ratio : Measured or float
        Share of the section that rust has taken, from a measurement; 0 for sound wire.
    n_partials : int
        Partials 1 to this give f0 and B where the string has bare ends.

    Returns
    -------
    StringState
        Everything with one standard error, carried from every input.

    Raises
    ------
    InputError
        If a value leaves its range.

    References
    ----------
    .. [1] T = μ(2·L·f0)² (Mersenne); B = π²·E·I/(T·L²): H. Fletcher, J. Acoust. Soc. Am. 36, 203-209 (1964), as
       reported in a secondary survey; elongation T·L/(E·A): Hooke. What winding and bare ends add: `winding` and
       `bare_ends`.

    Examples
    --------
    >>> from strikeline.physics.wire import MATERIALS
    >>> plain = StringDimensions(Measured(404.0, 0.5), Measured(0.947, 0.005), MATERIALS["steel"])
    >>> state = string_state(plain, f0_hz=440.68, strength=None)
    >>> round(state.tension_n.value, 1), round(state.tension_n.se, 1)
    (701.0, 7.9)
    """
    carried_one = carried_string(
        dimensions,
        f0_hz=f0_hz,
        strength_mpa=None if strength is None else strength.stress_mpa,
        section_lost_ratio=section_lost_ratio,
        n_partials=n_partials,
    )
    return state_of(carried_one, n_partials=n_partials)


def state_of(carried_one: CarriedString, *, n_partials: int = FITTED_PARTIALS) -> StringState:
    """Return carried results as a record; `n_partials` as they were made."""

    def known(field: str) -> Measured | None:
        return None if np.isnan(carried_one.value[carried_one.fields.index(field)]) else carried_one.measured(field)

    departure = known("law_departure_cents")
    is_known = "strength_mpa" in carried_one.inputs
    return StringState(
        **{field: carried_one.measured(field) for field in _ALWAYS_KNOWN},
        bare_ends_b=known("bare_ends_b"),
        bare_ends_tension_ratio=known("bare_ends_tension_ratio"),
        breaking_load_n=known("breaking_load_n"),
        breaking_share=known("breaking_share"),
        fitted_partials=None if departure is None else n_partials,
        law_departure_cents=None if departure is None else departure.value,
        breaking_reason=None if is_known else "no strength is known for this wire",
    )


def frequency_of_tension(
    dimensions: StringDimensions, *, tension_n: Measured | float, n_partials: int = FITTED_PARTIALS
) -> Measured:
    """Return the pitch f0 that a tension gives a string.

    Parameters
    ----------
    dimensions : StringDimensions
        What was measured.
    tension_n : Measured or float
        Tension, above 0.
    n_partials : int
        Partials 1 to this give f0 where the string has bare ends.

    Returns
    -------
    Measured
        f0 in hertz.

    Raises
    ------
    InputError
        If the tension is not above 0.

    Examples
    --------
    >>> from strikeline.physics.wire import MATERIALS
    >>> plain = StringDimensions(Measured(404.0, 0.5), Measured(0.947, 0.005), MATERIALS["steel"])
    >>> round(frequency_of_tension(plain, tension_n=701.0).value, 1)
    440.7
    """
    return carried_string(dimensions, tension_n=tension_n, n_partials=n_partials).measured("f0_hz")
