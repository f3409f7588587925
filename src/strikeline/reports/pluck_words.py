"""Strings plucked against the hammer in words, the same in the table, on the page and in print."""

from __future__ import annotations

from typing import Final

from strikeline.acoustics.evenness import Sureness
from strikeline.acoustics.listening import Listening
from strikeline.acoustics.pluck_result import Pluck, StringPlace
from strikeline.reports.figures import ABSENT, count, listed, note_name

COLUMNS: Final = (StringPlace.LEFT, StringPlace.MIDDLE, StringPlace.RIGHT)
"""Strings as one stands in front of them; the only string of a note stands in the middle."""


def sureness_of(pluck: Pluck) -> Sureness | None:
    """Return how sure it is whether the felt touches a string, ``None`` where it cannot be told."""
    return None if pluck.is_touched is None else Sureness.of(1.0 - pluck.confidence)


def pluck_word(pluck: Pluck | None) -> str:
    """Return touched or open, or why neither."""
    if pluck is None:
        return ABSENT
    if pluck.is_touched is None:
        return "not plucked" if pluck.at_s is None else "cannot tell"
    return "touched" if pluck.is_touched else "open"


def pluck_words(pluck: Pluck | None) -> str:
    """Return touched or open with how sure that is, such as *open (very sure)*."""
    sure = None if pluck is None else sureness_of(pluck)
    return pluck_word(pluck) if sure is None else f"{pluck_word(pluck)} ({sure})"


def sure_words(plucks: tuple[Pluck, ...] | None) -> str:
    """Return how sure the strings of one note are: one word if all are alike, else one for each, left to right."""
    words = [str(sureness_of(pluck) or ABSENT) for pluck in plucks or ()]
    told = [word for word in words if word != ABSENT]
    return (told[0] if len(set(words)) == 1 else ", ".join(words)) if told else ""


def pluck_at(plucks: tuple[Pluck, ...] | None, place: StringPlace) -> Pluck | None:
    """Return the pluck of one string; the only string of a note stands in the middle."""
    for pluck in plucks or ():
        if pluck.string is place or (place is StringPlace.MIDDLE and pluck.string is StringPlace.ONLY):
            return pluck
    return None


def open_by_key(listening: Listening) -> dict[int, tuple[Pluck, ...]]:
    """Return the strings that the felt misses, left to right, of every note that has any."""
    found = {}
    for key, note in listening.best_by_key().items():
        missed = tuple(pluck for pluck in note.plucks or () if pluck.is_touched is False)
        if missed:
            found[key] = missed
    return found


def mating_sentence(listening: Listening) -> str:
    """Return which strings the hammers miss, and what that says of the mating."""
    plucks = [pluck for note in listening.best_by_key().values() for pluck in note.plucks or ()]
    told = [pluck for pluck in plucks if pluck.is_touched is not None]
    if not told:
        return "Of no string could it be told whether the hammer touches it."
    unsure = len(plucks) - len(told)
    tail = f" {count(unsure, 'string').capitalize()} could not be told." if unsure else ""
    missed = open_by_key(listening)
    if not missed:
        is_whole = not unsure and all(sureness_of(pluck) is not Sureness.HINT for pluck in told)
        which = " that could be told" if unsure else ""
        verdict = ": mated, as far as this test hears" if is_whole else ""
        return f"All {count(len(told), 'string')}{which} are touched{verdict}.{tail}"
    sure, hints = _of_sureness(missed, is_hint=False), _of_sureness(missed, is_hint=True)
    said = []
    if sure:
        said.append(f"Open {_strings(sure)}: {_named(sure)}: not yet mated.")
    if hints:
        article = "an open string" if _strings(hints) == "string" else "open strings"
        said.append(f"A hint of {article}: {_named(hints)}; pluck again.")
    return " ".join(said) + tail


def _of_sureness(missed: dict[int, tuple[Pluck, ...]], *, is_hint: bool) -> dict[int, tuple[Pluck, ...]]:
    """Return the open strings that are only hinted at, or all the others."""
    kept = {
        key: tuple(pluck for pluck in strings if (sureness_of(pluck) is Sureness.HINT) is is_hint)
        for key, strings in missed.items()
    }
    return {key: strings for key, strings in kept.items() if strings}


def _strings(missed: dict[int, tuple[Pluck, ...]]) -> str:
    return "string" if sum(len(strings) for strings in missed.values()) == 1 else "strings"


def _named(missed: dict[int, tuple[Pluck, ...]]) -> str:
    return listed([f"{note_name(key)} {open_words(strings)}".strip() for key, strings in missed.items()])


def open_words(strings: tuple[Pluck, ...]) -> str:
    """Return which strings these are, as in a sentence; empty for the only string of a note."""
    places = [pluck.string for pluck in strings]
    return "" if places == [StringPlace.ONLY] else listed([place.value for place in places])
