"""Unisons in words, the same in the table, on the page and in print; never told apart by colour alone."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from strikeline.acoustics.listening import Listening, Note
from strikeline.acoustics.unison_result import Beat, Unison, UnisonVerdict
from strikeline.reports.figures import NO_BREAK, count, key_ranges, listed, note_name, number, with_error
from strikeline.units import cents_from_ratio

UNISON_WORDS: Final = {
    UnisonVerdict.LOCKED: "no beat",
    UnisonVerdict.UNEVEN: "uneven",
    UnisonVerdict.BEATING: "beating",
    UnisonVerdict.CANNOT_TELL: "cannot tell",
}
FALSE_BEAT: Final = "false beat"
_MOST_NAMED: Final = 3


def strongest_beat(unison: Unison) -> Beat | None:
    """Return the beat in the loudest partial that beats, ``None`` if none does."""
    return unison.beats[0] if unison.beats else None


def unison_word(unison: Unison | None) -> str:
    """Return the verdict in a word or two; empty without a unison."""
    if unison is None:
        return ""
    return FALSE_BEAT if unison.is_false_beat else UNISON_WORDS[unison.verdict]


def unison_words(unison: Unison | None) -> str:
    """Return the verdict with the beat that is heard most, such as *beating 0.41 ± 0.02 /s*."""
    is_beat = unison is not None and (unison.is_false_beat or unison.verdict is UnisonVerdict.BEATING)
    beat = strongest_beat(unison) if unison is not None and is_beat else None
    return unison_word(unison) if beat is None else f"{unison_word(unison)} {rate_words(beat)}"


def rate_words(beat: Beat) -> str:
    """Return the rate of a beat, per second."""
    return f"{with_error(beat.rate_hz, max_places=2)}{NO_BREAK}/s"


def width_cents(note: Note) -> float:
    """Return how wide a unison is: its strings apart, or the interval of the beat heard most; 0 without either.

    Beats per second rise with pitch for the same interval; cents compare over the keyboard.
    """
    if note.unison is None:
        return 0.0
    if note.unison.spread_cents is not None:
        return note.unison.spread_cents.value
    beat = strongest_beat(note.unison)
    if beat is None:
        return 0.0
    at_hz = next((partial.f_hz.value for partial in note.partials if partial.n == beat.partial), None)
    return 0.0 if at_hz is None else float(cents_from_ratio(1.0 + beat.rate_hz.value / at_hz))


def widest_first(listening: Listening) -> list[int]:
    """Return the keys that beat, the widest first."""
    notes = listening.best_by_key()
    beating = notes_by_verdict(listening)[UnisonVerdict.BEATING]
    return sorted(beating, key=lambda key: -width_cents(notes[key]))


def notes_by_verdict(listening: Listening) -> dict[UnisonVerdict, dict[int, Unison]]:
    """Return the unisons of all keys under each verdict, in ascending order of keys."""
    found: dict[UnisonVerdict, dict[int, Unison]] = {verdict: {} for verdict in UnisonVerdict}
    for key, note in listening.best_by_key().items():
        if note.unison is not None:
            found[note.unison.verdict][key] = note.unison
    return found


def unisons_sentence(listening: Listening) -> str | None:
    """Return how many unisons beat and which beats most, ``None`` where no unison was judged."""
    found = notes_by_verdict(listening)
    beating, uneven = found[UnisonVerdict.BEATING], found[UnisonVerdict.UNEVEN]
    n_told = sum(len(unisons) for verdict, unisons in found.items() if verdict is not UnisonVerdict.CANNOT_TELL)
    if n_told == 0:
        return None
    if n_told == 1 and len(listening.best_by_key()) == 1:
        return _one_note_sentence(listening)
    if not beating:
        text = f"No note beats among {count(n_told, 'note')} whose unison could be told"
        return f"{text}; {uneven_words(uneven)}." if uneven else f"{text}."
    verb = "beats" if len(beating) == 1 else "beat"
    text = f"{count(len(beating), 'note').capitalize()} of {n_told} {verb}: {_widest_words(listening)}"
    return f"{text}; {uneven_words(uneven)}." if uneven else f"{text}."


def _widest_words(listening: Listening) -> str:
    """Return which notes beat: a few by name, of many the widest."""
    beating, order = notes_by_verdict(listening)[UnisonVerdict.BEATING], widest_first(listening)
    named = [f"{note_name(key)} {_how_wide(beating[key])}".strip() for key in order[:_MOST_NAMED]]
    return listed(named) if len(order) <= len(named) else f"widest {listed(named)}"


def uneven_words(uneven: Iterable[int]) -> str:
    """Return which notes are uneven without a whole beat."""
    keys = list(uneven)
    if len(keys) > 6:
        return f"{count(len(keys), 'other')} are uneven without a whole beat"
    return f"{key_ranges(keys)} {'is' if len(keys) == 1 else 'are'} uneven without a whole beat"


def _how_wide(unison: Unison) -> str:
    """Return the strings apart, in brackets, or where that is not told the beat that is heard most."""
    if unison.spread_cents is not None:
        return f"({number(unison.spread_cents.value, places=1)}{NO_BREAK}cents)"
    rate = rate_only(unison)
    return f"({rate})" if rate else ""


def rate_only(unison: Unison) -> str:
    """Return the rate of the beat that is heard most, without its error; empty without a beat."""
    beat = strongest_beat(unison)
    if beat is None:
        return ""
    return f"{number(beat.rate_hz.value, places=1 if beat.rate_hz.value >= 1.0 else 2)}{NO_BREAK}/s"


def _one_note_sentence(listening: Listening) -> str:
    ((key, note),) = listening.best_by_key().items()
    return f"{note_name(key)}: {note_sentence(note)}"


def _untold(note: Note) -> str:
    """Return that the unison could not be told; where only two verdicts are left, between which."""
    reason = next((one for one in note.cannot_tell if one.startswith("unison: ")), "")
    between = reason.removeprefix("unison: ").partition(";")[0]
    words = f": {between}, too near the limit to say which" if " or " in between else ""
    return f"its unison could not be told{words}."


def note_sentence(note: Note) -> str:
    """Return what is told of the unison of one note, as a sentence without its name."""
    unison = note.unison
    if unison is None or unison.verdict is UnisonVerdict.CANNOT_TELL:
        return _untold(note)
    beat = strongest_beat(unison)
    if unison.is_false_beat and beat is not None:
        return f"one string alone beats with itself at {rate_words(beat)} in partial {beat.partial}: a false beat."
    if unison.verdict is UnisonVerdict.BEATING and beat is not None:
        return f"it beats at {rate_words(beat)} in partial {beat.partial}."
    if unison.verdict is UnisonVerdict.UNEVEN:
        return "no whole beat, but its strings work against each other."
    return "no beat is heard."
