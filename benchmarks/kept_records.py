"""Whether the record stays fast in a workshop of a thousand pianos: ratios to a small one, in the same run."""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from datetime import UTC, datetime, timedelta
from pathlib import Path
from uuid import UUID

import numpy as np

from strikeline.bootstrap.records import Records, open_records
from strikeline.domain.evidence import Event, Step
from strikeline.domain.instrument import Assessment, Instrument, Occasion
from strikeline.domain.reading import Reading
from strikeline.measured import Measured
from strikeline.workshop import evidence as taking
from strikeline.workshop import records as keeping

Row = tuple[str, str, str, bool | None, str]
_START = datetime(2026, 1, 5, 8, tzinfo=UTC)
_WALKS = 5
_QUANTITIES = 12
_TURNS = 41


def rows(pool: ProcessPoolExecutor, *, quick: bool) -> Iterator[Row]:  # noqa: ARG001  # one process, so that ratios hold
    """Return the rows of the table of benchmarks."""
    n_many = 300 if quick else 1000
    n_few = n_many // 10
    with (
        tempfile.TemporaryDirectory() as folder,
        _workshop(Path(folder) / "few", n_few) as few,
        _workshop(Path(folder) / "many", n_many) as many,
    ):
        yield from _listing(few, many, n_many)
        yield from _one_walk(few, many, n_many)


def _listing(few: Records, many: Records, n_many: int) -> Iterator[Row]:
    assert len(keeping.instruments(store=many.database)) == n_many
    few_s, many_s = _quantiles(
        lambda: keeping.instruments(store=few.database), lambda: keeping.instruments(store=many.database)
    )
    ratio = many_s[0] / few_s[0]
    remark = f"median {1000 * many_s[0]:.0f} ms, p95 {1000 * many_s[1]:.0f} ms"
    yield (
        f"list {n_many} pianos x {_WALKS} walks, time over a tenth as many",
        f"{ratio:.1f}",
        "<= 12",
        ratio <= 12,
        remark,
    )


def _one_walk(few: Records, many: Records, n_many: int) -> Iterator[Row]:
    walk = _id(2, 0)
    assert len(taking.present(walk, store=many.database).items) == 88 * _QUANTITIES
    few_s, many_s = _quantiles(
        lambda: taking.present(walk, store=few.database), lambda: taking.present(walk, store=many.database)
    )
    ratio = many_s[0] / few_s[0]
    remark = f"median {1000 * many_s[0]:.0f} ms, p95 {1000 * many_s[1]:.0f} ms"
    what = f"one walk of 88 x {_QUANTITIES} readings among {n_many * _WALKS}, time over a tenth as many"
    yield what, f"{ratio:.2f}", "<= 1.3", ratio <= 1.3, remark


def _quantiles(few: Callable[[], object], many: Callable[[], object]) -> tuple[tuple[float, float], ...]:
    """Return median and 95th percentile of each, taken in turns so that a busy moment meets both."""
    taken_s = np.zeros((2, _TURNS))
    for turn in range(_TURNS):
        for place, do in enumerate((few, many)):
            before = time.perf_counter()
            do()
            taken_s[place, turn] = time.perf_counter() - before
    return tuple((float(np.median(one)), float(np.quantile(one, 0.95))) for one in taken_s)


def _workshop(folder: Path, n_pianos: int) -> Records:
    """Return a workshop whose first walk has every reading, and every other walk one reading of each key."""
    records = open_records(folder, environment={})
    with records.database.work() as work:
        for number in range(n_pianos):
            piano = Instrument(id=_id(1, number), name=f"Piano {number}")
            work.save(piano, author="office", at=_START, reason="", replaces=0)
            for turn in range(_WALKS):
                walk = Assessment(
                    id=_id(2, number * _WALKS + turn),
                    instrument_id=piano.id,
                    occasion=Occasion.FOLLOW_UP if turn else Occasion.ARRIVAL,
                    begun_at=_START + timedelta(days=number + 400 * turn),
                    assessor="bench",
                )
                work.save(walk, author="office", at=_START, reason="", replaces=0)
        for number in range(n_pianos * _WALKS):
            work.add_events(_readings(number, _QUANTITIES if number == 0 else 1))
        work.commit()
    return records


def _readings(walk: int, n_quantities: int) -> list[Event]:
    events = []
    for place in range(88 * n_quantities):
        own = _id(3, walk * 10_000 + place)
        reading = Reading(
            quantity=f"quantity_{place // 88}", key=place % 88 + 1, value=Measured(10.0, 0.1), written="10"
        )
        events.append(
            Event(
                id=own,
                assessment_id=_id(2, walk),
                step=Step.STATED,
                item_id=own,
                evidence=reading,
                author="bench",
                at=_START + timedelta(seconds=place),
            )
        )
    return events


def _id(kind: int, number: int) -> UUID:
    return UUID(int=(kind << 64) + number)
