"""From listenings that were kept to the plan of a pitch raise, and its result as files."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any, Final

from threadpoolctl import threadpool_limits

from strikeline.bootstrap.scale import assess_scale
from strikeline.bootstrap.tuning import read_listening_with_sections, read_pass
from strikeline.errors import InputError, StoreError
from strikeline.media.atomic import write_atomically
from strikeline.media.failures import error_in_words
from strikeline.physics.scale import ScaleState
from strikeline.physics.wire_strength import grade_for_year
from strikeline.reports.json_text import json_text
from strikeline.workshop import pitch as workshop_pitch
from strikeline.workshop.pitch_job import WireStory
from strikeline.workshop.pitch_result import SCHEMA, Pitch
from strikeline.workshop.scale import ScaleChoices

_SAME_HZ: Final = 0.01


def plan_pitch(
    path: str | os.PathLike[str],
    *,
    a4_hz: float = 440.0,
    wire: WireStory | None = None,
    order: str = "up",
    after: str | os.PathLike[str] | None = None,
    plan: str | os.PathLike[str] | None = None,
    break_after: int | None = None,
    last_wound_key: int | None = None,
) -> Pitch:
    """Say what it takes to bring a piano to pitch, from a listening that was kept as JSON.

    Parameters
    ----------
    path : str or path
        A file that ``strikeline listen --json`` wrote of a pass over the piano as it was found.
    a4_hz : float
        Where A4 is to be, 380 to 480 Hz. The default is that of ISO 16.
    wire : WireStory, optional
        What is known of the strings beside their sound.
    order : str
        ``"up"`` if notes are tuned from the bass to the treble, ``"down"`` for the other way.
    after : str or path, optional
        The same of a pass recorded after the first pass of pitch raising.
    plan : str or path, optional
        What this function gave, as JSON, for that first pass; common practice is taken to have been followed if left
        out.
    break_after, last_wound_key : int, optional
        Last key on the bass bridge, and last key with wound strings, as seen; found from the pass when left out.

    Raises
    ------
    InputError
        If a value leaves its range or no note has a usable B.
    NotFoundError, StoreError
        If a file does not exist, cannot be read or is none of these.
    """
    listening, sections = read_listening_with_sections(path)
    with threadpool_limits(limits=1, user_api="blas"):
        return workshop_pitch.plan_pitch(
            listening,
            sections=sections.seen(break_after=break_after, last_wound_key=last_wound_key),
            a4_hz=a4_hz,
            wire=wire or WireStory(),
            order=order,
            after=None if after is None else read_pass(after),
            set_cents=None if plan is None else _read_plan(Path(plan), a4_hz=a4_hz),
        )


def read_scale(path: Path, *, year: int | None) -> ScaleState:
    """Return what the strings of a typed table do; see `strikeline.workshop.scale.assess_scale`.

    Parameters
    ----------
    path : Path
        CSV as for ``strikeline scale``.
    year : int or None
        Year of the wire, for its strength; modern where ``None``.

    Raises
    ------
    InputError
        If the table has mistakes or nothing can be told from it.
    NotFoundError, StoreError
        If the file cannot be read.
    """
    return assess_scale(path, choices=ScaleChoices(grade=grade_for_year(year)), listening=None).state


def _read_plan(file: Path, *, a4_hz: float) -> dict[int, float]:
    """Return by key how far above its target a note was to be put; refuse a plan for another pitch."""
    try:
        data: Any = json.loads(file.read_text("utf-8"))
        if data["schema"] != SCHEMA:
            raise InputError.of("schema", data["schema"], repr(SCHEMA))
        planned_hz = float(data["a4_hz"])
        put = {int(one["key"]): float(one["overpull_cents"]) for one in data["notes"]}
    except OSError as error:
        raise error_in_words(error, file, doing="read") from error
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        raise StoreError(f"cannot read {file}: it is no plan; give what strikeline pitch --json wrote") from error
    if abs(planned_hz - a4_hz) > _SAME_HZ:
        advice = f"say --a4 {planned_hz:g} to go on with it"
        raise InputError.of("plan", f"{file.name} for A4 = {planned_hz:g} Hz", f"one for {a4_hz:g} Hz", advice=advice)
    return put


def pitch_text(pitch: Pitch) -> str:
    """Return a plan as JSON text in schema ``strikeline.pitch/1``, with a line end after the last brace."""
    return json_text(pitch.to_json()) + "\n"


def write_pitch(pitch: Pitch, path: Path) -> None:
    """Write a plan as JSON; an older file is replaced only by a whole new one.

    Raises
    ------
    NotFoundError, StoreError
        If the folder does not exist or writing fails.
    """
    write_atomically(path, pitch_text(pitch).encode())
