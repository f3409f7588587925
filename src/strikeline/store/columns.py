"""Column types that keep exactly what they are given on every database."""

from __future__ import annotations

from datetime import UTC, datetime

from sqlalchemy import DateTime
from sqlalchemy.engine import Dialect
from sqlalchemy.types import TypeDecorator


class UtcMoment(TypeDecorator[datetime]):
    """A moment in UTC to the microsecond.

    SQLite has no type for it, and SQLAlchemy would drop the offset there without a word.
    """

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Return what the database is given: in UTC, on SQLite without the offset."""
        if value is None:
            return None
        if value.utcoffset() is None:
            raise ValueError(f"{value.isoformat()} has no time zone")
        moment = value.astimezone(UTC)
        return moment.replace(tzinfo=None) if dialect.name == "sqlite" else moment

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:  # noqa: ARG002
        """Return the moment with its time zone, UTC."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.utcoffset() is None else value.astimezone(UTC)
