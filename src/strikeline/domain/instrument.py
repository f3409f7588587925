"""Whose piano it is, which piano, and each time that it is gone over."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from uuid import UUID

from strikeline.domain.catalogue import Action
from strikeline.domain.checks import checked_moment, checked_text
from strikeline.errors import InputError
from strikeline.keyboard import Compass

_EARLIEST_YEAR = 1700
"""The first instruments with hammers and an escapement (common knowledge, no source)."""
_LATEST_YEAR = 2200
_LARGEST_MM = 5000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Owner:
    """Who brought the piano."""

    id: UUID
    name: str
    contact: str = ""
    """Address, telephone, mail: as written."""
    language: str = ""
    """In which reports are written, as a tag of BCP 47 such as ``en-GB``; empty where not asked."""
    remarks: str = ""

    def __post_init__(self) -> None:
        checked_text("name of the owner", self.name, is_needed=True)
        for name in ("contact", "language", "remarks"):
            checked_text(name, getattr(self, name))


@dataclass(frozen=True, slots=True, kw_only=True)
class Instrument:
    """One piano, as the workshop knows it."""

    id: UUID
    name: str
    """What the workshop calls it."""
    owner_id: UUID | None = None
    action: Action | None = None
    maker: str = ""
    model: str = ""
    serial: str = ""
    year: int | None = None
    """Made in, as far as known."""
    size_mm: float | None = None
    """Height of an upright, length of a grand."""
    compass: Compass | None = None
    last_bass_key: int | None = None
    """Last key on the bass bridge: the break is above it."""
    materials: str = ""
    """Key tops, felts, frame, soundboard: as written."""
    remarks: str = ""

    def __post_init__(self) -> None:
        checked_text("name of the piano", self.name, is_needed=True)
        for name in ("maker", "model", "serial", "materials", "remarks"):
            checked_text(name, getattr(self, name))
        if self.year is not None and not _EARLIEST_YEAR <= self.year <= _LATEST_YEAR:
            raise InputError.of("year", self.year, f"a year from {_EARLIEST_YEAR} to {_LATEST_YEAR}")
        if self.size_mm is not None and not 0.0 < self.size_mm <= _LARGEST_MM:
            raise InputError.of("size_mm", self.size_mm, f"above 0 and at most {_LARGEST_MM:g} mm")
        if self.last_bass_key is not None and self.compass is not None and self.last_bass_key not in self.compass:
            raise InputError.of("last_bass_key", self.last_bass_key, f"a key of {self.compass}")


class Occasion(StrEnum):
    """At which point of its stay the piano is gone over."""

    ARRIVAL = "arrival"
    IN_WORK = "in_work"
    HANDOVER = "handover"
    FOLLOW_UP = "follow_up"


@dataclass(frozen=True, slots=True, kw_only=True)
class Assessment:
    """One walk round a piano."""

    id: UUID
    instrument_id: UUID
    occasion: Occasion
    begun_at: datetime
    assessor: str
    wishes: str = ""
    """What the owner wishes and asks, in the owner's words; stays in sight to the handover."""
    reference_a4_hz: float = 440.0
    """Pitch that the cents refer to; that of ISO 16 unless agreed otherwise."""

    def __post_init__(self) -> None:
        object.__setattr__(self, "begun_at", checked_moment("begun_at", self.begun_at))
        checked_text("assessor", self.assessor, is_needed=True)
        checked_text("wishes", self.wishes)
        if not 380.0 <= self.reference_a4_hz <= 480.0:
            raise InputError.of("reference_a4_hz", self.reference_a4_hz, "380 to 480 Hz")


Kept = Owner | Instrument | Assessment
"""The records that evidence hangs on. They may be corrected; every former version is kept."""
