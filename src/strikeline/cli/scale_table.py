"""A scale as a ledger of plain text: strings, load, jumps, weak points, a proposal, and what the sound says."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from strikeline.cli.cautions import HEADING
from strikeline.cli.fitted_rows import fitted
from strikeline.cli.plain_text import aligned, bulleted, figure, typed, wrapped
from strikeline.measured import Measured
from strikeline.physics.scale_jumps import JumpKind
from strikeline.reports.figures import ABSENT, count, key_range, key_ranges, note_name, number, sentence, with_error
from strikeline.reports.scale_words import (
    CAUTION,
    PROPOSAL_CAUTION,
    disagreement_sentence,
    gauge_words,
    hearing_sentence,
    jump_place,
    jumps_sentence,
    load_error_sentence,
    load_sentence,
    meaning_words,
    proposal_sentence,
    stands_out,
    step_words,
    to_do_sentences,
    weak_sentences,
)

if TYPE_CHECKING:
    from strikeline.physics.scale import ScaleNote
    from strikeline.workshop.scale import ScaleReport

_SHARE: Final = "breaking share %"
_HEAD: Final = ("note", "str.", "length mm", "wire mm", "wrap mm", "tension N", _SHARE, "B ×10⁻⁴", "Z kg/s")
_LEAST_NEEDED: Final = ("Z kg/s", "wrap mm", "str.", "B ×10⁻⁴", "length mm")
_LEGEND: Final = (
    "± holds the truth in 95 cases of 100. tension: of one string. breaking share: tension over breaking load. B: "
    "inharmonicity from the dimensions. Z: impedance of one string. ~ stands before what was filled from the section, "
    "not measured."
)
_JUMP_HEAD: Final = ("between", "what", "wire mm", "tension %", "B %", "impedance %", "breaking share, points")
_LEAST_OF_JUMPS: Final = ("wire mm", "impedance %", "what", "breaking share, points", "tension %")
_CHANGE_HEAD: Final = ("note", "wire mm", "new wire", "strings", "tension N", _SHARE)
_LEAST_OF_CHANGES: Final = ("strings", "tension N")
_FEWEST_TO_SMOOTH: Final = 3
_JUMP_LEGEND: Final = (
    "How far each steps going up, beyond the line through its neighbours; ! is more than they scatter."
)


def scale_table(report: ScaleReport, *, width: int | None) -> str:
    """Return a scale as text: what matters first, then every note and what stands behind it.

    Parameters
    ----------
    report : ScaleReport
        The result to print.
    width : int or None
        Columns of the terminal; ``None`` breaks no line and leaves no column out.
    """
    load = report.state.load
    lines = [wrapped(_heading(report), width), "", wrapped(load_sentence(load), width)]
    lines += bulleted("Weak points:", weak_sentences(report.weak), width) or ["", "No weak point was found."]
    to_do = to_do_sentences(report.weak, proposal=report.proposal, hearing=report.hearing)
    lines += bulleted("What to do:", to_do, width)
    lines += ["", *_notes(report.state.notes, width), "", wrapped(_LEGEND, width)]
    lines += ["", wrapped(load_error_sentence(load), width)] if load.n_notes > 1 else []
    lines += _by_section(report)
    lines += _jumps(report, width)
    lines += _proposal(report, width)
    lines += _hearing(report, width)
    lines += bulleted("To know:", [sentence(one) for one in report.notices], width)
    lines += bulleted("Could not be told:", _untold(report), width)
    lines += bulleted(HEADING, (CAUTION,), width)
    return typed("\n".join(lines))


def _heading(report: ScaleReport) -> str:
    notes, choices = report.state.notes, report.choices
    filled = [note for note in notes if note.row.filled]
    parts = [f"{count(len(notes), 'note')}, {key_range(notes[0].key, notes[-1].key)}"]
    if filled:
        parts.append(f"{count(len(filled), 'of them', 'of them')} wholly or partly filled from their section")
    pitch = "at the pitch heard" if report.is_pitch_heard else f"in equal temperament at A4 = {choices.a4_hz:g} Hz"
    parts += [pitch, f"wire taken as {choices.grade.value}"]
    if report.break_after is not None:
        found = " (found from the lengths)" if report.is_break_found else ""
        parts.append(f"break above {note_name(report.break_after)}{found}")
    return sentence("; ".join(parts))


def _notes(notes: Sequence[ScaleNote], width: int | None) -> list[str]:
    """Return one line a note, with a line that names each section."""
    rows: list[Sequence[str]] = [_HEAD]
    heads: dict[int, str] = {}
    section = None
    for note in notes:
        if note.row.section != section:
            section = note.row.section
            heads[len(rows)] = str(section)
        rows.append(_row(note))
    lines = fitted(rows, width, least_first=_LEAST_NEEDED)
    return [
        text
        for place, line in enumerate(lines)
        for text in ([f"  {heads[place]}", line] if heads.get(place) else [line])
    ]


def _row(note: ScaleNote) -> tuple[str, ...]:
    row, state = note.row, note.state
    dimensions = row.dimensions
    about = {name: "~" if name in row.filled else "" for name in ("length", "diameter", "winding", "strings")}
    wraps = "+".join(number(one.wrap_diameter_mm.value, places=2) for one in dimensions.windings)
    return (
        note_name(row.key),
        f"{about['strings']}{row.n_strings}",
        f"{about['length']}{_short(dimensions.length_mm, 1)}",
        f"{about['diameter']}{_short(dimensions.core_diameter_mm, 3)}",
        f"{about['winding']}{wraps}" if wraps else "",
        figure(state.tension_n),
        ABSENT if state.breaking_share is None else figure(state.breaking_share, factor=100.0),
        figure(state.inharmonicity_b, factor=1e4),
        figure(state.impedance_kg_per_s),
    )


def _short(one: Measured, places: int) -> str:
    return with_error(one, max_places=places)


def _by_section(report: ScaleReport) -> list[str]:
    loads = report.state.load_by_section
    if len(loads) < 2:
        return []
    rows = [
        (f"  {name}", count(load.n_strings, "string"), f"{figure(load.tension_n, factor=1e-3)} kN")
        for name, load in loads.items()
    ]
    return aligned(rows)


def _jumps(report: ScaleReport, width: int | None) -> list[str]:
    shown = [
        jump for jump in report.jumps if jump.why_not is None and (stands_out(jump) or jump.kind is not JumpKind.GAUGE)
    ]
    lines = ["", "Where the scale jumps:"]
    if shown:
        rows = [
            (
                jump_place(jump),
                jump.kind.value,
                " to ".join(number(one, places=2) for one in jump.diameter_mm),
                *(step_words(one) for one in (jump.tension, jump.inharmonicity, jump.impedance, jump.breaking_share)),
            )
            for jump in shown
        ]
        table = fitted([_JUMP_HEAD, *rows], width, least_first=_LEAST_OF_JUMPS)
        lines += [*table, wrapped(_JUMP_LEGEND, width)]
    rest = jumps_sentence(report.jumps)
    return [*lines, wrapped(rest, width)] if rest else lines if shown else []


def _proposal(report: ScaleReport, width: int | None) -> list[str]:
    proposal = report.proposal
    if len(proposal.diameters_mm) < _FEWEST_TO_SMOOTH:
        return []
    lines = ["", "A smoother scale within stock sizes, lengths kept:", wrapped(proposal_sentence(proposal), width)]
    if proposal.changes:
        before, after = report.state.by_key(), report.after.by_key()
        rows = [
            (
                note_name(change.key),
                f"{'~' if change.is_filled else ''}{number(change.from_mm, places=3)}",
                gauge_words(change.to),
                str(change.n_strings),
                f"{_plain_n(before[change.key])} to {_plain_n(after[change.key])}",
                f"{_percent(before[change.key])} to {_percent(after[change.key])}",
            )
            for change in proposal.changes
        ]
        moved = (report.after.load.tension_n.value - report.state.load.tension_n.value) / 1000.0
        lines += fitted([_CHANGE_HEAD, *rows], width, least_first=_LEAST_OF_CHANGES)
        if any(change.is_filled for change in proposal.changes):
            lines.append(wrapped("~ was not measured but filled: measure that wire before ordering.", width))
        lines.append(wrapped(f"The load on the frame would change by {number(moved, places=1, plus=True)} kN.", width))
        lines += _trade_off(report)
    return [*lines, wrapped(PROPOSAL_CAUTION, width)]


def _plain_n(note: ScaleNote) -> str:
    return number(note.state.tension_n.value, places=0)


def _percent(note: ScaleNote) -> str:
    share = note.state.breaking_share
    return ABSENT if share is None else number(100.0 * share.value, places=0)


def _trade_off(report: ScaleReport) -> list[str]:
    """Return what fewer and more changes would give, from the original scale on."""
    options, chosen = report.proposal.options, report.proposal.chosen
    places = sorted({0, *range(max(1, chosen - 2), min(chosen + 3, len(options))), len(options) - 1})
    rows = [("changed", "strings", "roughness %", "")]
    rows += [
        (
            "keep the original" if place == 0 else count(len(options[place].changes), "note"),
            "" if place == 0 else str(options[place].n_strings),
            number(options[place].roughness_pct, places=1),
            "proposed" if place == chosen else "",
        )
        for place in places
    ]
    return ["What each number of changes gives at best:", *(f"  {line}" for line in aligned(rows))]


def _hearing(report: ScaleReport, width: int | None) -> list[str]:
    if report.hearing is None:
        return []
    lines = ["", wrapped(hearing_sentence(report.hearing), width)]
    for one in report.hearing.disagreements:
        lines.append(wrapped(disagreement_sentence(one), width))
        lines += [
            wrapped(f"{place}. {meaning_words(each)}", width, bullet="   ")
            for place, each in enumerate(one.meanings, 1)
        ]
    if report.hearing.disagreements:
        lines.append(wrapped("Likeliest first; that order is our reasoning, the string decides.", width))
    return lines


def _untold(report: ScaleReport) -> list[str]:
    by_reason: dict[str, list[int]] = {}
    for key, why in report.cannot_tell:
        by_reason.setdefault(why, []).append(key)
    return [f"{key_ranges(keys)}: {why}" for why, keys in by_reason.items()]
