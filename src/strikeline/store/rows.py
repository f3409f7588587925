"""Records and events as rows of the tables, and back."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from datetime import UTC, datetime
from typing import Any, Final
from uuid import UUID

from sqlalchemy import ColumnElement, Row

from strikeline.domain.catalogue import Action
from strikeline.domain.evidence import Event, Step
from strikeline.domain.evidence_data import evidence_data, evidence_from_data
from strikeline.domain.instrument import Assessment, Instrument, Kept, Occasion, Owner
from strikeline.errors import StoreError
from strikeline.keyboard import Compass
from strikeline.store.tables import AssessmentRow, EventRow, InstrumentRow, OwnerRow

ROW_OF: Final[Mapping[type[Kept], type[OwnerRow | InstrumentRow | AssessmentRow]]] = {
    Owner: OwnerRow,
    Instrument: InstrumentRow,
    Assessment: AssessmentRow,
}


def record_columns(record: Kept) -> dict[str, Any]:
    """Return the columns of a record, without the number of its version."""
    columns = {name: getattr(record, name) for name in type(record).__dataclass_fields__}
    if isinstance(record, Instrument):
        columns["action"] = None if record.action is None else record.action.value
        columns["compass"] = None if record.compass is None else str(record.compass)
    elif isinstance(record, Assessment):
        columns["occasion"] = record.occasion.value
    return columns


def columns_of(row: type[OwnerRow | InstrumentRow | AssessmentRow]) -> list[ColumnElement[Any]]:
    """Return the columns of a table of records, without the number of the version.

    Plain rows of them are read in a third of the time that SQLAlchemy needs to keep track of as many objects.
    """
    return [column for column in row.__table__.columns if column.key != "version"]


def owners_from(rows: Iterable[Row[Any]]) -> tuple[Owner, ...]:
    """Return the owners of rows of `columns_of`."""
    with _undamaged():
        return tuple(Owner(**row._mapping) for row in rows)  # noqa: SLF001  # SQLAlchemy's documented name


def instruments_from(rows: Iterable[Row[Any]]) -> tuple[Instrument, ...]:
    """Return the instruments of rows of `columns_of`."""
    with _undamaged():
        return tuple(_instrument(dict(row._mapping)) for row in rows)  # noqa: SLF001  # as above


def assessments_from(rows: Iterable[Row[Any]]) -> tuple[Assessment, ...]:
    """Return the assessments of rows of `columns_of`."""
    with _undamaged():
        return tuple(_assessment(dict(row._mapping)) for row in rows)  # noqa: SLF001  # as above


def _owner(columns: dict[str, Any]) -> Owner:
    return Owner(**columns)


def _instrument(columns: dict[str, Any]) -> Instrument:
    action, compass = columns["action"], columns["compass"]
    columns["action"] = None if action is None else Action(action)
    columns["compass"] = None if compass is None else Compass.parse(compass)
    return Instrument(**columns)


def _assessment(columns: dict[str, Any]) -> Assessment:
    columns["occasion"] = Occasion(columns["occasion"])
    return Assessment(**columns)


_BACK: Final[Mapping[str, Callable[[dict[str, Any]], Kept]]] = {
    OwnerRow.__tablename__: _owner,
    InstrumentRow.__tablename__: _instrument,
    AssessmentRow.__tablename__: _assessment,
}


@contextmanager
def _undamaged() -> Iterator[None]:
    try:
        yield
    except (AttributeError, KeyError, TypeError, ValueError) as error:
        raise StoreError(f"a record is damaged ({error}); restore the last backup") from error


def version_data(record: Kept) -> tuple[str, dict[str, Any]]:
    """Return the kind of a record and its columns as plain data, for the table of versions."""
    plain = {name: _plain(value) for name, value in record_columns(record).items()}
    return ROW_OF[type(record)].__tablename__, plain


def record_from_version(kind: str, data: Mapping[str, Any]) -> Kept:
    """Return the record that `version_data` was given."""
    with _undamaged():
        columns = dict(data)
        for name, value in data.items():
            if value is not None and (name == "id" or name.endswith("_id")):
                columns[name] = UUID(value)
            elif value is not None and name.endswith("_at"):
                columns[name] = datetime.fromisoformat(value).astimezone(UTC)
        return _BACK[kind](columns)


def _plain(value: object) -> object:
    if isinstance(value, UUID):
        return str(value)
    return value.isoformat() if isinstance(value, datetime) else value


def event_columns(event: Event) -> dict[str, Any]:
    """Return the columns of an event."""
    schema, data = (None, None) if event.evidence is None else evidence_data(event.evidence)
    return {
        "id": event.id,
        "assessment_id": event.assessment_id,
        "step": event.step.value,
        "item_id": event.item_id,
        "over": sorted(str(one) for one in event.over),
        "schema": schema,
        "data": data,
        "reason": event.reason,
        "author": event.author,
        "at": event.at,
    }


def event_from_row(row: EventRow) -> Event:
    """Return the event of a row."""
    evidence = None if row.schema is None or row.data is None else evidence_from_data(row.schema, row.data)
    return Event(
        id=row.id,
        assessment_id=row.assessment_id,
        step=Step(row.step),
        item_id=row.item_id,
        over=frozenset(UUID(one) for one in row.over),
        evidence=evidence,
        reason=row.reason,
        author=row.author,
        at=row.at,
    )
