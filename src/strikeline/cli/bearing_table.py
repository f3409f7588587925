"""Bearing and crown as plain text: note by note, bridge by bridge, rib by rib, and what it may mean."""

from __future__ import annotations

from typing import Final

from strikeline.cli.cautions import caution_lines
from strikeline.cli.fitted_rows import fitted
from strikeline.cli.plain_text import aligned, bulleted, figure, typed, wrapped
from strikeline.cli.read_again_words import read_again_lines
from strikeline.physics.bearing import Sign
from strikeline.physics.crown import CrownSign
from strikeline.reports.figures import count, key_range, key_ranges, note_name
from strikeline.workshop.bearing import ONE_BRIDGE, BearingReport, BridgeBearing

_HEAD: Final = (
    "note",
    "bridge",
    "front °",
    "back °",
    "bend °",
    "it is",
    "front N",
    "back N",
    "each string N",
    "pins N",
)
_LEAST_NEEDED: Final = ("pins N", "front N", "back N", "bridge", "each string N", "front °", "back °")


def bearing_table(report: BearingReport, *, width: int | None) -> str:
    """Return a report of bearing as text.

    Parameters
    ----------
    report : BearingReport
        The result to print.
    width : int or None
        Columns of the terminal; ``None`` breaks no line and leaves no column out.
    """
    sentences = [_summary(report), *(_load(bridge) for bridge in report.bridges), _context(report), report.tone_first]
    if report.ribs:
        sentences.insert(-1, _crown(report))
    lines = [*_notes(report, width), *_ribs(report), ""]
    lines += [wrapped(sentence, width) for sentence in sentences]
    lines += read_again_lines(report.read_again, width)
    lines += bulleted("Left out:", report.left_out, width)
    lines += bulleted("How sure the readings are:", [_errors(report)], width)
    return typed("\n".join([*lines, *caution_lines(("string_tension",), width)]))


def _notes(report: BearingReport, width: int | None) -> list[str]:
    """Return one line a note; columns that no note fills are left out."""
    rows = [
        (
            note_name(note.key),
            "" if note.bridge == ONE_BRIDGE else note.bridge,
            *(figure(one) for one in (b.front_deg, b.back_deg, b.total_deg)),
            b.total_sign.value,
            *(figure(one) for one in (b.front_n, b.back_n, b.total_n, b.side_n)),
        )
        for note in report.notes
        for b in (note.bearing,)
    ]
    kept = [i for i in range(len(_HEAD)) if any(row[i] not in {"", figure(None)} for row in rows)]
    return fitted([[row[i] for i in kept] for row in (_HEAD, *rows)], width, least_first=_LEAST_NEEDED)


def _ribs(report: BearingReport) -> list[str]:
    if not report.ribs:
        return []
    rows = [
        (one.rib, figure(one.crown.crown_mm), figure(one.crown.radius_m), one.crown.sign.value) for one in report.ribs
    ]
    return ["", *aligned([("rib", "crown mm", "radius m", "it is"), *rows])]


def _summary(report: BearingReport) -> str:
    """Return where bearing is positive, where negative, and where the reading leaves it open."""
    parts = []
    for sign, words in (
        (Sign.POSITIVE, "positive"),
        (Sign.NONE_TOLD, "none beyond the reading"),
        (Sign.NEGATIVE, "negative"),
    ):
        keys = [note.key for note in report.notes if note.bearing.total_sign is sign]
        if keys:
            parts.append(f"{words} on {count(len(keys), 'note')} ({key_ranges(keys)})")
    return f"Downbearing is {'; '.join(parts)}."


def _load(bridge: BridgeBearing) -> str:
    load = bridge.load
    name = "The bridge" if bridge.name == ONE_BRIDGE else f"The {bridge.name} bridge"
    where = key_range(load.first_key, load.last_key)
    if load.force_n is None:
        return f"{name}, {where}: the load cannot be told: {load.cannot_tell}."
    between = f", {count(load.n_between, 'note')} of them guessed from their neighbours" if load.n_between else ""
    return f"{name} carries {figure(load.force_n)} N from {where}, {load.n_strings} strings{between}."


def _context(report: BearingReport) -> str:
    low, high = report.set_by_rebuilders_deg
    return (
        f"For comparison: rebuilders set about {low:g}° in bass and low tenor to {high:g}° in the treble (technicians' "
        "mailing-list archive, 2001-06)."
    )


def _crown(report: BearingReport) -> str:
    """Return how many ribs are crowned, flat or hollow."""
    parts = []
    for sign in CrownSign:
        ribs = [one.rib for one in report.ribs if one.crown.sign is sign]
        if ribs:
            parts.append(f"{sign.value} at {count(len(ribs), 'rib')} ({', '.join(ribs)})")
    return f"The board is {'; '.join(parts)}."


def _errors(report: BearingReport) -> str:
    one = report.errors
    return (
        f"Where no ± was written: heights and gaps ±{one.height_mm:g} mm, lengths ±{one.length_mm:g} mm, angles "
        f"±{one.angle_deg:g}°, tensions ±{100 * one.tension_ratio:g} % (our reasoning). Each ± holds the truth in 95 "
        "cases of 100; behind the bridge the tension may differ by ±9 % from the speaking length's."
    )
