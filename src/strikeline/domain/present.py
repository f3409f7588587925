"""The present state of an assessment: the sum of its events, the same in whatever order they came in."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from uuid import UUID

from strikeline.domain.evidence import Event, Evidence, Step


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One piece of evidence as it stands now."""

    id: UUID
    """That of the event that stated it."""
    evidence: Evidence
    by: Event
    """The event that says so."""
    rivals: tuple[Event, ...] = ()
    """Changes of the same thing made by others who did not know of it, latest first; to be settled by a person."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Present:
    """What stands, what was taken back, and what waits for the rest of its story."""

    items: tuple[Item, ...]
    """By moment of their first statement."""
    withdrawn: tuple[Event, ...]
    """Statements that were taken back."""
    waiting: tuple[Event, ...] = ()
    """Events about a statement that has not arrived yet, from a tablet that has not sent everything."""


def fold(events: Iterable[Event]) -> Present:
    """Return the present state.

    A change stands unless a standing change replaces it, whatever their clocks say. Where several stand, made by people
    who did not know of each other, the latest is shown and the others are its rivals. A change of a withdrawn statement
    does not bring it back; a withdrawal of the withdrawal does.

    Parameters
    ----------
    events : iterable of Event
        Of one assessment, in any order; an event that comes twice counts once.

    Returns
    -------
    Present
        The same for every order.
    """
    by_id = {event.id: event for event in events}
    standing = _standing(by_id)
    stories = defaultdict[UUID, list[Event]](list)
    for event in sorted(by_id.values(), key=_moment):
        stories[event.item_id].append(event)
    items, withdrawn, waiting = list[Item](), list[Event](), list[Event]()
    for item_id, story in stories.items():
        statement = by_id.get(item_id)
        if statement is None or statement.step is not Step.STATED:
            waiting += story
        elif item_id not in standing:
            withdrawn.append(statement)
        else:
            items.append(_item(item_id, story, standing))
    items.sort(key=lambda item: _moment(by_id[item.id]))
    return Present(
        items=tuple(items),
        withdrawn=tuple(sorted(withdrawn, key=_moment)),
        waiting=tuple(sorted(waiting, key=_moment)),
    )


def history(events: Iterable[Event], item_id: UUID) -> tuple[Event, ...]:
    """Return all that was ever said of one piece of evidence, each after what it replaces or takes back.

    Parameters
    ----------
    events : iterable of Event
        Of its assessment.
    item_id : UUID
        The event that stated it.

    Returns
    -------
    tuple of Event
        Earliest first; empty if there is no such item.
    """
    left = {event.id: event for event in events if event.item_id == item_id}
    told = list[Event]()
    while left:
        # Clocks may be wrong, what replaces what is not: only of those that are free does the moment decide.
        free = [one for one in left.values() if not one.over & left.keys()] or list(left.values())
        following = min(free, key=lambda one: (one.step is not Step.STATED, *_moment(one)))
        told.append(left.pop(following.id))
    return tuple(told)


def _moment(event: Event) -> tuple[object, ...]:
    return event.at, event.id


def _standing(by_id: Mapping[UUID, Event]) -> frozenset[UUID]:
    """Return the events that no standing withdrawal takes back.

    Withdrawals that take each other back in a ring have no order: all in the ring stand, so that what they cannot agree
    on is shown and not hidden.
    """
    backs = defaultdict[UUID, list[UUID]](list)
    for event in by_id.values():
        if event.step is Step.WITHDRAWN:
            (target,) = event.over
            target_event = by_id.get(target)
            if target_event is not None and target_event.item_id == event.item_id:
                backs[target].append(event.id)
    unsettled = {target: set(backs[target]) for target in backs}
    ready = [one for one in by_id if one not in unsettled]
    standing, fallen = set[UUID](), set[UUID]()
    while ready:
        settled = ready.pop()
        (fallen if any(one in standing for one in backs.get(settled, ())) else standing).add(settled)
        event = by_id[settled]
        for target in event.over if event.step is Step.WITHDRAWN else ():
            if target in unsettled and settled in unsettled[target]:
                unsettled[target].discard(settled)
                if not unsettled[target]:
                    ready.append(target)
    return frozenset(by_id.keys() - fallen)


def _item(item_id: UUID, story: list[Event], standing: frozenset[UUID]) -> Item:
    """Return what stands of one statement that is itself standing."""
    over = {event.id: event.over for event in story}
    candidates = [event for event in story if event.id in standing and event.evidence is not None]
    replaced = {one for event in candidates for one in _all_before(event.id, over)}
    heads = [event for event in candidates if event.id not in replaced] or candidates
    shown, *rivals = sorted(heads, key=_moment, reverse=True)
    assert shown.evidence is not None  # noqa: S101  # candidates have evidence; this tells the type checker
    return Item(id=item_id, evidence=shown.evidence, by=shown, rivals=tuple(rivals))


def _all_before(event_id: UUID, over: Mapping[UUID, frozenset[UUID]]) -> set[UUID]:
    """Return what an event replaces, and what that replaced in its turn, also where the step between was withdrawn."""
    before, left = set[UUID](), [event_id]
    while left:
        for one in over.get(left.pop(), frozenset()) - before:
            before.add(one)
            left.append(one)
    return before
