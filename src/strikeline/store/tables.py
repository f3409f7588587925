"""The tables. A change here needs a migration in ``migrations/versions``; a test compares the two."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import JSON, BigInteger, ForeignKey, MetaData, Text, Uuid
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column

from strikeline.store.columns import UtcMoment


class Table(DeclarativeBase):
    """What all tables share: types of columns, and names for constraints (without one none can ever be dropped)."""

    metadata = MetaData(
        naming_convention={
            "ix": "ix_%(table_name)s_%(column_0_name)s",
            "uq": "uq_%(table_name)s_%(column_0_name)s",
            "fk": "fk_%(table_name)s_%(column_0_name)s",
            "pk": "pk_%(table_name)s",
        }
    )
    type_annotation_map = {  # noqa: RUF012  # SQLAlchemy's own form
        str: Text(),
        datetime: UtcMoment(),
        UUID: Uuid(),
        dict[str, Any]: JSON(),
        list[str]: JSON(),
    }


class OwnerRow(Table):
    """An owner in the latest wording."""

    __tablename__ = "owner"
    id: Mapped[UUID] = mapped_column(primary_key=True)
    version: Mapped[int]
    name: Mapped[str]
    contact: Mapped[str]
    language: Mapped[str]
    remarks: Mapped[str]


class InstrumentRow(Table):
    """An instrument in the latest wording."""

    __tablename__ = "instrument"
    id: Mapped[UUID] = mapped_column(primary_key=True)
    version: Mapped[int]
    owner_id: Mapped[UUID | None] = mapped_column(ForeignKey("owner.id"), index=True)
    name: Mapped[str]
    action: Mapped[str | None]
    maker: Mapped[str]
    model: Mapped[str]
    serial: Mapped[str]
    year: Mapped[int | None]
    size_mm: Mapped[float | None]
    compass: Mapped[str | None]
    last_bass_key: Mapped[int | None]
    materials: Mapped[str]
    remarks: Mapped[str]


class AssessmentRow(Table):
    """An assessment in the latest wording."""

    __tablename__ = "assessment"
    id: Mapped[UUID] = mapped_column(primary_key=True)
    version: Mapped[int]
    instrument_id: Mapped[UUID] = mapped_column(ForeignKey("instrument.id"), index=True)
    occasion: Mapped[str]
    begun_at: Mapped[datetime]
    assessor: Mapped[str]
    wishes: Mapped[str]
    reference_a4_hz: Mapped[float]


class VersionRow(Table):
    """Every wording that an owner, an instrument or an assessment ever had."""

    __tablename__ = "record_version"
    record_id: Mapped[UUID] = mapped_column(primary_key=True)
    number: Mapped[int] = mapped_column(primary_key=True)
    kind: Mapped[str]
    data: Mapped[dict[str, Any]]
    author: Mapped[str]
    at: Mapped[datetime]
    reason: Mapped[str]


class FileRow(Table):
    """A recording or photograph that lies beside the database under its hash."""

    __tablename__ = "media_file"
    sha256: Mapped[str] = mapped_column(primary_key=True)
    n_bytes: Mapped[int] = mapped_column(BigInteger)
    added_at: Mapped[datetime]


class EventRow(Table):
    """One step of the evidence. Rows are added, never changed or deleted.

    ``item_id`` and ``over`` refer to events that a second tablet may not have sent yet, so that no foreign key can
    guard them.
    """

    __tablename__ = "event"
    id: Mapped[UUID] = mapped_column(primary_key=True)
    assessment_id: Mapped[UUID] = mapped_column(ForeignKey("assessment.id"), index=True)
    step: Mapped[str]
    item_id: Mapped[UUID]
    over: Mapped[list[str]]
    schema: Mapped[str | None]
    data: Mapped[dict[str, Any] | None]
    reason: Mapped[str]
    author: Mapped[str]
    at: Mapped[datetime]


class EventFileRow(Table):
    """Which files an event rests on."""

    __tablename__ = "event_file"
    event_id: Mapped[UUID] = mapped_column(ForeignKey("event.id"), primary_key=True)
    sha256: Mapped[str] = mapped_column(ForeignKey("media_file.sha256"), primary_key=True, index=True)
