"""Before and after: two listenings of one piano compared note by note.

What a restorer wants to know is whether the piano changed, and the recordings differ anyway: the microphone stands
elsewhere, the room is another, the hand heavier. So what all notes share at every frequency is estimated and taken off
(`comparison_transfer`), then each quantity is judged against its repeatability (`comparison_judge`). What all notes
share smoothly is never called a change of the hammers, because a moved microphone makes the like; it is reported with
what it can come from.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from strikeline.acoustics import comparison_quantities as compared
from strikeline.acoustics.comparison_differences import LAST_FREE_KEY, Differences, find_differences
from strikeline.acoustics.comparison_fitness import distrusted, find_warnings, judge_strings, named_keys, unlike_playing
from strikeline.acoustics.comparison_judge import (
    Repeats,
    bends_along_keyboard,
    free_from_blow,
    judge,
    left_out,
    measure_repeats,
)
from strikeline.acoustics.comparison_pairs import NotePair, is_moved, level_changes, paired, repeated_in
from strikeline.acoustics.comparison_quantities import ComparedQuantity
from strikeline.acoustics.comparison_result import (
    Cause,
    Comparison,
    QuantityComparison,
    Strings,
    Verdict,
)
from strikeline.acoustics.comparison_transfer import Transfer, fit_transfer
from strikeline.acoustics.comparison_words import are_words_told, compare_words
from strikeline.acoustics.listening import Kind, Listening
from strikeline.errors import InputError
from strikeline.keyboard import key_name

_FLAT_SPAN_DB: Final = 4.0
"""A curve that spans less is what two passes from one place show (generated pianos)."""
_STILL_DB: Final = 2.0
_FREED: Final = (compared.BRIGHTNESS.name, compared.BALANCE.name)
_QUANTITIES: Final = {
    Kind.PASS: compared.OF_A_PASS,
    Kind.NOTE: compared.OF_A_PASS,
    Kind.STACCATO: compared.OF_SHORT_BLOWS,
    Kind.PLUCKS: (),
}


def compare(
    before: Listening,
    after: Listening,
    *,
    before_again: Sequence[Listening] = (),
    after_again: Sequence[Listening] = (),
) -> Comparison:
    """Compare two listenings of one piano, note by note.

    Parameters
    ----------
    before, after : Listening
        Of the same kind of playing, best over the same keys.
    before_again, after_again : sequence of Listening
        The same played again without any work in between: they measure the repeatability.

    Returns
    -------
    Comparison
        What changed, by how much, and whether more than repeatability.

    Raises
    ------
    InputError
        If the listenings are of different kinds of playing.
    """
    for other in (after, *before_again, *after_again):
        if other.recording.kind is not before.recording.kind:
            kinds = f"{before.recording.kind.value} and {other.recording.kind.value}"
            raise InputError(f"the recordings are of different playing, {kinds}; compare like with like", name="kind")
    pairs = paired(before, after)
    whole = _first_look(pairs, _QUANTITIES[before.recording.kind])
    strings, other_keys = judge_strings(find_differences(pairs, compared.INHARMONICITY, transfer=None))
    repeats = _repeats(before, after, before_again, after_again, whole)
    unlike = unlike_playing(before.recording, after.recording, [one.recording for one in (*before_again, *after_again)])
    quantities = (
        _judged(whole, before, after, strings, other_keys, repeats)
        if unlike is None
        else tuple(left_out(one, unlike) for one in whole.differences.values())
    )
    cause = _cause(whole, _changed_keys(quantities, compared.BALANCE))
    words = () if unlike else compare_words(pairs, wider=_changed_keys(quantities, compared.UNISON))
    is_told = any(one.why_not is None for one in quantities) or are_words_told(pairs)
    nothing = "no key was heard in both recordings" if not pairs else "nothing was told of any key in both recordings"
    warnings = (
        *((unlike,) if unlike else () if is_told else (nothing,)),
        *_string_warnings(strings, other_keys),
        *find_warnings(before, after, pairs, whole.transfer if strings is not Strings.OTHER else None),
    )
    heard_before, heard_after = set(before.best_by_key()), set(after.best_by_key())
    return Comparison(
        before=before.recording,
        after=after.recording,
        verdict=_verdict(strings, quantities, is_told=is_told, has_words=any(one.is_certain for one in words))
        if unlike is None
        else Verdict.NOT_COMPARABLE,
        strings=strings,
        other_string_keys=other_keys,
        quantities=quantities,
        words=words,
        transfer=whole.transfer,
        cause=cause,
        n_common=len(pairs),
        only_before=tuple(sorted(heard_before - heard_after)),
        only_after=tuple(sorted(heard_after - heard_before)),
        warnings=warnings,
        cannot_tell=tuple(_cannot_tell(whole, quantities, cause, strings)),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Look:
    """Two recordings side by side: what they share at every frequency, and the differences that are left."""

    transfer: Transfer | None
    differences: dict[str, Differences]

    @classmethod
    def at(
        cls,
        pairs: list[NotePair],
        *,
        quantities: Iterable[ComparedQuantity],
        is_one_place: bool = False,
        but_for: frozenset[int] = frozenset(),
    ) -> _Look:
        """Look at some quantities; the transfer is taken from all notes `but_for` some keys."""
        sharing = [pair for pair in pairs if pair.key not in but_for]
        transfer = None if is_one_place else fit_transfer(level_changes(sharing))
        found = {q.name: find_differences(pairs, q, transfer=transfer) for q in quantities}
        level = found.get(compared.LEVEL.name)
        if level is not None:
            found |= {name: free_from_blow(found[name], level) for name in _FREED}
        return cls(transfer=transfer, differences=found)


def _first_look(pairs: list[NotePair], quantities: tuple[ComparedQuantity, ...]) -> _Look:
    """Return the look at all quantities; notes that changed in their balance do not share in the transfer."""
    whole = _Look.at(pairs, quantities=quantities)
    balance = whole.differences.get(compared.BALANCE.name)
    if balance is None:
        return whole
    judged = judge(balance, repeats=None, n_looks=len(quantities))
    changed = _changed_keys([judged], compared.BALANCE)
    if not changed or 2 * len(changed) > len(pairs):
        return whole
    return _Look.at(pairs, quantities=quantities, but_for=changed)


def _repeats(
    before: Listening,
    after: Listening,
    before_again: Sequence[Listening],
    after_again: Sequence[Listening],
    whole: _Look,
) -> dict[str, Repeats]:
    """Return how far each quantity differs in blows that were repeated, where enough were."""
    quantities = [one.quantity for one in whole.differences.values()]
    looks = [
        _Look.at(paired(first, again), quantities=quantities)
        for first, others in ((before, before_again), (after, after_again))
        for again in others
    ]
    looks += [_Look.at(repeated_in(one), quantities=quantities, is_one_place=True) for one in (before, after)]
    found = {}
    for quantity in quantities:
        parts = [_about_middle(look.differences[quantity.name]) for look in looks]
        repeats = measure_repeats(_joined(parts))
        if repeats is not None:
            found[quantity.name] = repeats
    return found


def _about_middle(differences: Differences) -> Differences:
    if differences.keys.size == 0:
        return differences
    return replace(differences, change=differences.change - np.median(differences.change))


def _joined(parts: list[Differences]) -> Differences:
    return replace(
        parts[0],
        keys=np.concatenate([part.keys for part in parts]),
        before=np.concatenate([part.before for part in parts]),
        after=np.concatenate([part.after for part in parts]),
        change=np.concatenate([part.change for part in parts]),
        se=np.concatenate([part.se for part in parts]),
        base=np.concatenate([part.base for part in parts]),
    )


def _judged(
    whole: _Look,
    before: Listening,
    after: Listening,
    strings: Strings,
    other_keys: tuple[int, ...],
    repeats: dict[str, Repeats],
) -> tuple[QuantityComparison, ...]:
    spoilt = distrusted(before.recording, after.recording)
    n_looks = max(1, sum(one.keys.size > 0 for one in whole.differences.values()))
    judged = []
    for name, differences in whole.differences.items():
        is_own = name == compared.INHARMONICITY.name
        if strings is Strings.OTHER and not is_own:
            judged.append(left_out(differences, "these are not the same strings"))
        elif name in spoilt:
            judged.append(left_out(differences, spoilt[name]))
        else:
            kept = differences if is_own or name == compared.PITCH.name else differences.without(other_keys)
            judged.append(judge(kept, repeats=repeats.get(name), n_looks=n_looks))
    return tuple(judged)


def _changed_keys(quantities: Iterable[QuantityComparison], quantity: ComparedQuantity) -> frozenset[int]:
    return frozenset(
        note.key
        for one in quantities
        if one.quantity is quantity
        for change in one.changes
        for note in one.notes
        if change.first_key <= note.key <= change.last_key
    )


def _string_warnings(strings: Strings, other_keys: tuple[int, ...]) -> tuple[str, ...]:
    if strings is Strings.OTHER:
        what = "not the same strings: the inharmonicity of most notes differs by more than errors and tuning explain"
        return (f"{what}; this is another piano, or it was strung anew",)
    if strings is Strings.SOME_OTHER:
        what = f"{named_keys(other_keys)}: the inharmonicity says that the strings are other ones"
        return (f"{what}; nothing else of these notes but the pitch is compared",)
    return ()


def _verdict(
    strings: Strings, quantities: tuple[QuantityComparison, ...], *, is_told: bool, has_words: bool
) -> Verdict:
    if not is_told or strings is Strings.OTHER:
        return Verdict.NOT_COMPARABLE
    is_changed = any(one.changes or one.is_common_changed for one in quantities)
    return Verdict.CHANGED if is_changed or has_words else Verdict.NO_CHANGE


def _cause(whole: _Look, changed_keys: frozenset[int]) -> Cause:
    """Return what the change that all notes share depends on, those aside that changed more than the others."""
    balance = whole.differences.get(compared.BALANCE.name)
    is_bent = None if balance is None else bends_along_keyboard(balance.without(changed_keys))
    if whole.transfer is None or is_bent is None:
        return Cause.UNKNOWN
    if is_bent:
        return Cause.KEYBOARD
    is_still = whole.transfer.scatter_db < _STILL_DB and whole.transfer.span_db < _FLAT_SPAN_DB
    return Cause.NONE if is_still else Cause.FREQUENCY


def _cannot_tell(
    whole: _Look, quantities: tuple[QuantityComparison, ...], cause: Cause, strings: Strings
) -> Iterable[str]:
    if strings is Strings.OTHER:
        yield "everything but the inharmonicity: these are not the same strings"
        return
    if compared.BALANCE.name in whole.differences and cause is not Cause.NONE:
        yield (
            "all hammers: a change of all of them alike cannot be told from a moved microphone or from a pass struck "
            "harder or softer"
        )
        yield "level of the whole: it moves with the gain of the recording"
    if is_moved(whole.transfer) and compared.LEVEL.name in whole.differences:
        where = f"level, sustain and singing above {key_name(LAST_FREE_KEY)}"
        yield f"{where}: the microphone was moved, and of such short notes with one strong partial the room decides"
    reasons: dict[str, list[str]] = {}
    for one in quantities:
        if one.why_not is not None:
            reasons.setdefault(one.why_not, []).append(one.quantity.name)
    for why, names in reasons.items():
        yield f"{', '.join(names)}: {why}"
