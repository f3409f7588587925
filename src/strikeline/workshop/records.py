"""The record of the workshop: whose piano, which piano, each walk round it. Each function is one transaction."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import UTC, datetime
from uuid import UUID

from strikeline.domain.checks import checked_text
from strikeline.domain.instrument import Assessment, Instrument, Kept, Owner
from strikeline.errors import NotFoundError
from strikeline.workshop.ports import Store, UnitOfWork, Version


@dataclass(frozen=True, slots=True, kw_only=True)
class InstrumentLine:
    """An instrument with its owner and its assessments, as in a list of the workshop's pianos."""

    instrument: Instrument
    owner: Owner | None
    assessments: tuple[Assessment, ...]
    """In the order of their beginning."""


def start(record: Kept, *, store: Store, author: str, at: datetime | None = None) -> None:
    """Keep a new owner, instrument or assessment.

    Whoever makes it gives it its id; the same record sent twice is kept once.

    Parameters
    ----------
    record : Owner, Instrument or Assessment
        What is new.
    store : Store
        Where it is kept.
    author : str
        Who says so.
    at : datetime, optional
        When; now if left out.

    Raises
    ------
    NotFoundError
        If the owner or the instrument that it belongs to is not kept.
    ConflictError
        If another record has its id.
    """
    checked_text("author", author, is_needed=True)
    with store.work() as work:
        work.save(record, author=author, at=_moment(at), reason="", replaces=0)
        work.commit()


def correct(record: Kept, *, store: Store, author: str, reason: str, replaces: int, at: datetime | None = None) -> None:
    """Keep a new wording of an owner, instrument or assessment; the former ones stay in its history.

    Parameters
    ----------
    record : Owner, Instrument or Assessment
        The new wording, under the same id.
    store : Store
        Where it is kept.
    author, reason : str
        Who changes it, and why.
    replaces : int
        Number of the version that it was made from; see `versions_of`.
    at : datetime, optional
        When; now if left out.

    Raises
    ------
    ConflictError
        If someone else has changed it since.
    NotFoundError
        If there is no such record.
    """
    checked_text("author", author, is_needed=True)
    checked_text("reason", reason, is_needed=True)
    with store.work() as work:
        latest(work, record.id)
        work.save(record, author=author, at=_moment(at), reason=reason, replaces=replaces)
        work.commit()


def versions_of(record_id: UUID, *, store: Store) -> tuple[Version, ...]:
    """Return every wording that a record ever had, first to last.

    Raises
    ------
    NotFoundError
        If there is no such record.
    """
    with store.reading() as work:
        latest(work, record_id)
        return work.versions(record_id)


def instruments(*, store: Store) -> tuple[InstrumentLine, ...]:
    """Return the workshop's instruments by name."""
    with store.reading() as work:
        owners = {owner.id: owner for owner in work.owners()}
        walks = defaultdict[UUID, list[Assessment]](list)
        for assessment in work.assessments():
            walks[assessment.instrument_id].append(assessment)
        return tuple(
            InstrumentLine(
                instrument=one,
                owner=None if one.owner_id is None else owners[one.owner_id],
                assessments=tuple(walks[one.id]),
            )
            for one in work.instruments()
        )


def latest(work: UnitOfWork, record_id: UUID) -> Version:
    """Return the latest wording of a record, or refuse an id that is not kept."""
    versions = work.versions(record_id)
    if not versions:
        raise NotFoundError(f"there is no record with the id {record_id}")
    return versions[-1]


def _moment(at: datetime | None) -> datetime:
    return datetime.now(tz=UTC) if at is None else at
