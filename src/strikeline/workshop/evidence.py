"""Taking evidence in, changing it with a reason, taking it back, and what stands. Each function is one transaction."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import BinaryIO
from uuid import UUID, uuid4

from strikeline.domain.catalogue import Catalogue
from strikeline.domain.evidence import Event, Evidence, RecordedSound, Step
from strikeline.domain.present import Item, Present, fold, history
from strikeline.domain.reading import Reading
from strikeline.errors import InputError
from strikeline.workshop.ports import MediaShelf, Store, UnitOfWork
from strikeline.workshop.readings import read_readings, value_of


def _now() -> datetime:
    return datetime.now(tz=UTC)


@dataclass(frozen=True, slots=True, kw_only=True)
class Hand:
    """Who does it, by which clock, and where new identities come from."""

    author: str
    now: Callable[[], datetime] = _now
    new_id: Callable[[], UUID] = field(default=uuid4)

    def states(self, assessment_id: UUID, evidence: Evidence) -> Event:
        """Return the event that states something new."""
        own = self.new_id()
        return Event(
            id=own,
            assessment_id=assessment_id,
            step=Step.STATED,
            item_id=own,
            evidence=evidence,
            author=self.author,
            at=self.now(),
        )


def state(assessment_id: UUID, evidence: Iterable[Evidence], *, store: Store, hand: Hand) -> tuple[Event, ...]:
    """Keep new evidence, all of it or none.

    Parameters
    ----------
    assessment_id : UUID
        Of which walk.
    evidence : iterable of Reading, RecordedSound, Observation, Note or OtherEvidence
        The files it rests on must be kept already.
    store : Store
        Where it is kept.
    hand : Hand
        Who.

    Returns
    -------
    tuple of Event
        In the same order.

    Raises
    ------
    NotFoundError
        If there is no such assessment, or a file is not kept.
    """
    events = tuple(hand.states(assessment_id, one) for one in evidence)
    with store.work() as work:
        work.add_events(events)
        work.commit()
    return events


def state_table(
    assessment_id: UUID, table: str, *, catalogue: Catalogue, store: Store, hand: Hand
) -> tuple[Event, ...]:
    """Keep the readings of a typed table, all of them or none.

    Parameters
    ----------
    assessment_id : UUID
        Of which walk.
    table : str
        In one of the forms of `strikeline.workshop.readings`.
    catalogue : Catalogue
        What may be measured.
    store : Store
        Where they are kept.
    hand : Hand
        Who measured.

    Raises
    ------
    EntryError
        If the table has mistakes; nothing is kept then.
    NotFoundError
        If there is no such assessment.
    """
    return state(assessment_id, read_readings(table, catalogue=catalogue), store=store, hand=hand)


def take_in(
    assessment_id: UUID,
    source: Path | BinaryIO,
    *,
    store: Store,
    shelf: MediaShelf,
    hand: Hand,
    describe: Callable[[str], RecordedSound],
) -> Event:
    """Keep a recording: first its file, then, in one transaction, what is known of it.

    A power cut in between leaves a file that nobody knows of, never a recording without its file.

    Parameters
    ----------
    assessment_id : UUID
        Of which walk.
    source : Path or binary file
        The sound file as it came.
    store, shelf : Store, MediaShelf
        Where they are kept.
    hand : Hand
        Who brings it.
    describe : callable
        Given the hash of the file, returns what is known of the recording.

    Raises
    ------
    NotFoundError
        If there is no such assessment, or the file cannot be found.
    StoreError
        If it cannot be kept.
    """
    kept = shelf.keep(source)
    recording = describe(kept.sha256)
    if recording.sha256 != kept.sha256:
        raise InputError.of("sha256", recording.sha256, f"that of the file, {kept.sha256}")
    event = hand.states(assessment_id, recording)
    with store.work() as work:
        work.add_file(kept, at=event.at)
        work.add_events([event])
        work.commit()
    return event


def keep_photograph(source: Path | BinaryIO, *, store: Store, shelf: MediaShelf, hand: Hand) -> str:
    """Keep a file that an observation will rest on, and return its hash.

    Parameters
    ----------
    source : Path or binary file
        The photograph as it came.
    store, shelf : Store, MediaShelf
        Where it is kept.
    hand : Hand
        Who brings it.
    """
    kept = shelf.keep(source)
    with store.work() as work:
        work.add_file(kept, at=hand.now())
        work.commit()
    return kept.sha256


def change(seen: Event, evidence: Evidence, *, reason: str, store: Store, hand: Hand) -> Event:
    """Say something anew; the former wording stays in the history.

    Who changes something that someone else has changed meanwhile loses nothing and overrules nobody: both stand, as
    rivals, until a person settles it with `settle`.

    Parameters
    ----------
    seen : Event
        What was on the screen when the change was made.
    evidence : Reading, RecordedSound, Observation, Note or OtherEvidence
        What it says now; the same kind of evidence.
    reason : str
        Why.
    store : Store
        Where it is kept.
    hand : Hand
        Who.

    Raises
    ------
    InputError
        If it is another kind of evidence, or there is no reason.
    """
    return _change(seen, frozenset({seen.id}), evidence, reason=reason, store=store, hand=hand)


def change_reading(seen: Event, written: str, *, reason: str, catalogue: Catalogue, store: Store, hand: Hand) -> Event:
    """Correct a reading as people write it.

    Parameters
    ----------
    seen : Event
        The reading that was on the screen.
    written : str
        The figure, with or without a unit.
    reason : str
        Why.
    catalogue : Catalogue
        What may be measured.
    store : Store
        Where it is kept.
    hand : Hand
        Who.

    Raises
    ------
    InputError
        If it is no reading, cannot be read or is not possible.
    """
    if not isinstance(seen.evidence, Reading):
        raise InputError.of("seen", seen.step.value, "a reading")
    value = value_of(catalogue.find(seen.evidence.quantity), written)
    return change(seen, replace(seen.evidence, value=value, written=written), reason=reason, store=store, hand=hand)


def settle(item: Item, evidence: Evidence, *, reason: str, store: Store, hand: Hand) -> Event:
    """Say what holds where two changes stand against each other.

    Parameters
    ----------
    item : Item
        With its rivals.
    evidence : Reading, RecordedSound, Observation, Note or OtherEvidence
        What holds.
    reason : str
        Why.
    store : Store
        Where it is kept.
    hand : Hand
        Who.
    """
    heads = frozenset({item.by.id, *(rival.id for rival in item.rivals)})
    return _change(item.by, heads, evidence, reason=reason, store=store, hand=hand)


def _change(seen: Event, over: frozenset[UUID], evidence: Evidence, *, reason: str, store: Store, hand: Hand) -> Event:
    if type(evidence) is not type(seen.evidence):
        raise InputError.of("evidence", type(evidence).__name__, f"a {type(seen.evidence).__name__} as before")
    event = Event(
        id=hand.new_id(),
        assessment_id=seen.assessment_id,
        step=Step.CHANGED,
        item_id=seen.item_id,
        over=over,
        evidence=evidence,
        reason=reason,
        author=hand.author,
        at=hand.now(),
    )
    with store.work() as work:
        _need(work, over)
        work.add_events([event])
        work.commit()
    return event


def undo(event_id: UUID, *, store: Store, hand: Hand, reason: str = "undone") -> Event:
    """Take an event back.

    A change gives way to what it replaced, a statement goes with all its changes, and what a withdrawal took back comes
    again.

    Parameters
    ----------
    event_id : UUID
        Which.
    store : Store
        Where it is kept.
    hand : Hand
        Who.
    reason : str
        Why.

    Raises
    ------
    NotFoundError
        If there is no such event.
    """
    with store.work() as work:
        taken = work.event(event_id)
        event = Event(
            id=hand.new_id(),
            assessment_id=taken.assessment_id,
            step=Step.WITHDRAWN,
            item_id=taken.item_id,
            over=frozenset({taken.id}),
            reason=reason,
            author=hand.author,
            at=hand.now(),
        )
        work.add_events([event])
        work.commit()
    return event


def merge(events: Sequence[Event], *, store: Store) -> int:
    """Join what another tablet recorded, in any order and as often as it sends it; return how many events are new.

    Parameters
    ----------
    events : sequence of Event
        All of it is kept, or none.
    store : Store
        Where.

    Raises
    ------
    ConflictError
        If an event of the same id is kept with other content.
    NotFoundError
        If an assessment or a file that they belong to is not kept.
    """
    with store.work() as work:
        n_new = work.add_events(events)
        work.commit()
    return n_new


def present(assessment_id: UUID, *, store: Store) -> Present:
    """Return what stands of an assessment."""
    return fold(events_of(assessment_id, store=store))


def history_of(event_id: UUID, *, store: Store) -> tuple[Event, ...]:
    """Return all that was ever said of the thing that an event is about, earliest first.

    Raises
    ------
    NotFoundError
        If there is no such event.
    """
    with store.reading() as work:
        event = work.event(event_id)
        return history(work.events(event.assessment_id), event.item_id)


def events_of(assessment_id: UUID, *, store: Store) -> tuple[Event, ...]:
    """Return all events of an assessment by their moments, for another tablet or an export."""
    with store.reading() as work:
        return work.events(assessment_id)


def _need(work: UnitOfWork, ids: Iterable[UUID]) -> None:
    for one in ids:
        work.event(one)
