"""Whether two recordings can be compared at all: the same strings, the same playing, and what hides the answer."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np

from strikeline.acoustics import comparison_quantities as compared
from strikeline.acoustics.comparison_differences import Differences
from strikeline.acoustics.comparison_pairs import NotePair, is_moved
from strikeline.acoustics.comparison_result import Strings
from strikeline.acoustics.comparison_transfer import Transfer
from strikeline.acoustics.listening import Listening, Recording
from strikeline.acoustics.short_blows import sounds_like_short_blows
from strikeline.keyboard import key_name

_PRECISE: Final = 0.03
"""Relative standard error of a difference of B up to which it tells strings apart: those of two pianos of one design
differ by a few per cent (bass) to one (wire of 0.3 % in diameter gives 1.2 %; tolerances of our own invention)."""
_OTHER_SE: Final = 3.0
_FEWEST_PRECISE: Final = 6
_OTHER_SHARE: Final = 0.3
"""Of an unchanged piano next to no note lies beyond three standard errors; of another of the same design six in ten."""
_OTHER_STRING_SE: Final = 4.5
_OTHER_STRING: Final = 0.015
_MANY_LOST: Final = 0.5
_DISTRUSTED_BY_GAIN: Final = (compared.BRIGHTNESS, compared.LEVEL, compared.SUSTAIN, compared.SINGING, compared.KNOCK)


def judge_strings(inharmonicity: Differences) -> tuple[Strings, tuple[int, ...]]:
    """Return whether the strings are the same, and the keys of those that are not.

    Parameters
    ----------
    inharmonicity : Differences
        Of ln(B·f0²), which tuning does not move.
    """
    precise = inharmonicity.where(inharmonicity.sigma < _PRECISE)
    if precise.keys.size < _FEWEST_PRECISE:
        return Strings.CANNOT_TELL, ()
    z = precise.change / precise.sigma
    if np.mean(np.abs(z) > _OTHER_SE) >= _OTHER_SHARE:
        return Strings.OTHER, ()
    other = (np.abs(z) > _OTHER_STRING_SE) & (np.abs(precise.change) > _OTHER_STRING)
    keys = tuple(int(key) for key in precise.keys[other])
    return (Strings.SOME_OTHER, keys) if keys else (Strings.SAME, ())


def unlike_playing(before: Recording, after: Recording, again: Sequence[Recording]) -> str | None:
    """Return why recordings of one kind were not played alike by their sound, ``None`` if they were.

    Parameters
    ----------
    before, after : Recording
        The two.
    again : sequence of Recording
        The same played again.
    """
    named = [("before", before), ("after", after), *(("a repeated recording", one) for one in again)]
    short = [which for which, recording in named if sounds_like_short_blows(recording.warnings)]
    if not short or len(short) == len(named):
        return None
    said = " and ".join(dict.fromkeys(short))
    return (
        f"played in two ways: {said} sounds like short blows, the rest like held notes; record the same playing twice"
    )


def distrusted(before: Recording, after: Recording) -> dict[str, str]:
    """Return the names of quantities that a recording spoils, with the reason."""
    reasons = {}
    for which, recording in (("before", before), ("after", after)):
        if _warned(recording, "automatic gain"):
            why = f"the {which} was recorded with automatic gain"
            reasons.update({quantity.name: why for quantity in _DISTRUSTED_BY_GAIN})
    return reasons


def find_warnings(
    before: Listening, after: Listening, pairs: list[NotePair], transfer: Transfer | None
) -> Iterator[str]:
    """Return what a reader must know of the two recordings, besides the strings.

    Parameters
    ----------
    before, after : Listening
        The two.
    pairs : list of NotePair
        Notes heard in both.
    transfer : Transfer or None
        What they differ by at every frequency.
    """
    one, other = before.recording, after.recording
    if one.sha256 and one.sha256 == other.sha256:
        yield "before and after are the same recording"
    if one.compass is not None and other.compass is not None and one.compass != other.compass:
        yield (
            f"the compass is {one.compass} before and {other.compass} after: another piano, or one pass is not whole; "
            f"{len(pairs)} keys are in both"
        )
    for which, recording in (("before", one), ("after", other)):
        if recording.is_partial:
            yield f"the {which} is a partial result: it ended before its recording did"
        yield from (f"{which}: {warning}" for warning in recording.warnings)
    if one.sample_rate_hz != other.sample_rate_hz:
        yield (
            f"sample rates differ, {one.sample_rate_hz} Hz before and {other.sample_rate_hz} Hz after; only partials "
            "heard in both are compared"
        )
    yield from _lost_partials(pairs)
    if transfer is not None and is_moved(transfer):
        yield (
            f"single partials scatter by {transfer.scatter_db:.1f} dB about what all notes share: the microphone was "
            "moved or the room is another one; changes of tone must be larger to be found"
        )


def _lost_partials(pairs: list[NotePair]) -> Iterator[str]:
    """Say so when one recording shows much fewer partials than the other."""
    n_before = sum(len(pair.before.partials) for pair in pairs)
    n_after = sum(len(pair.after.partials) for pair in pairs)
    for which, n, other in (("after", n_after, n_before), ("before", n_before, n_after)):
        if other and n < _MANY_LOST * other:
            yield (
                f"the {which} shows {n} partials where the other recording shows {other}: more noise, coding or a "
                "narrow band hides them"
            )


def _warned(recording: Recording, begins: str) -> str | None:
    return next((warning for warning in recording.warnings if warning.startswith(begins)), None)


def named_keys(keys: tuple[int, ...], *, most: int = 12) -> str:
    """Return keys as note names, many of them shortened."""
    names = [key_name(key) for key in keys[:most]]
    return ", ".join(names) + (f" and {len(keys) - most} more" if len(keys) > most else "")
