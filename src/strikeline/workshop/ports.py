"""What the use cases need from outside: a sound that can be read twice, someone to tell how far they are, a store."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO, Protocol
from uuid import UUID

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    # Who only listens need not load the record.
    from strikeline.domain.evidence import Event
    from strikeline.domain.instrument import Assessment, Instrument, Kept, Owner

Progress = Callable[[float, str], None]
"""Called from the caller's own thread with the share of the work done, 0 to 1 and never falling, and what is being
done in words."""


class SoundCodec(Protocol):
    """How a sound is coded in its file."""

    @property
    def name(self) -> str:
        """Name of the coding, for example ``aac`` or ``pcm_s16le``."""
        ...

    @property
    def is_lossy(self) -> bool:
        """Whether the coding leaves out parts of the sound."""
        ...

    @property
    def bit_rate(self) -> int | None:
        """Bits per second, or ``None`` when the file does not say."""
        ...


class SoundSource(Protocol):
    """A recorded sound, read in blocks and never held whole in memory."""

    @property
    def sha256(self) -> str:
        """Hash of the file, hexadecimal."""
        ...

    @property
    def sample_rate_hz(self) -> int:
        """Samples per second of the file, which is never resampled."""
        ...

    @property
    def n_channels(self) -> int:
        """Number of channels, 1 or more."""
        ...

    @property
    def duration_s(self) -> float | None:
        """Length as the file claims it, or ``None`` when it does not say."""
        ...

    @property
    def codec(self) -> SoundCodec:
        """How the sound is coded."""
        ...

    @property
    def broke_off(self) -> str | None:
        """Why the file ended early or had damaged parts, in words; known once `blocks` has been read to its end."""
        ...

    def blocks(self) -> Iterator[NDArray[np.float32]]:
        """Return the sound in order as blocks of shape (n, n_channels), about one second each.

        May be called again: each call starts at the beginning of the file.
        """
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptFile:
    """A recording or photograph that is kept beside the database, under the hash of its content."""

    sha256: str
    n_bytes: int


class MediaShelf(Protocol):
    """Where recordings and photographs are kept: each once, never altered."""

    def keep(self, source: Path | BinaryIO) -> KeptFile:
        """Copy a file whole or not at all; one that is there already is left as it is."""
        ...

    def path_of(self, sha256: str) -> Path:
        """Return where a kept file is, after its content has been checked against its hash."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Version:
    """One wording of a record."""

    record: Kept
    number: int
    """1 for the first."""
    author: str
    at: datetime
    reason: str


class UnitOfWork(Protocol):
    """All that one use case reads and writes: kept together when it says so, or not at all."""

    def commit(self) -> None:
        """Keep everything that was written."""
        ...

    def owners(self) -> tuple[Owner, ...]:
        """Return all owners by name."""
        ...

    def instruments(self) -> tuple[Instrument, ...]:
        """Return all instruments by name."""
        ...

    def assessments(self, instrument_id: UUID | None = None) -> tuple[Assessment, ...]:
        """Return the assessments of one instrument, or all, in the order of their beginning."""
        ...

    def versions(self, record_id: UUID) -> tuple[Version, ...]:
        """Return every wording of an owner, instrument or assessment, first to last; empty if there is none."""
        ...

    def save(self, record: Kept, *, author: str, at: datetime, reason: str, replaces: int) -> None:
        """Add a wording of a record.

        Parameters
        ----------
        record : Owner, Instrument or Assessment
            The new wording.
        author, at, reason : str, datetime, str
            Who, when and why.
        replaces : int
            Number of the wording it was made from, 0 for a new record.
        """
        ...

    def add_file(self, file: KeptFile, *, at: datetime) -> None:
        """Register a file that the shelf keeps."""
        ...

    def files(self) -> tuple[KeptFile, ...]:
        """Return all registered files, by hash."""
        ...

    def add_events(self, events: Sequence[Event]) -> int:
        """Add events and return how many are new; one that is there already must be the same."""
        ...

    def events(self, assessment_id: UUID) -> tuple[Event, ...]:
        """Return the events of an assessment by their moments."""
        ...

    def event(self, event_id: UUID) -> Event:
        """Return one event."""
        ...


class Store(Protocol):
    """A database that keeps the record."""

    def work(self) -> AbstractContextManager[UnitOfWork]:
        """Return a unit of work; what is not committed before its end is undone."""
        ...

    def reading(self) -> AbstractContextManager[UnitOfWork]:
        """Return a unit of work that only reads, of one moment, and never makes a writer wait."""
        ...
