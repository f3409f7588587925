"""Which diameter a string must have for a wanted tension or a wanted inharmonicity, at its length and pitch."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from enum import StrEnum
from typing import Final

import numpy as np
from scipy.optimize import brentq

from strikeline.errors import InputError
from strikeline.measured import Measured, carried, measured_from
from strikeline.physics.bare_ends import FITTED_PARTIALS
from strikeline.physics.ranges import above_zero
from strikeline.physics.stringing import StringDimensions, string_results

_REACH: Final = 8.0
"""The diameter is sought from an eighth to eight times the one given."""
_EXACT: Final = 1e-12


class Part(StrEnum):
    """Which diameter is sought."""

    CORE = "core"
    """The wire itself, or the core of a wound string."""
    WRAP = "wrap"
    """The wire of the outermost winding."""


def diameter_for_tension(
    dimensions: StringDimensions,
    *,
    tension_n: Measured | float,
    f0_hz: Measured | float,
    part: Part | None = None,
    n_partials: int = FITTED_PARTIALS,
) -> Measured:
    """Return the diameter at which a string has a tension at its pitch; everything else stays as it is.

    Parameters
    ----------
    dimensions : StringDimensions
        The string; the diameter sought is only where the search begins, and its error does not count.
    tension_n : Measured or float
        Wanted tension, above 0.
    f0_hz : Measured or float
        Pitch, above 0.
    part : Part, optional
        Which diameter is sought. Left out: the wire of plain strings, the outermost winding of wound ones.
    n_partials : int
        As in `stringing.string_state`.

    Returns
    -------
    Measured
        Diameter in millimetres; its error comes from the length, the pitch and what else is measured.

    Raises
    ------
    InputError
        If no diameter within a factor of 8 gives that tension: on a wound string the core alone may be too heavy.

    Examples
    --------
    >>> from strikeline.physics.wire import MATERIALS
    >>> plain = StringDimensions(Measured(404.0, 0.5), Measured(0.947, 0.005), MATERIALS["steel"])
    >>> round(diameter_for_tension(plain, tension_n=701.0, f0_hz=440.68).value, 3)
    0.947
    """
    chosen = part or (Part.WRAP if dimensions.windings else Part.CORE)
    return _diameter(
        dimensions,
        chosen,
        "tension_n",
        wanted=tension_n,
        f0_hz=f0_hz,
        n_partials=n_partials,
        stated="{:.4g} N at this pitch",
    )


def diameter_for_inharmonicity(
    dimensions: StringDimensions,
    *,
    inharmonicity_b: Measured | float,
    f0_hz: Measured | float,
    part: Part = Part.CORE,
    n_partials: int = FITTED_PARTIALS,
) -> Measured:
    """Return the diameter at which a string has an inharmonicity at its pitch; everything else stays as it is.

    Parameters
    ----------
    dimensions : StringDimensions
        The string; the diameter sought is only where the search begins, and its error does not count.
    inharmonicity_b : Measured or float
        Wanted B, above 0.
    f0_hz : Measured or float
        Pitch, above 0.
    part : Part
        Which diameter is sought. A thicker core raises B; a thicker winding raises the tension and lowers B.
    n_partials : int
        As in `stringing.string_state`.

    Returns
    -------
    Measured
        Diameter in millimetres; its error comes from the length, the pitch and what else is measured.

    Raises
    ------
    InputError
        If no diameter within a factor of 8 gives that B: bare ends alone may make more.

    Examples
    --------
    >>> from strikeline.physics.wire import MATERIALS
    >>> plain = StringDimensions(Measured(404.0, 0.5), Measured(0.947, 0.005), MATERIALS["steel"])
    >>> round(diameter_for_inharmonicity(plain, inharmonicity_b=6.88e-4, f0_hz=440.68).value, 3)
    0.947
    """
    return _diameter(
        dimensions,
        part,
        "inharmonicity_b",
        wanted=inharmonicity_b,
        f0_hz=f0_hz,
        n_partials=n_partials,
        stated="B = {:.4g} at this pitch",
    )


def with_diameter(dimensions: StringDimensions, part: Part, diameter_mm: Measured) -> StringDimensions:
    """Return the same string with another wire, core or outermost winding.

    Parameters
    ----------
    dimensions : StringDimensions
        The string as it is.
    part : Part
        What is changed.
    diameter_mm : Measured
        The new diameter, above 0.

    Returns
    -------
    StringDimensions
        Everything else unchanged.

    Raises
    ------
    InputError
        If the outermost winding of a plain string is asked for.
    """
    if part is Part.CORE:
        return replace(_by_wire(dimensions), core_diameter_mm=diameter_mm)
    _refuse_plain(dimensions, part)
    outermost = replace(dimensions.windings[-1], wrap_diameter_mm=diameter_mm, outside_mm=None)
    return replace(dimensions, windings=(*dimensions.windings[:-1], outermost))


def _by_wire(dimensions: StringDimensions) -> StringDimensions:
    """Return the string with its windings known by their wire, which stays when something beneath it changes."""
    return replace(dimensions, windings=tuple(replace(layer, outside_mm=None) for layer in dimensions.windings))


def _refuse_plain(dimensions: StringDimensions, part: Part) -> None:
    if part is Part.WRAP and not dimensions.windings:
        raise InputError("the winding of a plain string cannot be changed; ask for its wire", name="part")


def _diameter(
    dimensions: StringDimensions,
    part: Part,
    field: str,
    *,
    wanted: Measured | float,
    f0_hz: Measured | float,
    n_partials: int,
    stated: str,
) -> Measured:
    """Return the diameter at which a result is as wanted, solved again for each moved input."""
    _refuse_plain(dimensions, part)
    dimensions = _by_wire(dimensions)
    above_zero("wanted", wanted.value if isinstance(wanted, Measured) else wanted)
    name = "core_diameter_mm" if part is Part.CORE else f"wrap_{len(dimensions.windings)}_diameter_mm"
    known: dict[str, Measured | float] = {**dimensions.inputs(), "f0_hz": f0_hz, "section_lost_ratio": 0.0}
    start = known.pop(name)
    start_mm = start.value if isinstance(start, Measured) else start

    def solved(**values: float) -> float:
        goal = values.pop("wanted")

        def too_much(log_diameter: float) -> float:
            results = string_results(dimensions, {**values, name: float(np.exp(log_diameter))}, n_partials=n_partials)
            return float(np.log(results[field] / goal))

        return _root_mm(
            too_much,
            start_mm,
            refusal=f"no {part} from {start_mm / _REACH:.3g} to {start_mm * _REACH:.3g} mm gives {stated.format(goal)}",
        )

    return measured_from(*carried(solved, known | {"wanted": wanted}))


def _root_mm(too_much: Callable[[float], float], start_mm: float, *, refusal: str) -> float:
    """Return the diameter at which a rising or falling function of its logarithm is 0."""
    ends = np.log(start_mm) + np.linspace(-np.log(_REACH), np.log(_REACH), 13)
    # Near the start first: far out a winding may be thicker than any string, and B may turn.
    order = sorted(range(ends.size - 1), key=lambda at: abs(at + 0.5 - (ends.size - 1) / 2.0))
    height: dict[int, float] = {}
    for at in order:
        for end in (at, at + 1):
            height.setdefault(end, too_much(float(ends[end])))
        if height[at] * height[at + 1] <= 0:
            return float(np.exp(brentq(too_much, ends[at], ends[at + 1], xtol=_EXACT)))
    raise InputError(refusal, name="wanted")
