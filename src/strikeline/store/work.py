"""A unit of work: everything one use case reads and writes, in one transaction that the use case owns."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from typing import Any, Final, cast
from uuid import UUID

from sqlalchemy import ColumnElement, CursorResult, select, update
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.orm import Session

from strikeline.domain.evidence import Event, media_of
from strikeline.domain.instrument import Assessment, Instrument, Kept, Owner
from strikeline.errors import ConflictError, NotFoundError
from strikeline.store.rows import (
    ROW_OF,
    assessments_from,
    columns_of,
    event_columns,
    event_from_row,
    instruments_from,
    owners_from,
    record_columns,
    record_from_version,
    version_data,
)
from strikeline.store.tables import (
    AssessmentRow,
    EventFileRow,
    EventRow,
    FileRow,
    InstrumentRow,
    OwnerRow,
    Table,
    VersionRow,
)
from strikeline.workshop.ports import KeptFile, Version

_AT_ONCE: Final = 500
"""Values in one question; SQLite took at most 999 until 2020."""


class Work:
    """One transaction; fulfils `strikeline.workshop.ports.UnitOfWork`.

    Parameters
    ----------
    session : Session
        Begun by the database, which rolls it back unless `commit` was called.
    """

    def __init__(self, session: Session) -> None:
        self._session = session

    def commit(self) -> None:
        """Keep everything that was written."""
        self._session.commit()

    def owners(self) -> tuple[Owner, ...]:
        """Return all owners by name."""
        asked = select(*columns_of(OwnerRow)).order_by(OwnerRow.name, OwnerRow.id)
        return owners_from(self._session.execute(asked))

    def instruments(self) -> tuple[Instrument, ...]:
        """Return all instruments by name."""
        asked = select(*columns_of(InstrumentRow)).order_by(InstrumentRow.name, InstrumentRow.id)
        return instruments_from(self._session.execute(asked))

    def assessments(self, instrument_id: UUID | None = None) -> tuple[Assessment, ...]:
        """Return the assessments of one instrument, or all, in the order of their beginning."""
        asked = select(*columns_of(AssessmentRow)).order_by(AssessmentRow.begun_at, AssessmentRow.id)
        if instrument_id is not None:
            asked = asked.where(AssessmentRow.instrument_id == instrument_id)
        return assessments_from(self._session.execute(asked))

    def versions(self, record_id: UUID) -> tuple[Version, ...]:
        """Return every wording of an owner, instrument or assessment, first to last; empty if there is none."""
        asked = select(VersionRow).where(VersionRow.record_id == record_id).order_by(VersionRow.number)
        return tuple(
            Version(
                record=record_from_version(row.kind, row.data),
                number=row.number,
                author=row.author,
                at=row.at,
                reason=row.reason,
            )
            for row in self._session.scalars(asked)
        )

    def save(self, record: Kept, *, author: str, at: datetime, reason: str, replaces: int) -> None:
        """Add a wording of a record.

        Parameters
        ----------
        record : Owner, Instrument or Assessment
            The new wording.
        author, at, reason : str, datetime, str
            Who, when and why.
        replaces : int
            Number of the wording it was made from, 0 for a new record. The same record saved again as the same wording
            is no mistake: whoever got no answer may send it twice.

        Raises
        ------
        ConflictError
            If someone else has changed it since, or another record has its id.
        NotFoundError
            If the owner or instrument that it belongs to does not exist.
        """
        self._need_what_it_belongs_to(record)
        kind, data = version_data(record)
        if not self._write_latest(record, replaces):
            known = {version.number: version.record for version in self.versions(record.id)}
            if known.get(replaces + 1) == record:
                return
            if not known and replaces:
                raise NotFoundError(f"there is no {kind} with the id {record.id}; it must be made before it is changed")
            raise ConflictError(
                f"the {kind} {record.id} was changed by someone else: version {max(known, default=0)} is kept, yours "
                f"was made from version {replaces}; look at what is there and make your change again"
            )
        version = {"record_id": record.id, "number": replaces + 1, "kind": kind, "data": data}
        if not self._insert_new(VersionRow, [version | {"author": author, "at": at, "reason": reason}]):
            raise ConflictError(f"the id {record.id} is that of another kind of record; give the {kind} one of its own")

    def _need_what_it_belongs_to(self, record: Kept) -> None:
        if isinstance(record, Instrument) and record.owner_id is not None:
            self._need(OwnerRow.id, {record.owner_id}, "owner")
        if isinstance(record, Assessment):
            self._need(InstrumentRow.id, {record.instrument_id}, "instrument")

    def _write_latest(self, record: Kept, replaces: int) -> bool:
        """Write the latest wording and return whether the one before was the one expected."""
        row = ROW_OF[type(record)]
        columns = record_columns(record) | {"version": replaces + 1}
        if replaces == 0:
            return self._insert_new(row, [columns]) == 1
        changed = self._session.execute(
            update(row).where(row.id == record.id, row.version == replaces).values(columns),
            execution_options={"synchronize_session": False},
        )
        self._session.expire_all()
        return cast("CursorResult[Any]", changed).rowcount == 1

    def add_file(self, file: KeptFile, *, at: datetime) -> None:
        """Register a file that the shelf keeps; registering it again changes nothing."""
        self._insert_new(FileRow, [{"sha256": file.sha256, "n_bytes": file.n_bytes, "added_at": at}])

    def files(self) -> tuple[KeptFile, ...]:
        """Return all registered files, by hash."""
        rows = self._session.scalars(select(FileRow).order_by(FileRow.sha256))
        return tuple(KeptFile(sha256=row.sha256, n_bytes=row.n_bytes) for row in rows)

    def add_events(self, events: Sequence[Event]) -> int:
        """Add events, in any order.

        Parameters
        ----------
        events : sequence of Event
            Also such as are there already: they must be the same, and are left as they are.

        Returns
        -------
        int
            How many are new.

        Raises
        ------
        ConflictError
            If an event of the same id is there with other content.
        NotFoundError
            If an assessment or a file that they belong to does not exist.
        """
        given = dict[UUID, Event]()
        for event in events:
            if given.setdefault(event.id, event) != event:
                raise _other_event(event)
        self._need(AssessmentRow.id, {event.assessment_id for event in given.values()}, "assessment")
        self._need(FileRow.sha256, {one for event in given.values() for one in media_of(event.evidence)}, "file")
        known = self._events_among(given)
        # In one order for all, so that two writers of the same events never wait for each other.
        fresh = [given[one] for one in sorted(given.keys() - known.keys())]
        self._insert_new(EventRow, [event_columns(event) for event in fresh])
        files = [{"event_id": event.id, "sha256": one} for event in fresh for one in media_of(event.evidence)]
        self._insert_new(EventFileRow, files)
        for event in self._events_among(given).values():
            if event != given[event.id]:
                raise _other_event(event)
        return len(fresh)

    def events(self, assessment_id: UUID) -> tuple[Event, ...]:
        """Return the events of an assessment by their moments."""
        asked = select(EventRow).where(EventRow.assessment_id == assessment_id).order_by(EventRow.at, EventRow.id)
        return tuple(event_from_row(row) for row in self._session.scalars(asked))

    def event(self, event_id: UUID) -> Event:
        """Return one event.

        Raises
        ------
        NotFoundError
            If there is none.
        """
        row = self._session.get(EventRow, event_id)
        if row is None:
            raise NotFoundError(f"there is no event with the id {event_id}")
        return event_from_row(row)

    def _events_among(self, ids: Iterable[UUID]) -> dict[UUID, Event]:
        return {
            row.id: event_from_row(row)
            for some in _some_at_a_time(ids)
            for row in self._session.scalars(select(EventRow).where(EventRow.id.in_(some)))
        }

    def _need(self, column: Any, values: set[Any], what: str) -> None:
        """Refuse what refers to rows that are not there."""
        found = set[Any]()
        for some in _some_at_a_time(values):
            condition: ColumnElement[bool] = column.in_(some)
            found.update(self._session.scalars(select(column).where(condition)))
        if missing := sorted(str(one) for one in values - found):
            raise NotFoundError(f"there is no {what} {', '.join(missing[:3])}; it must be kept first")

    def _insert_new(self, table: type[Table], rows: Sequence[dict[str, Any]]) -> int:
        """Insert the rows whose key is not there yet; return how many were, exact for a single row."""
        if not rows:
            return 0
        on_sqlite = self._session.get_bind().dialect.name == "sqlite"
        insert: Any = (sqlite if on_sqlite else postgresql).insert(table).on_conflict_do_nothing()
        connection = self._session.connection()
        if len(rows) > 1:
            connection.execute(insert, list(rows))
            return len(rows)
        return connection.execute(insert.values(rows[0]), execution_options={"preserve_rowcount": True}).rowcount


def _some_at_a_time(values: Iterable[Any]) -> Iterator[list[Any]]:
    every = list(values)
    for start in range(0, len(every), _AT_ONCE):
        yield every[start : start + _AT_ONCE]


def _other_event(event: Event) -> ConflictError:
    return ConflictError(
        f"an event with the id {event.id} is kept already with other content; an event is never altered: "
        "make a new one that changes it"
    )
