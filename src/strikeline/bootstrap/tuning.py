"""Targets and pitch from listenings that were kept, and their results as files."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

from threadpoolctl import threadpool_limits

from strikeline.acoustics.listening import SCHEMA, Listening
from strikeline.acoustics.listening_json import listening_from_json
from strikeline.errors import InputError, StoreError
from strikeline.media.failures import error_in_words
from strikeline.workshop import tuning as workshop_tuning
from strikeline.workshop.string_sections import StringSections, find_sections, sections_in

_FAMILY: Final = SCHEMA.partition("/")[0] + "/"


def read_listening_with_sections(path: str | os.PathLike[str]) -> tuple[Listening, StringSections]:
    """Read a listening, and where its strings change: as it says, or else from its notes.

    Parameters
    ----------
    path : str or path
        A file that ``strikeline listen --json`` wrote.

    Raises
    ------
    NotFoundError, StoreError
        If the file does not exist, cannot be read or is no listening.
    """
    file = Path(path)
    listening, data = _read(file)
    try:
        sections = sections_in(data)
    except InputError as error:
        raise StoreError(f"cannot read {file}: {error}") from error
    with threadpool_limits(limits=1, user_api="blas"):
        return listening, find_sections(listening) if sections is None else sections


def read_pass(path: str | os.PathLike[str]) -> Listening:
    """Read a listening that ``strikeline listen --json`` wrote, and say how to make one if it is something else.

    Raises
    ------
    NotFoundError, StoreError
        If the file does not exist, cannot be read or is no listening.
    """
    return _read(Path(path))[0]


def _read(file: Path) -> tuple[Listening, Mapping[str, Any]]:
    """Return a listening and the data it was read from."""
    try:
        data = json.loads(file.read_text("utf-8"))
    except OSError as error:
        raise error_in_words(error, file, doing="read") from error
    except (ValueError, RecursionError) as error:  # bad UTF-8 and bad JSON are both ValueErrors
        raise _listen_first(file) from error
    if not isinstance(data, Mapping) or not str(data.get("schema", "")).startswith(_FAMILY):
        raise _listen_first(file)
    try:
        return listening_from_json(data), data
    except InputError as error:
        raise StoreError(f"cannot read {file}: {error}") from error


def _listen_first(file: Path) -> StoreError:
    """Return what to do with what is no listening; the commands that tune by one do not take the sound itself."""
    sound, kept = ("pass.wav", "pass.json") if file.suffix.lower() == ".json" else (file.name, f"{file.stem}.json")
    first = f"run strikeline listen {sound} --json {kept} first, then give {kept}"
    return StoreError(f"cannot read {file}: it is no listening to a pass; {first}")


def tune(
    path: str | os.PathLike[str],
    *,
    temperament: str = "equal",
    a4_hz: float = 440.0,
    leaning: str = "middle",
    break_after: int | None = None,
    last_wound_key: int | None = None,
) -> workshop_tuning.Tuning:
    """Return where each note of a piano is to be tuned, from a listening that was kept as JSON.

    Parameters
    ----------
    path : str or path
        A file that ``strikeline listen --json`` wrote of a pass.
    temperament : str
        Name of a temperament; see `strikeline.physics.temperaments.TEMPERAMENTS`.
    a4_hz : float
        Where A4 is to be, 380 to 480 Hz. The default is that of ISO 16.
    leaning : str
        ``"close"``, ``"middle"`` or ``"wide"``; see `strikeline.physics.tuning_leanings.LEANINGS`.
    break_after, last_wound_key : int, optional
        Last key on the bass bridge, and last key with wound strings, as seen; found from the pass when left out.

    Raises
    ------
    InputError
        If a name is not known, A4 leaves its range, or no note has a usable B.
    NotFoundError, StoreError
        If the file does not exist, cannot be read or is no listening.
    """
    listening, sections = read_listening_with_sections(path)
    with threadpool_limits(limits=1, user_api="blas"):
        return workshop_tuning.tune(
            listening,
            sections=sections.seen(break_after=break_after, last_wound_key=last_wound_key),
            temperament=temperament,
            a4_hz=a4_hz,
            leaning=leaning,
        )
