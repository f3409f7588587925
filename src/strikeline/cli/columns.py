"""The columns of the table, for each kind of playing."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from strikeline.acoustics.listening import Kind, Note
from strikeline.acoustics.pluck_result import StringPlace
from strikeline.cli.plain_text import figure, plain
from strikeline.measured import Measured
from strikeline.reports.damper_words import after_ring_words, damper_words, leaking_words
from strikeline.reports.figures import ABSENT, number, places_for
from strikeline.reports.pluck_words import pluck_at, pluck_word, sure_words
from strikeline.reports.unison_words import unison_words


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its head, how a note fills it, and when it may go."""

    head: str
    cell: Callable[[Note], str]
    rank: int
    """Columns of the highest rank go first when the terminal is narrow; 0 always stays."""
    left: bool = False
    """Whether its cells begin at the left, as words do."""
    is_optional: bool = False
    """Whether it is left out, without a word, when no note fills it."""


_TOLD_ELSEWHERE: Final = ("knock", "pitch, unison and tone", "unison", "strings", "singing", "damping", "plucks")
"""What is not told and has no column, or a column that says so itself; the list below the table has the reasons."""


def _only_value(measured: Measured | None) -> str:
    if measured is None:
        return ABSENT
    return number(measured.value, places=min(1, places_for(measured.se)))


def _remarks(note: Note) -> str:
    """Return the notices and, in short, which columns could not be told."""
    unknown = [reason.split(":", 1)[0].strip() for reason in note.cannot_tell]
    unknown = [what for what in unknown if not what.startswith(_TOLD_ELSEWHERE)]
    cannot = [f"cannot tell: {', '.join(dict.fromkeys(unknown))}"] if unknown else []
    return "; ".join([*note.notices, *cannot])


def _spread(note: Note) -> str:
    return figure(None if note.unison is None else note.unison.spread_cents)


def _string(place: StringPlace) -> Callable[[Note], str]:
    return lambda note: pluck_word(pluck_at(note.plucks, place))


_NAME: Final = Column("note", lambda note: note.name or "?", 0, left=True)
_KEY: Final = Column("key", lambda note: ABSENT if note.key is None else str(note.key), 6)
_AT: Final = Column("at s", lambda note: f"{note.onset_s:.2f}" if note.was_heard else ABSENT, 4)
_REMARKS: Final = Column("remarks", _remarks, 0, left=True)
_STRUCK: Final = (
    _NAME,
    _KEY,
    _AT,
    Column("f0 Hz", lambda note: figure(note.f0_hz), 2),
    Column("cents", lambda note: figure(note.pitch_cents, plus=True), 0),
    Column("B ×10⁻⁴", lambda note: figure(note.inharmonicity_b, factor=1e4), 1),
    Column("unison", lambda note: plain(unison_words(note.unison)) or ABSENT, 1, left=True, is_optional=True),
    Column("spread cents", _spread, 5, is_optional=True),
    Column("brightness", lambda note: figure(note.brightness), 1),
    Column("sings s", lambda note: _only_value(note.singing_s), 3, is_optional=True),
    Column("sustain dB/s", lambda note: _only_value(note.sustain_db_per_s), 4),
    Column("level dB", lambda note: _only_value(note.level_db), 5),
    _REMARKS,
)
_STACCATO: Final = (
    _NAME,
    _KEY,
    _AT,
    Column("damper", lambda note: damper_words(note.damping) or ABSENT, 0, left=True),
    Column("lands s", lambda note: figure(note.damping.lands_s if note.damping else None), 2),
    Column("T60 s", lambda note: figure(note.damping.t60_s if note.damping else None), 0),
    Column("leaking partials", lambda note: leaking_words(note.damping), 1, left=True, is_optional=True),
    Column("after-ring", lambda note: plain(after_ring_words(note.damping)), 3, left=True, is_optional=True),
    _REMARKS,
)
_PLUCKS: Final = (
    _NAME,
    _KEY,
    _AT,
    *(Column(place.value, _string(place), 0, left=True) for place in StringPlace if place is not StringPlace.ONLY),
    Column("how sure", lambda note: sure_words(note.plucks), 2, left=True),
    _REMARKS,
)
COLUMNS: Final = {Kind.PASS: _STRUCK, Kind.NOTE: _STRUCK, Kind.STACCATO: _STACCATO, Kind.PLUCKS: _PLUCKS}
