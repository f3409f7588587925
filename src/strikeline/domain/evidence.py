"""Evidence as events that are only ever added: what was seen, heard, measured or written, by whom and when.

A change is a new event that replaces what it names and says why; undo is a new event that withdraws. Whoever makes an
event gives it its identity, so that two tablets that worked apart are joined as a union, in whatever order.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum
from typing import Any
from uuid import UUID

from strikeline.acoustics.listening import Kind
from strikeline.domain.checks import checked_moment, checked_sha256, checked_text
from strikeline.domain.observation import Observation
from strikeline.domain.reading import Reading
from strikeline.errors import InputError


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedSound:
    """A recording that was taken in; the sound itself is kept by its hash."""

    sha256: str
    kind: Kind
    recorded_at: datetime | None = None
    """``None`` where nobody knows."""
    recorded_by: str = ""
    microphone: str = ""
    file_name: str = ""
    """What the file was called when it came."""
    remarks: str = ""

    def __post_init__(self) -> None:
        checked_sha256("sha256", self.sha256)
        if self.recorded_at is not None:
            object.__setattr__(self, "recorded_at", checked_moment("recorded_at", self.recorded_at))
        for name in ("recorded_by", "microphone", "file_name", "remarks"):
            checked_text(name, getattr(self, name))


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """An entry of the diary."""

    text: str

    def __post_init__(self) -> None:
        checked_text("note", self.text, is_needed=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherEvidence:
    """Evidence in a form that this program has no record for, kept as plain data.

    What a tablet with a newer program sends is not lost.
    """

    schema: str
    """Name and number of the form, such as ``strikeline.photograph_marks/1``."""
    data: Mapping[str, Any]
    """Words, numbers, lists and the like, ready for JSON."""
    photographs: tuple[str, ...] = ()
    """SHA-256 of each."""

    def __post_init__(self) -> None:
        checked_text("schema", self.schema, is_needed=True)
        for sha256 in self.photographs:
            checked_sha256("photograph", sha256)
        try:
            # What comes back from a database must equal what went in: lists for tuples, words for keys.
            written = json.dumps(dict(self.data), allow_nan=False, ensure_ascii=False)
        except (TypeError, ValueError) as error:
            raise InputError(f"the evidence is no plain data: {error}", name="data") from error
        if "\\u0000" in written:
            raise InputError.of("data", "…", "text without null characters")
        object.__setattr__(self, "data", json.loads(written))


Evidence = Reading | RecordedSound | Observation | Note | OtherEvidence


def media_of(evidence: Evidence | None) -> tuple[str, ...]:
    """Return the hashes of the files that a piece of evidence rests on, each once."""
    match evidence:
        case RecordedSound():
            return (evidence.sha256,)
        case Observation() | OtherEvidence():
            return tuple(dict.fromkeys(evidence.photographs))
        case _:
            return ()


class Step(StrEnum):
    """What an event does."""

    STATED = "stated"
    """Something new."""
    CHANGED = "changed"
    """A new wording or value of what was stated."""
    WITHDRAWN = "withdrawn"
    """Takes an event back: a statement with all its changes, one change, or a withdrawal."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """One step of the evidence of an assessment; never altered once made."""

    id: UUID
    assessment_id: UUID
    step: Step
    item_id: UUID
    """The event that first stated what this is about; its own id for a statement."""
    over: frozenset[UUID] = field(default_factory=frozenset)
    """The events it replaces (a change), or the one it takes back (a withdrawal)."""
    evidence: Evidence | None = None
    """``None`` for a withdrawal."""
    reason: str = ""
    author: str
    at: datetime
    """By the clock of whoever made it. Clocks go wrong: what replaces what is said by `over`."""

    def __post_init__(self) -> None:
        object.__setattr__(self, "at", checked_moment("at", self.at))
        checked_text("author", self.author, is_needed=True)
        checked_text("reason", self.reason, is_needed=self.step is not Step.STATED)
        if isinstance(self.evidence, Reading):
            for name in ("quantity", "place", "condition", "written"):
                checked_text(name, getattr(self.evidence, name))
        if isinstance(self.evidence, Observation):
            signs = (*self.evidence.seen, *self.evidence.not_seen, *self.evidence.measures)
            for text in (self.evidence.kind, self.evidence.where, self.evidence.remark, *signs):
                checked_text("observation", text)
        if self.id in self.over:
            raise InputError.of("over", str(self.id), "other events than itself")
        fits = {
            Step.STATED: self.item_id == self.id and not self.over and self.evidence is not None,
            Step.CHANGED: self.item_id != self.id and bool(self.over) and self.evidence is not None,
            Step.WITHDRAWN: self.item_id != self.id and len(self.over) == 1 and self.evidence is None,
        }
        if not fits[self.step]:
            raise InputError.of("event", self.step.value, _FORMS[self.step])


_FORMS = {
    Step.STATED: "evidence of its own and nothing that it replaces",
    Step.CHANGED: "evidence, and the events of another statement that it replaces",
    Step.WITHDRAWN: "no evidence, and the one event that it takes back",
}
