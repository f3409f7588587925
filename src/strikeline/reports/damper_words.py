"""Dampers in words, the same in the table, on the page and in print; never told apart by colour alone."""

from __future__ import annotations

from typing import Final

from strikeline.acoustics.damping_result import DamperVerdict, Damping
from strikeline.acoustics.listening import Listening
from strikeline.reports.figures import NO_BREAK, count, key_ranges

DAMPER_WORDS: Final = {
    DamperVerdict.STOPS: "stops",
    DamperVerdict.LEAKS: "leaks",
    DamperVerdict.WEAK: "weak",
    DamperVerdict.LATE: "late",
    DamperVerdict.NONE: "rings on",
    DamperVerdict.CANNOT_TELL: "cannot tell",
}
_VERBS: Final = {
    DamperVerdict.LEAKS: ("leaks", "leak"),
    DamperVerdict.LATE: ("lands late", "land late"),
    DamperVerdict.WEAK: ("is weak", "are weak"),
    DamperVerdict.NONE: ("rings on undamped", "ring on undamped"),
}
FAULTS: Final = tuple(_VERBS)
"""Verdicts that are named one by one, in the order in which a sheet tells them."""
_MOST_NUMBERS: Final = 6


def damper_words(damping: Damping | None) -> str:
    """Return what the damper does, in a word or two; empty without a damping."""
    return "" if damping is None else DAMPER_WORDS[damping.verdict]


def leaking_words(damping: Damping | None) -> str:
    """Return the numbers of the leaking partials, the first few of many."""
    return _few([str(n) for n in damping.leaking_partials]) if damping else ""


def after_ring_words(damping: Damping | None) -> str:
    """Return the frequencies that other strings go on with, the first few of many."""
    shown = _few([f"{f_hz:.0f}" for f_hz in damping.after_ring_hz]) if damping else ""
    return f"{shown}{NO_BREAK}Hz" if shown else ""


def _few(items: list[str]) -> str:
    return ", ".join([*items[:_MOST_NUMBERS], *(["…"] if len(items) > _MOST_NUMBERS else [])])


def undamped_top(listening: Listening) -> range:
    """Return the run of keys up to the highest heard that ring on and have none below: they have no dampers."""
    dampings = {key: note.damping for key, note in listening.best_by_key().items() if note.damping is not None}
    first = last = max(dampings, default=0)
    for key in sorted(dampings, reverse=True):
        verdict = dampings[key].verdict
        if verdict is DamperVerdict.NONE:
            first = key
        elif verdict is not DamperVerdict.CANNOT_TELL:
            break
    is_top = bool(dampings) and dampings[first].verdict is DamperVerdict.NONE
    return range(first, last + 1) if is_top else range(0)


def keys_by_verdict(listening: Listening) -> dict[DamperVerdict, tuple[int, ...]]:
    """Return the keys under each verdict, ascending; those at the top that have no damper are left out."""
    top = undamped_top(listening)
    found: dict[DamperVerdict, list[int]] = {verdict: [] for verdict in DamperVerdict}
    for key, note in listening.best_by_key().items():
        if note.damping is not None and key not in top:
            found[note.damping.verdict].append(key)
    return {verdict: tuple(keys) for verdict, keys in found.items()}


def dampers_sentence(listening: Listening) -> str:
    """Return which dampers do not stop their notes."""
    found = keys_by_verdict(listening)
    n_told = sum(len(keys) for verdict, keys in found.items() if verdict is not DamperVerdict.CANNOT_TELL)
    if n_told == 0:
        return "Of no note could it be told what its damper does."
    parts = []
    for verdict in FAULTS:
        keys = found[verdict]
        if keys:
            one, many = _VERBS[verdict]
            parts.append(f"{key_ranges(keys)} {one if len(keys) == 1 else many}")
    if not parts:
        return f"All {count(n_told, 'damper')} that could be told stop their notes as their neighbours do."
    n_faulty = sum(len(found[verdict]) for verdict in FAULTS)
    verb = "does" if n_faulty == 1 else "do"
    return (
        f"{count(n_faulty, 'damper').capitalize()} of {n_told} {verb} not stop the note as the others do: "
        f"{'; '.join(parts)}."
    )


def top_sentence(listening: Listening) -> str | None:
    """Return from where on the notes ring on, as they do where there are no dampers."""
    top = undamped_top(listening)
    return f"{key_ranges(top)} ring on undamped up to the top, as notes without dampers do." if len(top) > 1 else None
