"""What the use cases need from outside: a sound that can be read twice, and someone to tell how far they are."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

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
