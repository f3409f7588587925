"""From listenings that were kept to the plan of a pitch raise, and its result as files."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Final

from threadpoolctl import threadpool_limits

from strikeline.bootstrap.tuning import read_listening_with_sections, read_pass
from strikeline.errors import InputError, StoreError
from strikeline.keyboard import key_from_name
from strikeline.media.failures import error_in_words
from strikeline.workshop import pitch as workshop_pitch
from strikeline.workshop.pitch_job import WireStory
from strikeline.workshop.pitch_result import SCHEMA, Pitch

_SAME_HZ: Final = 0.01


def plan_pitch(
    path: str | os.PathLike[str],
    *,
    a4_hz: float = 440.0,
    wire: WireStory | None = None,
    order: str | None = None,
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
        What is known of the strings beside their sound; what it leaves open is taken from `plan`.
    order : str, optional
        ``"up"`` if notes are tuned from the bass to the treble, ``"down"`` for the other way; that of `plan`, or up.
    after : str or path, optional
        The same of a pass recorded after the first pass of pitch raising.
    plan : str or path, optional
        What this function gave, as JSON, for that first pass, with the year, rust, broken strings, scale, order, break
        and winding it was made with; common practice is taken to have been followed if left out.
    break_after, last_wound_key : int, optional
        Last key on the bass bridge, and last key with wound strings, as seen; those of `plan`, or found from the
        pass, when left out.

    Raises
    ------
    InputError
        If a value leaves its range or no note has a usable B.
    NotFoundError, StoreError
        If a file does not exist, cannot be read or is none of these.
    """
    listening, sections = read_listening_with_sections(path)
    former = FormerPlan() if plan is None else _read_plan(Path(plan), a4_hz=a4_hz)
    with threadpool_limits(limits=1, user_api="blas"):
        return workshop_pitch.plan_pitch(
            listening,
            sections=sections.seen(
                break_after=former.break_after if break_after is None else break_after,
                last_wound_key=former.last_wound_key if last_wound_key is None else last_wound_key,
            ),
            a4_hz=a4_hz,
            wire=former.completed(wire or WireStory()),
            order=order or former.order,
            after=None if after is None else read_pass(after),
            set_cents=former.set_cents,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class FormerPlan:
    """What the plan of a former pass tells the next one."""

    set_cents: Mapping[int, float] | None = None
    """By key, how far above its target each note was to be put."""
    wire: WireStory = field(default_factory=WireStory)
    order: str = "up"
    break_after: int | None = None
    last_wound_key: int | None = None

    def completed(self, wire: WireStory) -> WireStory:
        """Return what is known of the strings, with what the plan knows where nothing was said now."""
        return replace(
            wire,
            year=self.wire.year if wire.year is None else wire.year,
            rust_grade=self.wire.rust_grade if wire.rust_grade is None else wire.rust_grade,
            n_broken=self.wire.n_broken if wire.n_broken is None else wire.n_broken,
            scale_table=self.wire.scale_table if wire.scale is None and wire.scale_table is None else wire.scale_table,
        )


def _read_plan(file: Path, *, a4_hz: float) -> FormerPlan:
    """Return what a plan says; refuse one for another pitch. Plans of older versions lack what came later."""
    try:
        data: Any = json.loads(file.read_text("utf-8"))
        if data["schema"] != SCHEMA:
            raise InputError.of("schema", data["schema"], repr(SCHEMA))
        planned_hz = float(data["a4_hz"])
        former = FormerPlan(
            set_cents={int(one["key"]): float(one["overpull_cents"]) for one in data["notes"]},
            wire=WireStory(
                year=_whole(data.get("year")),
                rust_grade=_whole(data.get("rust_grade")),
                n_broken=_whole(data.get("n_broken")),
                scale_table=None if data.get("scale_table") is None else str(data["scale_table"]),
            ),
            order=str(data["order"]),
            break_after=_key(data.get("break_after")),
            last_wound_key=_key(data.get("last_wound")),
        )
    except OSError as error:
        raise error_in_words(error, file, doing="read") from error
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        raise StoreError(f"cannot read {file}: it is no plan; give what strikeline pitch --json wrote") from error
    if abs(planned_hz - a4_hz) > _SAME_HZ:
        advice = f"say --a4 {planned_hz:g} to go on with it"
        raise InputError.of("plan", f"{file.name} for A4 = {planned_hz:g} Hz", f"one for {a4_hz:g} Hz", advice=advice)
    return former


def _whole(number: Any) -> int | None:
    return None if number is None else int(number)


def _key(name: Any) -> int | None:
    return None if name is None else key_from_name(str(name))
