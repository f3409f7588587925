"""A pitch raise as a ledger of plain text: how far off, what each choice costs, the next pass, and what may break."""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median
from typing import TYPE_CHECKING, Final

from strikeline.cli.cautions import caution_lines
from strikeline.cli.fitted_rows import fitted, gathered
from strikeline.cli.plain_text import bulleted, figure, plain, typed, wrapped
from strikeline.measured import Measured
from strikeline.reports.figures import ABSENT, count, listed, number

if TYPE_CHECKING:
    from strikeline.workshop.pitch_result import Decision, FirstPass, Give, NotePlan, PassAhead, Pitch
    from strikeline.workshop.pitch_scale import ScaleFit


_FEWEST_IN_RUN: Final = 3
_KN: Final = 1e-3


def pitch_table(pitch: Pitch, *, width: int | None, with_notes: bool = False) -> str:
    """Return a plan of a pitch raise as text.

    Parameters
    ----------
    pitch : Pitch
        The result to print.
    width : int or None
        Columns of the terminal; ``None`` to break no line.
    with_notes : bool
        Whether to print every note of the next pass.
    """
    lines = [wrapped(_heading(pitch), width), "", *_sections(pitch, width), ""]
    if pitch.first_pass is not None:
        lines += [wrapped(_first_pass(pitch.first_pass), width), ""]
    lines += ["The choice:", *_decisions(pitch.decisions, width), wrapped(_why_other(pitch), width)]
    lines += [wrapped(text, width, bullet="- ") for text in _risks(pitch.decisions)]
    if pitch.look_first is not None:
        lines += ["", wrapped(f"{pitch.look_first}.", width)]
    lines += ["", f"The passes to {pitch.a4_hz:g} Hz, as expected:", *_passes(pitch.passes, width), ""]
    lines += [wrapped(f"The next pass ({pitch.passes[0].why}), cents above the target to set:", width)]
    lines += [*_next_pass(pitch.notes, width), wrapped(_how(pitch), width), "", wrapped(_give(pitch.give), width)]
    if pitch.scale_fit is not None:
        lines += ["", wrapped(_fit(pitch.scale_fit), width)]
    if pitch.load_now_n is not None:
        lines += ["", wrapped(_strain(pitch), width)]
    if with_notes:
        lines += ["", *_notes(pitch.notes, width)]
    lines += bulleted("Besides:", pitch.advice, width)
    lines += bulleted("Warnings:", pitch.warnings, width)
    lines += bulleted("Could not be told:", gathered(pitch.cannot_tell), width)
    lines += caution_lines(pitch.cautions, width)
    return typed("\n".join(lines))


def _signed(value: float, places: int = 1) -> str:
    return plain(number(value, places=places, plus=True))


def _run(first: str, last: str) -> str:
    return first if first == last else f"{first}-{last}"


def _heading(pitch: Pitch) -> str:
    side = "below" if pitch.level_cents.value < 0 else "above"
    size = figure(Measured(abs(pitch.level_cents.value), pitch.level_cents.se))
    age = "year unknown" if pitch.year is None else str(pitch.year)
    wire = "old wire" if pitch.is_old_wire else "modern wire"
    return (
        f"The middle of the piano, {pitch.level_over}, stands {size} cents {side} A4 = {pitch.a4_hz:g} Hz, as if A4 "
        f"were {figure(pitch.a4_now_hz)} Hz. Strings: {age}, treated as {wire}."
    )


def _sections(pitch: Pitch, width: int | None) -> list[str]:
    rows = [["section", "notes", "to move, cents", "smallest", "largest"]]
    for one in pitch.sections:
        offset = one.offset
        cells = (
            [ABSENT] * 3
            if offset is None
            else [
                figure(offset.cents, plus=True),
                _signed(offset.low_cents),
                _signed(offset.high_cents),
            ]
        )
        rows.append([one.section, _run(one.first, one.last), *cells])
    return fitted(rows, width, least_first=("smallest", "largest", "notes"))


def _first_pass(first: FirstPass) -> str:
    gone = (
        f"The first pass: {first.n_notes} notes had {figure(first.before.cents, plus=True)} cents to go (median), "
        f"and have {figure(first.after.cents, plus=True)} now."
    )
    if not first.is_shown:
        return (
            f"{gone} How the piano gives cannot be told: the first pass does not show in this recording. What follows "
            "is planned from where it stands now, by common practice."
        )
    return f"{gone} Common practice would have expected {_signed(-first.expected_middle_cents)}."


def _decisions(decisions: Sequence[Decision], width: int | None) -> list[str]:
    with_load = any(one.load_change_n is not None for one in decisions)
    rows = [
        [
            "choice",
            "cents to move",
            "from … to",
            "tension",
            *(["load kN"] if with_load else []),
            "passes",
            "risk of breaking",
        ]
    ]
    for one in decisions:
        load = [figure(one.load_change_n, factor=_KN, plus=True)] if with_load else []
        rows.append(
            [
                one.name,
                figure(one.move.cents, plus=True),
                f"{_signed(one.move.low_cents)} … {_signed(one.move.high_cents)}",
                f"{figure(one.tension_change_pct, plus=True)} %",
                *load,
                "more than six" if one.n_passes is None else str(one.n_passes),
                one.risk.risk.value,
            ]
        )
    return fitted(rows, width, least_first=("from … to", "load kN", "tension"))


def _why_other(pitch: Pitch) -> str:
    level = plain(number(abs(pitch.level_cents.value), places=1))
    return (
        "cents to move: the middle of the moves of all notes, bass and treble included, each to a stretched target of "
        f"its own. So it need not be the {level} cents of {pitch.level_over}, and single notes move where the pitch "
        "stays. tension: of all strings together."
    )


def _risks(decisions: Sequence[Decision]) -> list[str]:
    return [f"{one.name}, risk {one.risk.risk.value}: {'; '.join(one.risk.reasons)}." for one in decisions]


def _passes(passes: Sequence[PassAhead], width: int | None) -> list[str]:
    rows = [["pass", "before", "set above target", "after", "nine in ten within", "how"]]
    rows += [
        [
            str(one.number),
            _signed(one.middle_start_cents),
            _signed(one.middle_overpull_cents),
            _signed(one.middle_end_cents),
            plain(number(one.largest_end_cents, places=1)),
            one.why,
        ]
        for one in passes
    ]
    return fitted(rows, width, least_first=("nine in ten within", "before", "how"))


def _next_pass(notes: Sequence[NotePlan], width: int | None) -> list[str]:
    """Return a line for each run of about six notes of a section, as a tuner would set it."""
    rows = [["notes", "section", "now", "set above target", "expected after", "tension"]]
    for run in _runs(notes):
        now = [note.now_cents.value for note in run if note.now_cents is not None]
        middle = run[len(run) // 2]
        rows.append(
            [
                _run(run[0].note, run[-1].note),
                run[0].section,
                _signed(median(now)) if now else ABSENT,
                _signed(median(note.overpull_cents for note in run))
                + (" (capped)" if any(note.is_capped for note in run) else ""),
                figure(middle.expected_cents, plus=True),
                f"{_signed(median(note.tension_change_pct for note in run))} %",
            ]
        )
    return fitted(rows, width, least_first=("tension", "section", "now"))


def _runs(notes: Sequence[NotePlan]) -> list[list[NotePlan]]:
    runs: list[list[NotePlan]] = []
    for note in notes:
        is_turn = note.note.rstrip("0123456789") in {"C", "F#"} and len(runs[-1]) >= _FEWEST_IN_RUN if runs else True
        if is_turn or runs[-1][0].section != note.section:
            runs.append([])
        runs[-1].append(note)
    return runs


def _notes(notes: Sequence[NotePlan], width: int | None) -> list[str]:
    rows = [
        [
            "note",
            "now",
            "set above target",
            "first partial Hz",
            "expected after",
            "tension",
            "breaking share %, at most",
        ]
    ]
    rows += [
        [
            note.note,
            figure(note.now_cents, plus=True),
            _signed(note.overpull_cents) + (" (capped)" if note.is_capped else ""),
            plain(number(note.set_first_partial_hz, places=2)),
            figure(note.expected_cents, plus=True),
            f"{_signed(note.tension_change_pct)} %",
            figure(note.breaking_share_at_most, factor=100),
        ]
        for note in notes
    ]
    return fitted(rows, width, least_first=("tension", "breaking share %, at most", "first partial Hz", "now"))


def _how(pitch: Pitch) -> str:
    way = "from the bass up" if pitch.order == "up" else "from the treble down"
    alike = "; without a scale every note is taken to pull the same" if pitch.load_now_n is None else ""
    return (
        f"now and after: cents from the target, − flat. Notes are tuned {way}. The ± of single notes is what one note "
        f"may stray; set by section, as the row says. tension: from now to target{alike}. --notes prints every note."
    )


def _give(give: Give) -> str:
    settling, shared = (_range(one) for one in (give.settling, give.shared))
    local = listed([f"{_range(one)} {bridge}" for bridge, one in give.local.items()])
    lost = figure(give.lost_share, factor=100.0)
    return (
        f"How the piano gives, from {give.rests_on}: raised alike, a note has lost {lost} % of its pull when the pass "
        f"is done. Per cent of a pull: settling {settling}, shared by all {shared}, from neighbours {local} (in "
        f"brackets: 95 cases of 100). Single notes stray by {plain(number(give.scatter_cents, places=1))} cents."
    )


def _range(one: tuple[float, float, float]) -> str:
    value, low, high = (plain(number(100.0 * part, places=0)) for part in one)
    return f"{value} ({low} to {high})"


def _fit(fit: ScaleFit) -> str:
    """Return whether the scale is that of this piano, above what follows from it."""
    compared = f"{fit.n_beyond} of the {fit.n_compared} notes compared"
    if fit.fit == "cannot tell":
        return (
            f"Whether the scale is that of this piano cannot be told: B of {count(fit.n_compared, 'note')} of it was "
            "heard, which is too few."
        )
    if fit.fit == "fits":
        return f"B heard fits this scale on all {fit.n_compared} notes compared."
    places = listed([f"{_run(first, last)} {figure(one, plus=True)} %" for first, last, one in fit.places])
    if fit.fit == "does not fit":
        return (
            f"B heard does not fit this scale: {compared} differ by more than all uncertainties ({places}). Are these "
            "the dimensions of this piano? Load and breaking margins below are those of the table, and the risk does "
            "not rest on them. strikeline scale --listening says what may be meant."
        )
    return (
        f"B heard fits this scale but for {compared}: {places}. Measure these strings again before their margins are "
        "relied on; strikeline scale --listening says what may be meant."
    )


def _strain(pitch: Pitch) -> str:
    by_name = {note.note: note for note in pitch.notes}
    parts = [
        f"{name} {figure(by_name[name].breaking_share_at_most, factor=100)} %"
        for name in pitch.strained
        if by_name[name].breaking_share_at_most is not None
    ]
    near = f" Nearest to breaking at the overpull: {listed(parts)} of the breaking load." if parts else ""
    return f"Load of all strings now: {figure(pitch.load_now_n, factor=_KN)} kN.{near}"
