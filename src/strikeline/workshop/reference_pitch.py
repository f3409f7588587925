"""The pitch of A4 that an instrument is compared with."""

from __future__ import annotations

from typing import Final

from strikeline.errors import InputError

_A4_RANGE_HZ: Final = (380.0, 480.0)
"""Below the lowest and above the highest pitch that pianos were ever built for (common practice, no source)."""


def check_a4_hz(a4_hz: float) -> None:
    """Refuse a reference that no piano was built for.

    Raises
    ------
    InputError
        If `a4_hz` is not 380 to 480 Hz.
    """
    low, high = _A4_RANGE_HZ
    if not low <= a4_hz <= high:
        raise InputError.of("a4_hz", a4_hz, f"{low:.0f} to {high:.0f} Hz", advice="440 is usual")
