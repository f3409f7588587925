"""A wire that was looked up, as plain text."""

from __future__ import annotations

from strikeline.cli.fitted_rows import fitted
from strikeline.cli.plain_text import bulleted, figure, wrapped
from strikeline.physics.wire_gauge import GaugeSystem
from strikeline.physics.wire_strength import WireStrength
from strikeline.reports.figures import ABSENT, number, sentence
from strikeline.workshop.wire import WireFound, WireRow

SYSTEM_WORDS = {GaugeSystem.THOU: "thousandths of an inch", GaugeSystem.METRIC: "steps of 0.025 mm"}
_FRACTIONS = {0.0: "", 0.25: "¼", 0.5: "½", 0.75: "¾"}
_HEADS = ("numbers by", "No.", "mm", "in", "nearest sold", "tension and B with it", "strength MPa", "breaks at N")
_SAME = 5e-4
_LEAST_NEEDED = ("in", "strength MPa", "tension and B with it", "breaks at N")


def number_text(wire_number: float | None) -> str:
    """Return a wire number as it is written: 14½, 20, or 14.37 where it is no quarter.

    Examples
    --------
    >>> number_text(14.5), number_text(20.0), number_text(14.37)
    ('14½', '20', '14.37')
    """
    if wire_number is None:
        return ABSENT
    whole, part = divmod(wire_number, 1.0)
    for fraction, sign in _FRACTIONS.items():
        if abs(part - fraction) < 5e-3:
            return f"{whole:.0f}{sign}"
    return f"{wire_number:.2f}"


def percent(ratio: float) -> str:
    """Return a change as a percentage with its sign."""
    return f"{number(100.0 * ratio, places=1, plus=True)} %"


def strength_words(strength: WireStrength) -> str:
    """Return the range of strength, and whose figures they are."""
    return f"The wire bears {strength.low_mpa:.0f} to {strength.high_mpa:.0f} MPa. {source_words(strength)}"


def source_words(strength: WireStrength) -> str:
    """Return whose figures a strength is."""
    return f"Strength of sound wire, {strength.grade}: {strength.source}."


def wire_table(found: WireFound, *, width: int | None) -> str:
    """Return a wire as text: one line for each system, and the strength with its source.

    Parameters
    ----------
    found : WireFound
        From `workshop.wire.find_wire`.
    width : int or None
        Columns of the terminal; ``None`` breaks no line and leaves no column out.
    """
    kind = "wire number" if found.is_number else "diameter"
    rows = fitted([_HEADS, *(_row(row) for row in found.rows)], width, least_first=_LEAST_NEEDED)
    lines = [f"Wire {found.written}, read as a {kind}", *(wrapped(sentence(one), width) for one in found.notices)]
    lines += ["", *rows, ""]
    strengths = dict.fromkeys(source_words(row.strength) for row in found.rows if row.strength is not None)
    lines += [wrapped(text, width) for text in strengths]
    lines.append(
        wrapped(
            "Tension and B of plain wire at the same pitch go as the square of the diameter; ± holds 95 of 100.", width
        )
    )
    lines += bulleted("Taken as:", found.assumptions, width)
    untold = dict.fromkeys(sentence(text) for row in found.rows for text in row.cannot_tell)
    lines += bulleted("Could not be told:", list(untold), width)
    return "\n".join(lines)


def _row(row: WireRow) -> tuple[str, ...]:
    nearest = change = ABSENT
    if row.nearest is not None and row.tension_change_ratio is not None:
        nearest = f"{number_text(row.nearest.number)} ({row.nearest.diameter_mm:.3f} mm)"
        change = "the same" if abs(row.tension_change_ratio) < _SAME else percent(row.tension_change_ratio)
    return (
        SYSTEM_WORDS[row.system],
        number_text(row.number),
        figure(row.diameter_mm),
        figure(row.diameter_in),
        nearest,
        change,
        ABSENT if row.strength is None else f"{row.strength.low_mpa:.0f} to {row.strength.high_mpa:.0f}",
        figure(row.breaking_load_n),
    )
