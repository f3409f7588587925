"""Give the strikes their keys: a whole pass together, or one note by itself."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from strikeline.acoustics.identity import Naming, StrikeEvidence, name_strikes
from strikeline.errors import SignalError
from strikeline.keyboard import HIGHEST_KEY, LOWEST_KEY, Compass, key_name

_NEIGHBOURS: Final = 2
"""A piano may stand so many semitones off and its player still be right about which key was struck."""


def name_pass(evidence: Sequence[StrikeEvidence], *, compass: Compass | None, a4_hz: float) -> Naming:
    """Return the keys of a whole pass, found together.

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
        The key as the player says. It is believed when the sound is that of this key or of one of its
        `_NEIGHBOURS`; a sound that is clearly another key keeps its own name, with a warning.
    compass, a4_hz
        As for `name_pass`.

    Raises
    ------
    SignalError
        If the sound is no piano note.
    """
    loudest = int(np.argmax(peaks))
    single = [evidence[loudest]]
    warnings = ()
    if len(evidence) > 1:
        warnings = (f"{len(evidence)} strikes were found where one note was expected; the loudest was measured",)
    if note is None:
        naming = name_pass(single, compass=compass, a4_hz=a4_hz)
    else:
        near = Compass(max(LOWEST_KEY, note - _NEIGHBOURS), min(HIGHEST_KEY, note + _NEIGHBOURS))
        naming = name_strikes(single, compass=near, a4_hz=a4_hz)
        if naming.keys[0] is None:
            naming = name_pass(single, compass=compass, a4_hz=a4_hz)
            heard = naming.keys[0]
            assert heard is not None  # noqa: S101  (name_pass has refused a sound without a name)
            warnings = (*warnings, f"the sound is {key_name(heard)}, not {key_name(note)}; measured as what it is")
        else:
            naming = replace(naming, keys=(note,))
    return _only(naming, loudest, len(evidence), warnings)


def _only(naming: Naming, number: int, n_strikes: int, warnings: tuple[str, ...]) -> Naming:
    """Return a naming of one strike as the naming of all, where the others stay unnamed."""
    keys: tuple[int | None, ...] = tuple(naming.keys[0] if i == number else None for i in range(n_strikes))
    f0_hz: tuple[float | None, ...] = tuple(naming.f0_hz[0] if i == number else None for i in range(n_strikes))
    notices = tuple(naming.notices[0] if i == number else () for i in range(n_strikes))
    return replace(
        naming,
        keys=keys,
        f0_hz=f0_hz,
        notices=notices,
        compass=None,
        missing_keys=(),
        warnings=(*warnings, *naming.warnings),
    )
