"""What a sheet says of the unisons: what beats, what is uneven, how far strings are apart where that can be told."""

from __future__ import annotations

from typing import Final

from strikeline.acoustics.listening import Listening, Note
from strikeline.acoustics.unison_result import Unison, UnisonVerdict
from strikeline.reports.chart_layout import Scale
from strikeline.reports.content import Section, SheetChart, Table
from strikeline.reports.figures import ABSENT, NO_BREAK, count, key_ranges, note_name, number, sentence, with_error
from strikeline.reports.keyboard_chart import Mark, Point
from strikeline.reports.plain_chart import FEWEST_TO_DRAW, keyboard_of, mark_only, plain_chart, point, run_labels
from strikeline.reports.unison_words import (
    note_sentence,
    notes_by_verdict,
    rate_only,
    rate_words,
    strongest_beat,
    unison_words,
    unisons_sentence,
    widest_first,
)

_LEGEND: Final = (
    "A full diamond is a note that beats, at the beats per second of its loudest beating partial; an open diamond is "
    "uneven without a whole beat; a dot on the line does not beat; a small square could not be told."
)
_FEWEST_SPREADS: Final = 8
"""Notes with a known spread from which its chart is worth its room."""
_MOST_OTHERS: Final = 3
_MOST_ROWS: Final = 12


def unison_section(listening: Listening, *, break_after: int | None) -> Section | None:
    """Return the section on unisons, ``None`` where none was judged.

    Parameters
    ----------
    listening : Listening
        Of kind pass or note.
    break_after : int or None
        Last key below the break, where it is known.
    """
    notes = listening.best_by_key()
    judged = {key: note.unison for key, note in notes.items() if note.unison is not None}
    if not judged:
        return None
    if len(notes) == 1:
        return _of_one_note(*next(iter(notes.items())))
    found = notes_by_verdict(listening)
    if len(found[UnisonVerdict.CANNOT_TELL]) == len(judged):
        text = "Of no note could it be told. Let each note ring for four seconds, without the pedal, and listen again."
        return Section(name="unisons", heading="Unisons", paragraphs=(text,))
    charts = (_beat_chart(listening, judged, break_after), _spread_chart(listening, judged, break_after))
    table = _table(listening, judged)
    drawn = len(judged) >= FEWEST_TO_DRAW
    return Section(
        name="unisons",
        heading="Unisons",
        note=_LEGEND if drawn else "",
        charts=tuple(chart for chart in charts if chart is not None) if drawn else (),
        paragraphs=_lead(listening, is_drawn=drawn),
        tables=(table,) if table.rows else (),
        after=_after(judged, found),
    )


def _lead(listening: Listening, *, is_drawn: bool) -> tuple[str, ...]:
    """Return what stands above the table."""
    lead = () if is_drawn else tuple(filter(None, [unisons_sentence(listening)]))
    n_beating = len(widest_first(listening))
    if n_beating > _MOST_ROWS:
        which = f"The {_MOST_ROWS} of {n_beating} that beat widest, by their strings or else by their beat"
        lead += (f"{which}; the last table has all notes.",)
    return lead


def _beat_chart(listening: Listening, judged: dict[int, Unison], break_after: int | None) -> SheetChart:
    points: list[Point] = []
    rates: dict[int, float] = {}
    for key, unison in judged.items():
        beat = strongest_beat(unison)
        if unison.verdict is UnisonVerdict.BEATING and beat is not None:
            points.append(point(key, beat.rate_hz, Mark.STANDS_OUT, lowest=0.0))
            rates[key] = beat.rate_hz.value
        elif unison.verdict is UnisonVerdict.UNEVEN:
            points.append(mark_only(key, 0.0, Mark.HINT))
        elif unison.verdict is UnisonVerdict.LOCKED:
            points.append(mark_only(key, 0.0, Mark.EVEN))
    n_locked = sum(unison.verdict is UnisonVerdict.LOCKED for unison in judged.values())
    n_uneven = sum(unison.verdict is UnisonVerdict.UNEVEN for unison in judged.values())
    span = f", from {min(rates.values()):.2f} to {max(rates.values()):.1f} per second" if rates else ""
    words = {key: f"beats {rate_only(judged[key])}" for key in widest_first(listening)[:3]}
    return plain_chart(
        name="beats",
        title="Beats",
        finding=unisons_sentence(listening) or "",
        shows=f"Chart of beats per second: {count(len(rates), 'note')} beating{span}, {n_uneven} uneven, "
        f"{n_locked} without a beat.",
        axis_title="beats per second",
        keys=keyboard_of(listening),
        points=points,
        scale=Scale.ROOT,
        labels=run_labels(words, plural={word: word.replace("beats", "beat") for word in words.values()}),
        untold=_untold(listening),
        break_after=break_after,
        table=Table(
            head=("Note", "Verdict", "Strings apart (cents)"),
            rows=tuple((note_name(key), unison_words(one), _spread(one)) for key, one in judged.items()),
        ),
    )


def _spread_chart(listening: Listening, judged: dict[int, Unison], break_after: int | None) -> SheetChart | None:
    known = {key: one.spread_cents for key, one in judged.items() if one.spread_cents is not None}
    if len(known) < _FEWEST_SPREADS:
        return None
    widest = sorted(known, key=lambda key: -known[key].value)[:3]
    values = [spread.value for spread in known.values()]
    named = ", ".join(f"{note_name(key)} {number(known[key].value, places=1)}" for key in widest)
    return plain_chart(
        name="spread",
        title="Strings apart",
        finding=f"Strings apart: told for {count(len(known), 'note')}; widest {named}{NO_BREAK}cents.",
        shows=f"Chart of how far the strings of a note are apart, in cents, for {len(known)} notes: "
        f"{min(values):.1f} to {max(values):.1f}.",
        axis_title="cents",
        keys=keyboard_of(listening),
        points=[point(key, spread, Mark.EVEN, lowest=0.0) for key, spread in known.items()],
        scale=Scale.ROOT,
        break_after=break_after,
        caption="Highest over lowest string. Notes without a dot: their strings cannot be told apart here.",
        table=Table(
            head=("Note", "Strings apart (cents)", "Strings (Hz)"),
            rows=tuple((note_name(key), _spread(judged[key]), _strings(judged[key])) for key in known),
        ),
    )


def _table(listening: Listening, judged: dict[int, Unison]) -> Table:
    """Return the notes that beat widest."""
    rows = []
    for key in widest_first(listening)[:_MOST_ROWS]:
        unison = judged[key]
        beat = strongest_beat(unison)
        if beat is None:
            continue
        others = sorted(unison.beats[1 : 1 + _MOST_OTHERS], key=lambda other: other.partial)
        rows.append(
            (
                note_name(key),
                rate_words(beat),
                str(beat.partial),
                f"{beat.depth_db:.0f}{NO_BREAK}dB",
                ", ".join(f"{other.partial}: {number(other.rate_hz.value, places=2)}" for other in others) or ABSENT,
                _spread(unison),
            )
        )
    return Table(
        head=("Note", "Beats", "In partial", "Depth", "Other partials (beats /s)", "Strings apart (cents)"),
        rows=tuple(rows),
        caption="Notes that beat, the widest first",
        style="words compact",
        widths=("auto", "auto", "auto", "auto", "2fr", "1fr"),
    )


def _after(judged: dict[int, Unison], found: dict[UnisonVerdict, dict[int, Unison]]) -> tuple[str, ...]:
    """Return what the table does not hold: the uneven, the untold, and on what a separation into strings rests."""
    texts = []
    if found[UnisonVerdict.UNEVEN]:
        texts.append(f"Uneven without a whole beat: {key_ranges(found[UnisonVerdict.UNEVEN])}.")
    if found[UnisonVerdict.CANNOT_TELL]:
        texts.append(f"Could not be told: {key_ranges(found[UnisonVerdict.CANNOT_TELL])}; why is written below.")
    # How many partials agree differs from note to note; what the separation takes for granted does not.
    assumed = dict.fromkeys(one.rests_on.split("; ", 1)[-1] for one in judged.values() if one.rests_on)
    texts += [sentence(f"The strings of a note are told apart taking them as {text}") for text in assumed]
    return tuple(texts)


def _of_one_note(key: int, note: Note) -> Section:
    """Return the section of a single note: the verdict, and what sounds in each partial."""
    rows = [
        (
            str(partial.n) if number_of_mode == 0 else "",
            with_error(mode.f_hz, max_places=3),
            with_error(mode.decay_db_per_s, max_places=1),
            number(mode.level_db, places=1),
        )
        for partial in note.partials
        for number_of_mode, mode in enumerate(partial.modes)
    ]
    unison = note.unison
    texts = [f"{note_name(key)}: {note_sentence(note)}"]
    if unison is not None and unison.string_f0_hz is not None:
        apart = f", {_spread(unison)}{NO_BREAK}cents apart" if unison.spread_cents is not None else ""
        texts.append(f"Its strings: {_strings(unison)}{NO_BREAK}Hz{apart}.")
        if unison.rests_on:
            texts.append(sentence(f"This rests on: {unison.rests_on}"))
    return Section(
        name="unisons",
        heading="Unison",
        paragraphs=tuple(texts),
        tables=(
            Table(
                head=("Partial", "What sounds (Hz)", "Falls (dB/s)", "Level (dB)"),
                rows=tuple(rows),
                caption="What sounds in each partial",
                style="numbers",
            ),
        )
        if rows
        else (),
    )


def _spread(unison: Unison) -> str:
    return with_error(unison.spread_cents, max_places=2)


def _strings(unison: Unison) -> str:
    return ", ".join(with_error(f0_hz, max_places=3) for f0_hz in unison.string_f0_hz or ()) or ABSENT


def _untold(listening: Listening) -> list[int]:
    silent = set(listening.recording.missing_keys)
    for key, note in listening.best_by_key().items():
        if note.unison is None or note.unison.verdict is UnisonVerdict.CANNOT_TELL:
            silent.add(key)
    return sorted(silent)
