"""A comparison in plain sentences: what changed, by how much, how sure, and what it was judged by."""

from __future__ import annotations

from typing import Final

from strikeline.acoustics import comparison_quantities as compared
from strikeline.acoustics.comparison_result import (
    Basis,
    Cause,
    Change,
    Comparison,
    QuantityComparison,
    Verdict,
    WordChange,
)
from strikeline.acoustics.evenness import Sureness
from strikeline.measured import Measured
from strikeline.reports.damper_words import DAMPER_WORDS
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
from strikeline.reports.unison_words import UNISON_WORDS

_MOST_NAMED: Final = 3
_LOUDER_DB: Final = 3.0
"""A difference of the whole level that is worth a word; from here on a hand or a gain was another."""


def verdict_sentences(comparison: Comparison) -> tuple[str, ...]:
    """Return what the comparison comes to, in two to six sentences an owner understands."""
    one_sound = comparison.before.sha256 and comparison.before.sha256 == comparison.after.sha256
    same = ("Before and after are the same recording.",) if one_sound else ()
    return (*same, *_verdict_sentences(comparison))


def _verdict_sentences(comparison: Comparison) -> tuple[str, ...]:
    if comparison.verdict is Verdict.NOT_COMPARABLE:
        why = comparison.warnings[0] if comparison.warnings else "too little is common to both"
        return (f"These two recordings cannot be compared: {why}.",)
    heard = f"{count(comparison.n_common, 'key')} heard in both recordings"
    if comparison.verdict is Verdict.NO_CHANGE:
        return (
            f"No change beyond repeatability in the {heard}.",
            *_hint_sentence(comparison),
            basis_sentence(comparison),
        )
    return (
        f"Changed, in the {heard}: {listed(_headlines(comparison))}.",
        *_hint_sentence(comparison),
        basis_sentence(comparison),
    )


def _headlines(comparison: Comparison) -> list[str]:
    """Return what changed, most general first, the surest of each quantity."""
    parts = []
    for one in comparison.quantities:
        if one.is_common_changed and one.common is not None:
            parts.append(f"{one.quantity.name} as a whole {signed(one.common, one)}")
        if one.changes:
            parts.append(_of_quantity(one))
    certain = [word for word in comparison.words if word.is_certain]
    by_what: dict[str, list[str]] = {}
    for word in certain:
        by_what.setdefault(word.what, []).append(note_name(word.key))
    parts += [f"the {what} of {_some(names)}" for what, names in by_what.items()]
    return parts


def _of_quantity(one: QuantityComparison) -> str:
    surest = sorted(one.changes, key=lambda change: change.p_false)
    named = [changed_words(change) for change in surest[:1]]
    n_more = sum(change.n_notes for change in surest[1:])
    tail = f" and {count(n_more, 'note')} more" if n_more else ""
    return f"{named[0]}{tail}"


def _some(names: list[str]) -> str:
    more = len(names) - _MOST_NAMED
    return listed(names) if more <= 0 else f"{', '.join(names[:_MOST_NAMED])} and {count(more, 'more', 'more')}"


def _hint_sentence(comparison: Comparison) -> tuple[str, ...]:
    hints = [change for one in comparison.quantities for change in one.hints]
    if not hints:
        return ()
    parts = [f"{key_range(c.first_key, c.last_key)} {change_word(c)}" for c in sorted(hints, key=lambda c: c.p_false)]
    return (f"A hint, no more: {_some(parts)}.",)


def basis_sentence(comparison: Comparison) -> str:
    """Return against what differences of tone were judged."""
    judged = [one for one in comparison.quantities if one.why_not is None]
    if not judged:
        return "Compared: the verdicts in words alone, note by note."
    tone = [one for one in judged if not one.quantity.is_of_strings]
    repeated = [one for one in tone if one.basis is Basis.REPEATED]
    strings = "pitch and inharmonicity by their own standard errors"
    if not tone:
        return f"Judged: {strings}."
    if not repeated:
        return (
            "Repeatability was not measured: differences of tone are judged by how far they scatter from note to note, "
            f"{strings}. Play one of the passes twice to measure it."
        )
    n = max(one.n_repeats for one in repeated)
    names = listed([one.quantity.name for one in repeated])
    others = [one.quantity.name for one in tone if one.basis is not Basis.REPEATED]
    rest = f"; {listed(others)} by how far the differences scatter from note to note" if others else ""
    return f"Repeatability was measured on {count(n, 'note')} played again: {names} are judged by it{rest}."


def common_sentences(comparison: Comparison) -> tuple[str, ...]:
    """Return what all notes share and what it can come from."""
    transfer = comparison.transfer
    level = _level_sentence(comparison)
    if transfer is None:
        return (*level, "Too few partials are common to both to tell what all notes share.")
    tilt = transfer.tilt_db_per_octave
    if abs(tilt) < 0.05:
        slope = "without a slope"
    else:
        slope = f"{abs(tilt):.1f}{NO_BREAK}dB per octave {'towards' if tilt > 0 else 'away from'} the high frequencies"
    curve = (
        f"At every frequency alike the second recording differs by a curve that spans {transfer.span_db:.0f}"
        f"{NO_BREAK}dB, {slope}; it was taken off. Single partials scatter by {transfer.scatter_db:.1f}{NO_BREAK}dB "
        "about it."
    )
    return (*level, curve, _CAUSES[comparison.cause])


def _level_sentence(comparison: Comparison) -> tuple[str, ...]:
    """Say by how much the second recording is louder or quieter throughout, where that is much."""
    level = next((one for one in comparison.quantities if one.quantity is compared.LEVEL), None)
    if level is None or level.common is None or level.why_not is not None or abs(level.common.value) <= _LOUDER_DB:
        return ()
    word = "louder" if level.common.value > 0 else "quieter"
    return (f"The second is {abs(level.common.value):.0f}{NO_BREAK}dB {word} throughout: taken off.",)


_CAUSES: Final = {
    Cause.NONE: "That is hardly anything: microphone, room and hand were as before.",
    Cause.FREQUENCY: (
        "It depends on frequency alone, as a moved microphone, another room or another recorder make it. Hammers "
        "changed all alike could look much the same, and cannot be told from it."
    ),
    Cause.KEYBOARD: (
        "What is left still bends along the keyboard, which no microphone does: the pass was struck harder or softer "
        "as a whole, or all hammers changed. The recordings cannot tell these two apart; play both passes with the "
        "same hand, from the same place."
    ),
    Cause.UNKNOWN: "What it comes from cannot be told.",
}


def quantity_sentence(one: QuantityComparison) -> str:
    """Return the one sentence that heads the chart of a quantity."""
    name = one.quantity.name
    if one.why_not is not None:
        return sentence(f"{name}: not judged, {one.why_not}")
    surest = sorted(one.changes, key=lambda change: change.p_false)
    parts = [changed_words(change) for change in surest[:2]]
    if len(surest) > len(parts):
        parts.append(f"{count(sum(c.n_notes for c in surest[2:]), 'further note')}")
    if one.is_common_changed and one.common is not None:
        parts.insert(0, f"as a whole {signed(one.common, one)}")
    if parts:
        return sentence(f"{name}: {'; '.join(parts)}")
    if one.hints:
        where = listed([key_range(c.first_key, c.last_key) for c in one.hints[:3]])
        return sentence(f"{name}: no change beyond repeatability; a hint at {where}")
    return sentence(f"{name}: no change beyond repeatability")


def changed_words(change: Change) -> str:
    """Return who changed, which way and by how much."""
    by = "from" if change.quantity is compared.UNISON else "by"
    return f"{key_range(change.first_key, change.last_key)} {change_word(change)} {by} {how_much(change)}"


def change_word(change: Change) -> str:
    """Return the comparative that names the direction, such as *brighter*."""
    return change.quantity.more if change.change.value > 0 else change.quantity.less


def how_much(change: Change) -> str:
    """Return the size of a change without its sign, with its error and unit; of a unison, from what to what."""
    if change.quantity is compared.UNISON:
        return f"{change.before:.1f} to {change.after:.1f}{NO_BREAK}{change.quantity.unit}"
    return _size(change.change, change.quantity.change_unit, change.quantity.decimals)


def _size(measured: Measured, unit: str, decimals: int) -> str:
    half = measured.half_width
    places = min(decimals, places_for(half))
    return plus_minus(f"{abs(measured.value):.{places}f}", f"{max(half, 10.0**-places):.{places}f}", unit)


def signed(measured: Measured, one: QuantityComparison) -> str:
    """Return a change with its sign, error and unit."""
    half = measured.half_width
    places = min(max(1, one.quantity.decimals), max(1, places_for(half)))
    value = number(measured.value, places=places, plus=True)
    return plus_minus(value, number(max(half, 10.0**-places), places=places), one.quantity.change_unit)


def how_sure(p_false: float) -> str:
    """Return how sure a change is, as a word."""
    return str(Sureness.of(p_false))


def repeatability_row(one: QuantityComparison) -> tuple[str, str, str, str, str]:
    """Return of one quantity: name, notes, what all share, how far one note repeats, and what it was judged by."""
    shared = "" if one.common is None or one.quantity is compared.UNISON else signed(one.common, one)
    repeats = ""
    if one.repeatability is not None:
        size = number(one.repeatability, places=max(1, one.quantity.decimals))
        repeats = f"{size} {one.quantity.change_unit}"
    return one.quantity.name, str(len(one.notes)), shared, repeats, str(one.basis)


def word_sentence(word: WordChange) -> str:
    """Return a verdict that is another than before."""
    words = _SHEET_WORDS.get(word.what, {})
    return f"{word.what} {words.get(word.before, word.before)}, then {words.get(word.after, word.after)}"


_SHEET_WORDS: Final = {
    "unison": {verdict.value: text for verdict, text in UNISON_WORDS.items()},
    "damper": {verdict.value: text for verdict, text in DAMPER_WORDS.items()},
}
"""What the other sheets and the table call the verdicts that the JSON names."""


def strings_sentence(comparison: Comparison) -> str:
    """Return what the inharmonicity says of the strings of recordings that cannot be compared."""
    one = next((q for q in comparison.quantities if q.quantity is compared.INHARMONICITY), None)
    if one is None or not one.notes:
        return "Nothing is common to both recordings."
    n = sum(change.n_notes for change in one.changes)
    return (
        f"The inharmonicity differs for certain in {n} of {len(one.notes)} notes; of the same strings it does so in "
        "none, however they are tuned. Nothing else is compared."
    )


def unsure_words(comparison: Comparison) -> tuple[str, ...]:
    """Return how many verdicts read otherwise than before without being surely others."""
    by_what: dict[str, list[int]] = {}
    for word in comparison.words:
        if not word.is_certain:
            by_what.setdefault(word.what, []).append(word.key)
    return tuple(
        f"The {what} of {key_ranges(keys)} reads otherwise than before, as it may when nothing was changed."
        for what, keys in by_what.items()
    )


def cause_in_short(comparison: Comparison) -> tuple[str, ...]:
    """Return the caution that belongs beside a verdict: what the recordings leave open for all hammers together."""
    tone = {compared.BRIGHTNESS.name, compared.BALANCE.name}
    if comparison.verdict is Verdict.NOT_COMPARABLE or not any(
        one.quantity.name in tone and one.why_not is None for one in comparison.quantities
    ):
        return ()
    bent = (
        "Besides, the tone as a whole changed in a way that a harder or softer blow makes, or hammers changed "
        "throughout: the recordings cannot tell which."
    )
    shared = "A change of all hammers alike cannot be told from a moved microphone; what all notes share was taken off."
    return {Cause.KEYBOARD: (bent,), Cause.FREQUENCY: (shared,)}.get(comparison.cause, ())
