"""Checked readings as plain text: a ledger of quantities, and in words what lies outside and what it means."""

from __future__ import annotations

from typing import Final

from strikeline.cli.cautions import caution_lines
from strikeline.cli.fitted_rows import fitted
from strikeline.cli.plain_text import bulleted, typed, wrapped
from strikeline.cli.read_again_words import read_again_lines
from strikeline.domain.catalogue import Evidence, Nominal, Place
from strikeline.reports.figures import ABSENT, count, key_ranges, number
from strikeline.workshop.readings import QuantityCheck, ReadingsCheck

EVIDENCE_WORDS: Final = {
    Evidence.PUBLISHED: "published",
    Evidence.COMMON: "common practice, no source",
    Evidence.MEMORY: "from memory, unverified",
    Evidence.REASONING: "our reasoning",
    Evidence.MAKER: "this piano's own",
    Evidence.WORKSHOP: "this piano's own",
}
_HEADS: Final = ("quantity", "readings", "middle", "should be", "within", "low", "high", "cannot tell", "figure is")
_LEAST_NEEDED: Final = ("figure is", "readings", "within", "cannot tell", "should be", "middle")


def readings_table(check: ReadingsCheck, *, usage: str, width: int | None) -> str:
    """Return checked readings as text.

    Parameters
    ----------
    check : ReadingsCheck
        From `workshop.readings.check_table`.
    usage : str
        ``"gb"`` or ``"us"``: whose names.
    width : int or None
        Columns to break sentences at.
    """
    if not check.quantities:
        return "No readings: fill a line below the headings for each note you have measured."
    rows = [_HEADS, *(_row(one, usage) for one in check.quantities)]
    lines = fitted(rows, width, least_first=_LEAST_NEEDED)
    lines += read_again_lines(check.read_again, width)
    outside = [text for one in check.quantities for text in _outside(one, usage)]
    lines += bulleted("Outside:", outside, width)
    if not outside:
        lines += ["", wrapped("Nothing lies outside its tolerance.", width)]
    unsure = [one for one in check.quantities if one.count(Place.CANNOT_TELL)]
    if unsure:
        texts = [f"{one.quantity.names[usage]}: {typed(key_ranges(one.keys(Place.CANNOT_TELL)))}" for one in unsure]
        lines += bulleted("Too near a limit for how well it was measured; measure again more finely:", texts, width)
    missing = [one.quantity for one in check.quantities if one.quantity.condition and _lacks_condition(one)]
    if missing:
        texts = [f"{one.names[usage]}: {one.condition}" for one in missing]
        lines += bulleted("Readings hang on what was not written down; add a column 'condition':", texts, width)
    lines += [
        "",
        wrapped(
            "Without a written ± a reading counts as good as a careful hand repeats it. --json has sources.", width
        ),
    ]
    lines += caution_lines(
        tuple(dict.fromkeys(one for each in check.quantities for one in each.quantity.cautions)), width
    )
    return "\n".join(lines)


def _row(one: QuantityCheck, usage: str) -> tuple[str, ...]:
    values = sorted(each.reading.value.value for each in one.checked)
    middle = (
        values[len(values) // 2] if len(values) % 2 else sum(values[len(values) // 2 - 1 : len(values) // 2 + 1]) / 2
    )
    unit, nominal = one.quantity.unit, one.nominal
    figures = [f"{len(values)}", f"{number(middle, places=_places(one))} {unit}"]
    if nominal is None:
        return one.quantity.names[usage], *figures, ABSENT, *(4 * [ABSENT]), "no figure known"
    counts = [str(one.count(place)) for place in (Place.WITHIN, Place.LOW, Place.HIGH, Place.CANNOT_TELL)]
    return one.quantity.names[usage], *figures, _should_be(nominal, one), *counts, EVIDENCE_WORDS[nominal.evidence]


def _should_be(nominal: Nominal, one: QuantityCheck) -> str:
    # As many decimals as both need to be printed as they are.
    places = max(len(f"{figure:g}".partition(".")[2]) for figure in (nominal.value, nominal.tolerance))
    return f"{number(nominal.value, places=places)} ± {number(nominal.tolerance, places=places)} {one.quantity.unit}"


def _places(one: QuantityCheck) -> int:
    """Return decimals that show what a careful hand can tell."""
    return 0 if one.quantity.half_width >= 2 else 1 if one.quantity.half_width >= 0.2 else 2


def _outside(one: QuantityCheck, usage: str) -> list[str]:
    texts = []
    sides = ((Place.LOW, "low", one.quantity.if_low), (Place.HIGH, "high", one.quantity.if_high))
    for place, word, meaning in sides:
        n = one.count(place)
        if n:
            keys = one.keys(place)
            where = f" ({typed(key_ranges(keys))})" if keys else ""
            texts.append(f"{one.quantity.names[usage]} is {word} {_times(n)}{where}. {meaning}".rstrip())
    return texts


def _times(n: int) -> str:
    return f"in {count(n, 'place')}"


def _lacks_condition(one: QuantityCheck) -> bool:
    return any(not each.reading.condition for each in one.checked)
