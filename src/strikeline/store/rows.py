"""Records and events as rows of the tables, and back."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any, Final
from uuid import UUID

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
_KIND_OF: Final = {row.__tablename__: record for record, row in ROW_OF.items()}


def record_columns(record: Kept) -> dict[str, Any]:
    """Return the columns of a record, without the number of its version."""
    columns = {name: getattr(record, name) for name in type(record).__dataclass_fields__}
    if isinstance(record, Instrument):
        columns["action"] = None if record.action is None else record.action.value
        columns["compass"] = None if record.compass is None else str(record.compass)
    elif isinstance(record, Assessment):
        columns["occasion"] = record.occasion.value
    return columns


def record_from_columns(kind: type[Kept], columns: Mapping[str, Any]) -> Kept:
    """Return the record whose columns `record_columns` gave.

    Raises
    ------
    StoreError
        If a column holds what no record can hold.
    """
    fields = {name: columns[name] for name in kind.__dataclass_fields__}
    try:
        if kind is Instrument:
            fields["action"] = None if fields["action"] is None else Action(fields["action"])
            fields["compass"] = None if fields["compass"] is None else Compass.parse(fields["compass"])
        elif kind is Assessment:
            fields["occasion"] = Occasion(fields["occasion"])
        return kind(**fields)
    except (KeyError, TypeError, ValueError) as error:
        raise StoreError(f"record {columns.get('id')} is damaged ({error}); restore the last backup") from error


def record_from_row(kind: type[Kept], row: OwnerRow | InstrumentRow | AssessmentRow) -> Kept:
    """Return the record of a row."""
    return record_from_columns(kind, {name: getattr(row, name) for name in kind.__dataclass_fields__})


def version_data(record: Kept) -> tuple[str, dict[str, Any]]:
    """Return the kind of a record and its columns as plain data, for the table of versions."""
    plain = {name: _plain(value) for name, value in record_columns(record).items()}
    return ROW_OF[type(record)].__tablename__, plain


def record_from_version(kind: str, data: Mapping[str, Any]) -> Kept:
    """Return the record that `version_data` was given."""
    columns = dict(data)
    for name, value in data.items():
        if value is not None and (name == "id" or name.endswith("_id")):
            columns[name] = UUID(value)
        elif value is not None and name.endswith("_at"):
            columns[name] = datetime.fromisoformat(value).astimezone(UTC)
    return record_from_columns(_KIND_OF[kind], columns)


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
