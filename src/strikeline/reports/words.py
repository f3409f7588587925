"""Evidence as plain sentences: what stands out, how the whole piano stands, and how each chart is summed up.

Nothing here names a cause or a remedy: a sentence says what was heard, how far it departs and how sure that is.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from strikeline.acoustics.evenness import (
    WHOLE_RANGE_NOTES,
    Area,
    Evenness,
    PitchLevel,
    QuantityEvenness,
    Standout,
    Sureness,
)
from strikeline.acoustics.evenness_quantities import PITCH
from strikeline.acoustics.listening import Listening
from strikeline.keyboard import A4_KEY, key_name
from strikeline.measured import Measured
from strikeline.reports.figures import (
    NO_BREAK,
    count,
    key_range,
    key_ranges,
    listed,
    note_name,
    number,
    places_for,
    plus_minus,
    sentence,
)
from strikeline.units import ratio_from_cents

_CLEARLY_UNEVEN: Final = 1.5
"""Scatter over that of a well-kept piano from which a sentence calls it uneven: one piano is a narrow base for less."""
NOTHING_STANDS_OUT: Final = "Nothing stands out from its neighbours."


def standout_sentence(standout: Standout) -> str:
    """Return one standout as a sentence, such as *C4 to A4 (10 notes) are brighter than their neighbours by …*."""
    word = standout_word(standout)
    reach = how_far(standout)
    if standout.first_key == standout.last_key:
        who = f"{note_name(standout.first_key)} is {word} than its neighbours by {reach}"
    else:
        first, last = note_name(standout.first_key), note_name(standout.last_key)
        who = f"{first} to {last} ({count(standout.n_notes, 'note')}) are {word} than their neighbours by {reach}"
    return f"{who} ({standout.sureness})."


def standout_word(standout: Standout) -> str:
    """Return the comparative that names the direction, such as *brighter*."""
    return standout.quantity.more if standout.departure.value > 0 else standout.quantity.less


def how_far(standout: Standout) -> str:
    """Return the size of a departure without its sign, with its unit: one figure for a note, a range for a run."""
    unit = standout.quantity.deviation_unit
    half = standout.departure.half_width
    places = min(standout.quantity.decimals, places_for(half))
    low, high = abs(standout.low), abs(standout.high)
    if standout.first_key == standout.last_key:
        return plus_minus(f"{abs(standout.departure.value):.{places}f}", f"{half:.{places}f}", unit)
    mostly = "mostly " if standout.n_notes > WHOLE_RANGE_NOTES else ""
    if standout.low * standout.high <= 0.0:
        return f"{mostly}up to {high:.{places}f}{NO_BREAK}{unit}"
    if f"{low:.{places}f}" == f"{high:.{places}f}":
        return f"about {high:.{places}f}{NO_BREAK}{unit}"
    return f"{mostly}{low:.{places}f} to {high:.{places}f}{NO_BREAK}{unit}"


def heard_sentence(listening: Listening) -> str:
    """Return what was heard of what there is."""
    heard = len(listening.best_by_key())
    compass, missing = listening.recording.compass, listening.recording.missing_keys
    if heard == 0:
        return "No note was recognised in this recording."
    if compass is None:
        notes = count(heard, "note").capitalize()
        from_what = "it" if heard == 1 else "them"
        return f"{notes} {_was(heard)} heard; the compass of the piano cannot be told from {from_what}."
    share = f"All {heard}" if heard == len(compass) else f"{heard} of the {len(compass)}"
    whole = f"{share} keys from {note_name(compass.lowest)} to {note_name(compass.highest)}"
    tail = f"; {key_ranges(missing)} did not sound" if 0 < len(missing) <= 6 else ""
    return f"{whole} {_was(heard)} heard{tail}."


def pitch_level_sentence(level: PitchLevel, *, a4_hz: float) -> str:
    """Return where the whole piano stands against its reference."""
    half = level.level_cents.half_width
    places = min(1, places_for(half))
    cents = level.level_cents.value
    reference = a4_name(a4_hz)
    whole = "The one note heard between C3 and A5 stands" if level.n_notes == 1 else "As a whole the piano stands"
    if abs(cents) <= max(half, 0.5):
        text = f"{whole} at {reference} (within {max(half, 0.5):.{places or 1}f} cents)"
    else:
        side = "below" if cents < 0 else "above"
        size = plus_minus(f"{abs(cents):.{places}f}", f"{half:.{places}f}", "cents")
        text = f"{whole} {size} {side} {reference}"
    if level.a4_cents is not None:
        hz = a4_hz * float(ratio_from_cents(level.a4_cents.value))
        text += f"; A4 itself sounds at {hz:.1f}{NO_BREAK}Hz"
    return f"{text}."


def areas_sentence(evenness: Evenness) -> str | None:
    """Return the areas that are more than one standout: stretches with notes between that do not stand out alone."""
    told = {(one.quantity.field, one.first_key, one.last_key) for one in evenness.standouts}
    joined = [area for area in evenness.areas if (area.quantity.field, area.first_key, area.last_key) not in told]
    if not joined:
        return None
    return f"Taken together: {'; '.join(area_words(area) for area in joined)}."


def area_words(area: Area) -> str:
    """Return where an area is, what its notes are called, how many depart and how far, and a hint as one."""
    size = _size(area.departure, area.quantity.deviation_unit)
    hint = f", {area.sureness}" if area.sureness is Sureness.HINT else ""
    where = key_range(area.first_key, area.last_key)
    return f"{where} {area.word} ({area.n_departing} of {area.n_notes} notes, {size}{hint})"


def scatter_sentence(evenness: Evenness) -> str | None:
    """Return which quantities scatter from note to note more than in a well-kept piano."""
    judged = [one for one in evenness.quantities if one.scatter_ratio is not None]
    if not judged:
        return None
    uneven = [one for one in judged if (one.scatter_ratio or 0.0) >= _CLEARLY_UNEVEN]
    if not uneven:
        return "From note to note the piano scatters no more than a well-kept one."
    parts = [f"{one.quantity.name} ({one.scatter_ratio:.1f} times)" for one in uneven]
    return f"From note to note the piano scatters more than a well-kept one: {listed(parts)}."


def standouts_sentence(standouts: Sequence[Standout]) -> str:
    """Return how much stands out, and the surest of it."""
    clear, hints = _clear_and_hints(standouts)
    if not clear:
        tail = (
            f"; there {'is' if len(hints) == 1 else 'are'} {count(len(hints), 'hint')}, listed below" if hints else ""
        )
        return f"Nothing stands out clearly from its neighbours{tail}." if hints else NOTHING_STANDS_OUT
    if len(clear) == 1:
        return f"One thing stands out: {standout_sentence(clear[0])}"
    return f"{count(len(clear), 'thing').capitalize()} stand out; the surest: {standout_sentence(clear[0])}"


def further_standouts(standouts: Sequence[Standout], *, most: int) -> tuple[str, ...]:
    """Return a sentence for each that stands out after the surest one, and how many are left when there are more.

    Parameters
    ----------
    standouts : sequence of Standout
        From the evenness.
    most : int
        Sentences at most.
    """
    further = _clear_and_hints(standouts)[0][1:]
    told = [standout_sentence(one) for one in further[:most]]
    left = len(further) - len(told)
    return (*told, *([f"{count(left, 'other').capitalize()}, on the sheet and in --json."] if left else []))


def _clear_and_hints(standouts: Sequence[Standout]) -> tuple[list[Standout], list[Standout]]:
    surest_first = sorted(standouts, key=lambda standout: standout.p_false)
    clear = [standout for standout in surest_first if standout.sureness is not Sureness.HINT]
    return clear, surest_first[len(clear) :]


def chart_sentence(one: QuantityEvenness, evenness: Evenness) -> str:
    """Return the one sentence that heads a chart."""
    name = one.quantity.name
    clear, hints = _clear_and_hints(one.standouts)
    if one.n_values == 0:
        text = f"{name} could not be told for any note"
    elif not one.notes:
        text = f"{name} is known for {count(one.n_values, 'note')}: too few to compare with neighbours"
    elif clear:
        parts = [f"{key_range(s.first_key, s.last_key)} {standout_word(s)} by {how_far(s)}" for s in clear[:2]]
        more = len(clear) - len(parts)
        tail = f", and {count(more, 'other')}" if more else ""
        text = f"{name}: {'; '.join(parts)}{tail}"
    elif hints:
        where = listed([key_range(s.first_key, s.last_key) for s in hints[:3]])
        text = f"{name}: nothing stands out clearly; a hint at {where}"
    else:
        text = _even_sentence(one, evenness)
    return sentence(text)


def _even_sentence(one: QuantityEvenness, evenness: Evenness) -> str:
    """Return what is to be said of a quantity in which no note leaves its neighbours."""
    name = one.quantity.name
    if one.quantity is PITCH and evenness.pitch_level is not None:
        cents = evenness.pitch_level.level_cents.value
        places = 0 if abs(cents) >= 10.0 else 1
        return f"pitch: no note leaves its neighbours; as a whole {number(cents, places=places, plus=True)} cents"
    if one.scatter_ratio is not None and one.scatter_ratio >= _CLEARLY_UNEVEN:
        ratio = f"{one.scatter_ratio:.1f} times as much as in a well-kept piano"
        return f"{name} scatters {ratio}; no note leaves the scatter"
    return f"{name} is even: no note leaves its neighbours"


def a4_name(a4_hz: float) -> str:
    """Return the reference as it is written on the sheet."""
    return NO_BREAK.join([key_name(A4_KEY), "=", f"{a4_hz:g}", "Hz"])


def _size(measured: Measured, unit: str) -> str:
    half = measured.half_width
    places = 0 if unit == "%" else min(1, places_for(half))
    return plus_minus(f"{abs(measured.value):.{places}f}", f"{half:.{places}f}", unit)


def _was(n: int) -> str:
    return "was" if n == 1 else "were"
