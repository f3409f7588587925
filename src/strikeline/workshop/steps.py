"""How far a listening is, in one number that never falls and a few words."""

from __future__ import annotations

from typing import Final

from strikeline.workshop.ports import Progress

_HEARING_SHARE: Final = 0.4
"""Share of the whole time that goes into hearing; the rest goes into measuring (from timings of our own)."""


class Steps:
    """Turns the steps of a listening into calls of a `Progress`."""

    def __init__(self, progress: Progress | None) -> None:
        self._progress = progress
        self._furthest = 0.0

    def heard(self, heard_s: float, duration_s: float | None) -> None:
        """Tell that `heard_s` seconds of the recording were heard."""
        share = min(1.0, heard_s / duration_s) if duration_s else 0.0
        self._tell(_HEARING_SHARE * share, f"listening, {_clock(heard_s)}")

    def measured(self, n_done: int, n_notes: int) -> None:
        """Tell that `n_done` of `n_notes` notes were measured."""
        words = f"measuring note {min(n_done + 1, n_notes)} of {n_notes}"
        self._tell(_HEARING_SHARE + (1.0 - _HEARING_SHARE) * n_done / max(1, n_notes), words)

    def finished(self) -> None:
        """Tell that the listening is complete."""
        self._tell(1.0, "done")

    def _tell(self, fraction: float, words: str) -> None:
        self._furthest = max(self._furthest, fraction)
        if self._progress is not None:
            self._progress(self._furthest, words)


def _clock(seconds: float) -> str:
    minutes, rest = divmod(int(seconds), 60)
    return f"{minutes}:{rest:02d}"
