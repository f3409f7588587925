"""The same note in two recordings: the partials heard in both.

Only partials heard in both count, so that noise or coding that hides the weak ones does not make a note duller.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.acoustics.comparison_transfer import LevelChanges, Transfer
from strikeline.acoustics.listening import Listening, Note, Partial
from strikeline.units import cents_from_ratio

Real = NDArray[np.float64]

_MOST_LEVEL_SE_DB: Final = 1.5
"""A partial nearer to the noise is heard too loud when it is heard at all."""
_DEEPEST_DB: Final = 70.0
_MOVED_DB: Final = 2.5
"""Scatter of single partials from which microphone or room were not left alone: passes from one place show 1 dB, moved
ones 5 (generated pianos)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class NotePair:
    """One note before and after; arrays of shape (k,) over the partials heard in both."""

    key: int
    before: Note
    after: Note
    after_is_higher_cents: float
    """Reference of the second recording above that of the first."""
    n: Real
    f_hz: Real
    before_db: Real
    after_db: Real
    se_db: Real
    """Standard error of the difference of the levels."""

    @classmethod
    def of(cls, before: Note, after: Note, *, after_is_higher_cents: float = 0.0) -> NotePair:
        """Pair two notes of one key.

        Parameters
        ----------
        before, after : Note
            The same key, which is known.
        after_is_higher_cents : float
            Reference of the second recording above that of the first, cents.
        """
        assert before.key is not None  # noqa: S101  (callers pair by key)
        there = {partial.n: partial for partial in after.partials}
        both = [(one, there[one.n]) for one in before.partials if one.n in there and _is_sure(one, there[one.n])]
        top = max((one.level_db.value for one, _ in both), default=0.0)
        both = [pair for pair in both if pair[0].level_db.value > top - _DEEPEST_DB]
        return cls(
            key=before.key,
            before=before,
            after=after,
            after_is_higher_cents=after_is_higher_cents,
            n=np.array([float(one.n) for one, _ in both]),
            f_hz=np.array([one.f_hz.value for one, _ in both]),
            before_db=np.array([one.level_db.value for one, _ in both]),
            after_db=np.array([other.level_db.value for _, other in both]),
            se_db=np.array([np.hypot(one.level_db.se, other.level_db.se) for one, other in both]),
        )

    @property
    def is_clipped(self) -> bool:
        """Whether one of the two was cut off at full scale: its levels mean nothing."""
        return "clipped" in self.before.notices or "clipped" in self.after.notices


def _is_sure(one: Partial, other: Partial) -> bool:
    return max(one.level_db.se, other.level_db.se) <= _MOST_LEVEL_SE_DB


def paired(before: Listening, after: Listening) -> list[NotePair]:
    """Return the notes heard in both, ascending keys, one pair a key."""
    notes, others = before.best_by_key(), after.best_by_key()
    higher = float(cents_from_ratio(after.recording.reference_a4_hz / before.recording.reference_a4_hz))
    return [NotePair.of(notes[key], others[key], after_is_higher_cents=higher) for key in notes if key in others]


def repeated_in(listening: Listening) -> list[NotePair]:
    """Return each blow on a key with the next blow on the same key in one recording."""
    by_key: dict[int, list[Note]] = {}
    for note in listening.notes:
        if note.key is not None and note.f0_hz is not None:
            by_key.setdefault(note.key, []).append(note)
    return [
        NotePair.of(one, other)
        for _, notes in sorted(by_key.items())
        for one, other in zip(notes[::2], notes[1::2], strict=False)
    ]


def level_changes(pairs: Sequence[NotePair]) -> LevelChanges:
    """Return the partials of all notes in one row."""
    return LevelChanges(
        note=np.repeat(np.arange(len(pairs)), [pair.n.size for pair in pairs]),
        f_hz=_joined([pair.f_hz for pair in pairs]),
        change_db=_joined([pair.after_db - pair.before_db for pair in pairs]),
        se_db=_joined([pair.se_db for pair in pairs]),
    )


def _joined(parts: list[Real]) -> Real:
    return np.concatenate(parts) if parts else np.empty(0)


def is_moved(transfer: Transfer | None) -> bool:
    """Return whether the microphone or the room was not left alone between the two recordings."""
    return transfer is not None and transfer.scatter_db > _MOVED_DB
