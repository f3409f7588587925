"""Invented owners, pianos, walks and evidence."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from uuid import UUID

from strikeline.acoustics.listening import Kind
from strikeline.domain.catalogue import Action
from strikeline.domain.evidence import Event, Evidence, Note, RecordedSound, Step
from strikeline.domain.instrument import Assessment, Instrument, Occasion, Owner
from strikeline.domain.reading import Reading
from strikeline.keyboard import SHORT_COMPASS
from strikeline.measured import Measured
from strikeline.workshop.evidence import Hand

Fresh = Callable[[str], tuple[Path, dict[str, str]]]
"""Makes an empty place: its data folder, and the environment that says which database."""

MORNING = datetime(2026, 11, 25, 8, 30, 0, 123456, tzinfo=UTC)

OWNER = Owner(id=UUID(int=1), name="A. Sample", contact="Nowhere Lane 1\n☎ 000", language="en-GB")
PIANO = Instrument(
    id=UUID(int=2),
    name="Upright with the green felts",
    owner_id=OWNER.id,
    action=Action.UPRIGHT_OVER_DAMPER,
    maker="invented",
    serial="0001",
    year=1924,
    size_mm=1285.5,
    compass=SHORT_COMPASS,
    last_bass_key=29,
    materials="Key tops: celluloid; ♯ ebony",
)
WALK = Assessment(
    id=UUID(int=3),
    instrument_id=PIANO.id,
    occasion=Occasion.ARRIVAL,
    begun_at=MORNING,
    assessor="B. Bench",
    wishes="It should play again by Christmas.",
    reference_a4_hz=435.0,
)


def ticking_hand(author: str = "B. Bench", *, first_id: int = 1000, start: datetime = MORNING) -> Hand:
    """Return a hand whose clock advances by a second with each look and whose ids count up."""
    moments, ids = iter(range(10**9)), iter(range(first_id, 10**9))
    return Hand(author=author, now=lambda: start + timedelta(seconds=next(moments)), new_id=lambda: UUID(int=next(ids)))


def dip(value_mm: float, *, key: int = 49, se_mm: float = 0.1) -> Reading:
    """Return a reading of the key dip."""
    return Reading(quantity="key_dip", key=key, value=Measured(value_mm, se_mm), written=f"{value_mm} mm")


def sound(sha256: str) -> RecordedSound:
    """Return what is known of a recording."""
    return RecordedSound(
        sha256=sha256, kind=Kind.PASS, recorded_at=MORNING, recorded_by="B. Bench", microphone="of the tablet"
    )


def stated(number: int, evidence: Evidence | None = None, *, second: int = 0, author: str = "left") -> Event:
    """Return an event that states something."""
    return Event(
        id=UUID(int=number),
        assessment_id=WALK.id,
        step=Step.STATED,
        item_id=UUID(int=number),
        evidence=Note(text=f"note {number}") if evidence is None else evidence,
        author=author,
        at=MORNING + timedelta(seconds=second),
    )


def changed(number: int, before: Event, evidence: Evidence, *, second: int = 0, author: str = "left") -> Event:
    """Return an event that changes what another says."""
    return replace(
        before,
        id=UUID(int=number),
        step=Step.CHANGED,
        over=frozenset({before.id}),
        evidence=evidence,
        reason="measured again",
        author=author,
        at=MORNING + timedelta(seconds=second),
    )


def withdrawn(number: int, before: Event, *, second: int = 0, author: str = "left") -> Event:
    """Return an event that takes another back."""
    return replace(
        before,
        id=UUID(int=number),
        step=Step.WITHDRAWN,
        over=frozenset({before.id}),
        evidence=None,
        reason="a slip",
        author=author,
        at=MORNING + timedelta(seconds=second),
    )
