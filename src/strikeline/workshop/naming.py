"""Give the strikes their keys: a whole pass together, or one note by itself."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from strikeline.acoustics.identity import Naming, StrikeEvidence, name_strikes
from strikeline.errors import SignalError
from strikeline.keyboard import Compass, key_name


def name_pass(evidence: Sequence[StrikeEvidence], *, compass: Compass | None, a4_hz: float) -> Naming:
    """Return the keys of a whole pass, found together.

    Parameters
    ----------
    evidence : sequence of StrikeEvidence
        One for each strike, in the order of time.
    compass : Compass or None
        Keys the instrument has, if known.
    a4_hz : float
        Frequency of A4 that the instrument is compared with.

    Raises
    ------
    SignalError
        If not one sound is a piano note.
    """
    naming = name_strikes(evidence, compass=compass, a4_hz=a4_hz)
    if all(key is None for key in naming.keys):
        count = "the one sound" if len(evidence) == 1 else f"none of the {len(evidence)} sounds"
        verb = "is no piano note" if len(evidence) == 1 else "is a piano note"
        raise SignalError(f"{count} in the recording {verb} that can be recognised: speech or noise only")
    return naming


def name_note(
    evidence: Sequence[StrikeEvidence],
    peaks: Sequence[float],
    *,
    note: int | None,
    compass: Compass | None,
    a4_hz: float,
) -> Naming:
    """Return the key of the one note, the loudest strike; other strikes stay unnamed.

    Parameters
    ----------
    evidence, peaks : sequence
        Evidence and largest sample of each strike.
    note : int or None
        The key as the player says. It is believed unless the sound is clearly that of another key; such a sound keeps
        its own name, with a warning.
    compass, a4_hz
        As for `name_pass`.

    Raises
    ------
    SignalError
        If the sound is no piano note.
    """
    loudest = int(np.argmax(peaks))
    single = [evidence[loudest]]
    warnings: tuple[str, ...] = ()
    if len(evidence) > 1:
        warnings = (f"{len(evidence)} strikes were found where one note was expected; the loudest was measured",)
    naming = name_strikes(single, compass=compass, a4_hz=a4_hz, key=note)
    if naming.keys[0] is None:
        naming = name_pass(single, compass=compass, a4_hz=a4_hz)
        warnings = (*warnings, *_contradiction(naming.keys[0], note))
    return _only(naming, loudest, len(evidence), warnings)


def _contradiction(heard: int | None, said: int | None) -> tuple[str, ...]:
    """Say that the sound is not what the player said, if so."""
    if heard is None or said is None:
        return ()
    return (f"the sound is {key_name(heard)}, not {key_name(said)}; measured as what it is",)


def _only(naming: Naming, number: int, n_strikes: int, warnings: tuple[str, ...]) -> Naming:
    """Return a naming of one strike as the naming of all, where the others stay unnamed."""
    places = range(n_strikes)
    return replace(
        naming,
        keys=tuple(naming.keys[0] if place == number else None for place in places),
        f0_hz=tuple(naming.f0_hz[0] if place == number else None for place in places),
        continues=tuple(False for _ in places),
        notices=tuple(naming.notices[0] if place == number else () for place in places),
        compass=None,
        missing_keys=(),
        warnings=(*warnings, *naming.warnings),
    )
