"""The sheet of a pass over the keyboard, or of one note: evenness first, then what else was heard."""

from __future__ import annotations

from typing import Final

from strikeline.acoustics.evenness import Evenness, Standout, Sureness, judge_evenness
from strikeline.acoustics.evenness_fit import MIN_NOTES
from strikeline.acoustics.listening import Kind, Listening, Note
from strikeline.acoustics.pass_judgement import PassJudgement
from strikeline.acoustics.unison_result import UnisonVerdict
from strikeline.reports.content import Section, Table
from strikeline.reports.decay_chart import decay_chart
from strikeline.reports.figures import ABSENT, count, key_range, note_name, with_error
from strikeline.reports.frame import SheetParts
from strikeline.reports.recorded import recording_facts, recording_provenance, recording_warnings
from strikeline.reports.scale_section import heard_step_sentence, scale_section
from strikeline.reports.sheet_charts import LOOKS, is_worth_drawing, legend, sheet_chart
from strikeline.reports.sheet_texts import DEFINITIONS
from strikeline.reports.toning_section import toning_section
from strikeline.reports.unison_section import unison_section
from strikeline.reports.unison_words import rate_only, unison_word, unisons_sentence
from strikeline.reports.untold import Untold, gather_untold
from strikeline.reports.words import (
    NOTHING_STANDS_OUT,
    areas_sentence,
    heard_sentence,
    how_far,
    pitch_level_sentence,
    scatter_sentence,
    standout_sentence,
    standout_word,
    standouts_sentence,
)

_SUBTITLES: Final = {
    Kind.PASS: "Condition sheet from one recorded pass over the keyboard",
    Kind.NOTE: "Condition sheet from one recorded note",
}
_ANNEX_NOTE: Final = (
    "± holds the truth in 95 cases of 100; – could not be told. f0 is that of the stiff-string law; pitch is that "
    "of the first partial."
)
_TOLD_WHERE_THE_TONE_LETS: Final = frozenset({"knock", "single strings"})
"""What is untold for many notes of any good recording: listed with the rest, but not news for the first page."""
FEWEST_TO_DRAW: Final = 3
"""Notes from which a chart is worth its room."""


def pass_parts(listening: Listening, judgement: PassJudgement | None) -> SheetParts:
    """Return what the sheet of a pass, or of one note, says.

    Parameters
    ----------
    listening : Listening
        Of kind pass or note, any number of notes.
    judgement : PassJudgement or None
        Of the pass, from `strikeline.acoustics.pass_judgement.judge_pass`; ``None`` of a note.
    """
    evenness = judge_evenness(listening) if judgement is None else judgement.evenness
    untold = gather_untold(listening)
    break_after = None if evenness.scale_break is None else evenness.scale_break.after_key
    sections = (
        _keyboard(listening, evenness, break_after=break_after),
        unison_section(listening, break_after=break_after),
        _standing_out(evenness),
        scale_section(evenness),
        None if judgement is None else toning_section(judgement.toning, evenness),
    )
    return SheetParts(
        subtitle=_SUBTITLES[listening.recording.kind],
        facts=recording_facts(listening),
        warnings=recording_warnings(listening.recording),
        in_short=_in_short(listening, evenness, untold),
        sections=tuple(section for section in sections if section is not None),
        untold=untold,
        no_untold="Everything this sheet shows could be told for every note heard.",
        definitions=DEFINITIONS,
        provenance=recording_provenance(listening.recording),
        annex=_annex(listening),
        annex_note=_ANNEX_NOTE,
    )


def _keyboard(listening: Listening, evenness: Evenness, *, break_after: int | None) -> Section | None:
    """Return the charts of the judged quantities, and of the two stages of the decay."""
    if len(listening.best_by_key()) < FEWEST_TO_DRAW:
        return None
    drawn = [look for look in LOOKS if is_worth_drawing(listening, evenness, look)]
    judged = [sheet_chart(listening, evenness, look) for look in drawn]
    return Section(
        name="keyboard",
        heading="Over the keyboard",
        note=legend(evenness),
        charts=tuple(filter(None, (*judged, decay_chart(listening, break_after=break_after)))),
    )


def _standing_out(evenness: Evenness) -> Section:
    table = Table(
        head=("Notes", "What", "How far", "How sure"),
        rows=tuple(_standout_row(standout) for standout in evenness.standouts),
        caption="What stands out, the surest first",
        widths=("auto", "1fr", "auto", "auto"),
    )
    return Section(
        name="standing-out",
        heading="What stands out",
        paragraphs=() if table.rows else (_no_standouts(evenness),),
        tables=(table,) if table.rows else (),
        after=tuple(filter(None, (areas_sentence(evenness), scatter_sentence(evenness)))),
    )


def _in_short(listening: Listening, evenness: Evenness, untold: tuple[Untold, ...]) -> tuple[str, ...]:
    """Return three to six sentences an owner understands."""
    short = [heard_sentence(listening)]
    if evenness.pitch_level is not None:
        a4_hz = listening.recording.reference_a4_hz
        short.append(pitch_level_sentence(evenness.pitch_level, a4_hz=a4_hz))
    if any(one.notes for one in evenness.quantities):
        short.append(standouts_sentence(evenness.standouts))
        clear = [standout for standout in evenness.standouts if standout.sureness is not Sureness.HINT]
        step = heard_step_sentence(evenness)
        short += [step] if step else [f"Next: {standout_sentence(standout)}" for standout in clear[1:2]]
    elif listening.best_by_key():
        short.append(_no_standouts(evenness))
    short += filter(None, [unisons_sentence(listening)])
    untold = tuple(one for one in untold if one.what not in _TOLD_WHERE_THE_TONE_LETS)
    n_untold = sum(one.n_notes for one in untold)
    if n_untold and listening.notes:
        short.append(_untold_sentence(untold, n_untold))
    return tuple(short)


def _untold_sentence(untold: tuple[Untold, ...], n_untold: int) -> str:
    """Say how much is missing, and name it where it is all of one kind."""
    kinds = {one.what for one in untold}
    if len(kinds) == 1 and (only := kinds.pop()) != "everything":
        return f"The {only} of {count(n_untold, 'note')} could not be told; why is written below."
    return f"{count(n_untold, 'value').capitalize()} could not be told; why is written below."


def _no_standouts(evenness: Evenness) -> str:
    if any(one.notes for one in evenness.quantities):
        return NOTHING_STANDS_OUT
    return f"Too few notes to compare each with its neighbours: at least {MIN_NOTES} are needed."


def _standout_row(standout: Standout) -> tuple[str, str, str, str]:
    what = f"{standout_word(standout)} than the neighbours"
    return (key_range(standout.first_key, standout.last_key), what, how_far(standout), str(standout.sureness))


def _annex(listening: Listening) -> Table:
    head = (
        "Note",
        "f0 (Hz)",
        "Pitch (cents)",
        "Unison",
        "B × 10 000",
        "Brightness",
        "Sings (s)",
        "Sustain (dB/s)",
        "Level (dB)",
        "Knock (dB)",
    )
    return Table(head=head, rows=tuple(_annex_row(key, note) for key, note in listening.best_by_key().items()))


def _unison_cell(note: Note) -> str:
    rate = rate_only(note.unison) if note.unison is not None and note.unison.verdict is UnisonVerdict.BEATING else ""
    return f"{unison_word(note.unison)} {rate}".strip() or ABSENT


def _annex_row(key: int, note: Note) -> tuple[str, ...]:
    return (
        note_name(key),
        with_error(note.f0_hz, max_places=3),
        with_error(note.pitch_cents, plus=True, max_places=2),
        _unison_cell(note),
        with_error(note.inharmonicity_b, factor=1e4, max_places=3),
        with_error(note.brightness, plus=True, max_places=2),
        with_error(note.singing_s, max_places=2),
        with_error(note.sustain_db_per_s, max_places=2),
        with_error(note.level_db, max_places=1),
        with_error(note.knock_db, max_places=1),
    )
