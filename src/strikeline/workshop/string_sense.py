"""Whether a string can be meant as it was written, and which slip of a unit or an octave would explain it."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, Final

from strikeline.errors import InputError
from strikeline.keyboard import key_from_name, key_name
from strikeline.measured import Measured
from strikeline.physics.scale_weak import LEAST_MEANT, MOST_MEANT
from strikeline.units import UNITS

if TYPE_CHECKING:
    from strikeline.physics.stringing import StringDimensions, StringState
    from strikeline.workshop.one_string import StringAsked

_UNITS_OF: Final = {
    "length": ("cm", "in"),
    "diameter": ("thou", "in"),
    "wrap": ("thou", "in"),
    "outside": ("thou", "in"),
    "tension": ("kgf", "lbf"),
}
"""Units in which such a figure is written by people, besides those it is read in."""
_HAS_UNIT: Final = re.compile(r"[^\W\d_]|[\"'″”′’]")
_OCTAVE: Final = 12
_AUDIBLE_B: Final = 2e-3
"""From here on f0 and first partial differ by more than 1.7 cents, 0.2 % in tension."""


def cannot_be_meant(
    asked: StringAsked, share: Measured | None, *, share_of: Callable[[StringAsked], float | None]
) -> str | None:
    """Return why a string must have been misread, and what would fit; ``None`` where it may well be as written.

    A string of a piano at its pitch carries about 10 to 80 % of its breaking load (our reasoning). Where the share lies
    outside by more than its error, each figure without a unit is tried in the others that people write it in; if none
    fits, the note an octave up and down.

    Parameters
    ----------
    asked : StringAsked
        The string as written.
    share : Measured or None
        Its tension over the breaking load of sound wire; nothing is said without.
    share_of : callable
        Gives that share for a string written otherwise.
    """
    if share is None:
        return None
    half = share.half_width
    if share.value + half >= LEAST_MEANT and share.value - half <= MOST_MEANT:
        return None
    fits = _fitting(_in_other_units(asked), share_of) or _fitting(_in_other_octaves(asked), share_of)
    advice = f"; {' or '.join(fits)}" if fits else "; read length, diameters and pitch again"
    return (
        f"the string would carry {_percent(share.value)} of what such wire bears, a piano string carries about "
        f"{100 * LEAST_MEANT:.0f} to {100 * MOST_MEANT:.0f} % (our reasoning){advice}"
    )


def _percent(share: float) -> str:
    return f"{100 * share:.2g} %" if share < LEAST_MEANT else f"{100 * share:.0f} %"


def _fitting(others: Iterator[tuple[str, StringAsked]], share_of: Callable[[StringAsked], float | None]) -> list[str]:
    """Return each other way of writing under which the string would be one of a piano."""
    fits = []
    for words, other in others:
        try:
            share = share_of(other)
        except InputError:
            continue
        if share is not None and LEAST_MEANT <= share <= MOST_MEANT:
            fits.append(f"with {words} it would be {_percent(share)}")
    return fits


def _in_other_units(asked: StringAsked) -> Iterator[tuple[str, StringAsked]]:
    for name, units in _UNITS_OF.items():
        text: str | None = getattr(asked, name)
        if text is None or _HAS_UNIT.search(text):
            continue
        for unit in units:
            written = f"{text.strip()} {UNITS[unit].name}"
            yield f"{name} {written}", replace(asked, **{name: written})  # type: ignore[arg-type]  # a text either way


def _in_other_octaves(asked: StringAsked) -> Iterator[tuple[str, StringAsked]]:
    if asked.note is None:
        return
    key = key_from_name(asked.note)
    for other in (key - _OCTAVE, key + _OCTAVE):
        try:
            name = key_name(other)
        except InputError:
            continue
        yield f"note {name}", replace(asked, note=name)


def string_notices(
    dimensions: StringDimensions, state: StringState, share_range: tuple[float, float] | None
) -> list[str]:
    """Return what to mind about a string, in sentences.

    Parameters
    ----------
    dimensions : StringDimensions
        What was measured.
    state : StringState
        What it does at its pitch.
    share_range : tuple of float or None
        Its tension over the greatest and over the least strength that such wire may have.
    """
    notices = []
    if share_range is not None and share_range[0] > 1.0:
        notices.append(
            "no such wire bears this tension, not even the strongest: read note, length and diameters again before "
            "anything is tuned by it"
        )
    b = state.inharmonicity_b.value
    if b > _AUDIBLE_B:
        notices.append(
            f"pitch here is f0; a string whose first partial was put on that pitch has {100.0 * b / (1.0 + b):.1f} % "
            "less tension"
        )
    if dimensions.windings and dimensions.bare_mm is None:
        notices.append(
            "the bare ends of the winding were not given, so B is that of a string wound from end to end; they can add "
            "half as much again: measure them"
        )
    if state.law_departure_cents is not None and state.law_departure_cents > 1.0:
        notices.append(
            f"with bare ends so long the partials leave the law of one B by up to {state.law_departure_cents:.1f} "
            f"cents; f0 and B are fitted to partials 1 to {state.fitted_partials}"
        )
    return notices
