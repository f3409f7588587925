"""How often bearing, wrest pins and drift are judged rightly, on invented readings whose truth is known.

No threshold was set on these seeds.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor

import numpy as np
from numpy.typing import NDArray

from strikeline.measured import Measured
from strikeline.physics.bearing import BACK_TENSION_SE_RATIO, bridge_load
from strikeline.physics.between_notes import between_notes
from strikeline.physics.climate_drift import judge_drift
from strikeline.physics.pin_pattern import Pattern, find_pattern, weaker_than_neighbours
from strikeline.physics.wrest_pins import Pin, StringSide

KEYS = np.arange(1, 89)
SEED = 2026
Row = tuple[str, str, str, bool | None, str]
Draw = Callable[[np.random.Generator], NDArray[np.float64]]


def field(
    rng: np.random.Generator,
    *,
    mean_nm: float,
    sd_nm: float,
    run: range = range(0),
    drop_nm: float = 0.0,
    row_nm: float = 0.0,
    bass_nm: float = 0.0,
    long_tail: bool = False,
) -> list[Pin]:
    """Return the 222 pins of a piano; `run` has the keys of the middle strings that lost `drop_nm`."""
    pins = []
    for key in range(1, 89):
        for place, string in enumerate(list(StringSide)[: 1 if key <= 12 else 2 if key <= 30 else 3]):
            mean = mean_nm - bass_nm * (44 - key) / 44 - (row_nm if place == 0 else 0.0)
            mean -= drop_nm if place == 1 and key in run else 0.0
            torque = mean * np.exp(rng.normal(0, sd_nm / mean_nm)) if long_tail else rng.normal(mean, sd_nm)
            pins.append(Pin(key=key, string=string, torque_nm=Measured(max(float(torque), 0.3), 0.3)))
    return pins


def rows(pool: ProcessPoolExecutor, *, quick: bool) -> Iterator[Row]:  # noqa: ARG001  # all of it is quick
    """Return the rows of the table of benchmarks."""
    n = 100 if quick else 500
    yield from track_pin_patterns(n)
    yield from track_drifts(n)
    yield from track_bridge_loads(n)


def track_pin_patterns(n: int) -> Iterator[Row]:
    """Return what is said of fields with and without a planted fault."""
    kinds: dict[str, dict[str, object]] = {
        "no pattern, 7 ± 1.5 N·m": {"mean_nm": 7.0, "sd_nm": 1.5},
        "no pattern, 6 ± 1.5 N·m": {"mean_nm": 6.0, "sd_nm": 1.5},
        "no pattern, 9 ± 2 N·m": {"mean_nm": 9.0, "sd_nm": 2.0},
        "no pattern, long tail": {"mean_nm": 8.0, "sd_nm": 2.5, "long_tail": True},
        "ten in a run lost 3.5": {"mean_nm": 8.0, "sd_nm": 1.5, "run": range(40, 50), "drop_nm": 3.5},
        "ten in a run lost 5": {"mean_nm": 8.0, "sd_nm": 1.5, "run": range(40, 50), "drop_nm": 5.0},
        "one row lost 1.5": {"mean_nm": 8.0, "sd_nm": 1.5, "row_nm": 1.5},
        "the bass lost 1": {"mean_nm": 7.5, "sd_nm": 1.5, "bass_nm": 1.0},
    }
    for number, (name, kind) in enumerate(kinds.items()):
        fields = [field(np.random.default_rng([SEED, number, i]), **kind) for i in range(n)]  # type: ignore[arg-type]
        said = Counter[str](find_pattern(pins).pattern for pins in fields)
        lonely = sum(bool(weaker_than_neighbours(pins)) for pins in fields)
        remark = f"{_counts(said)}; a pin far below its neighbours in {lonely}"
        if "no pattern" in name:
            false = said[Pattern.RUNS] + said[Pattern.ONE_ROW] + said[Pattern.ONE_END]
            most = 0.05 + 2.0 * np.sqrt(0.05 * 0.95 / n)
            yield f"wrest pins, {name}: false pattern", f"{100 * false / n:.1f} %", "<= 5 %", false <= most * n, remark
        else:
            yield (
                f"wrest pins, {name}: most often said",
                f"{100 * said.most_common(1)[0][1] / n:.0f} %",
                "",
                None,
                remark,
            )


def _counts(said: Counter[str]) -> str:
    return ", ".join(f"{word} {count}" for word, count in said.most_common())


HUMIDITY = np.where(KEYS <= 30, 0.6, np.where(KEYS <= 49, 2.0 ** (0.7 * (49 - KEYS) / 12), np.exp(-(KEYS - 49) / 15)))
"""An invented drift with humidity, 1 at A4."""


def track_drifts(n: int) -> Iterator[Row]:
    """Return what is said of changes between two visits, 10 % of humidity apart."""

    def slipped(rng: np.random.Generator) -> NDArray[np.float64]:
        moved = np.zeros(88)
        moved[rng.choice(88, 7, replace=False)] = -rng.uniform(12, 30, 7)
        return moved

    kinds: dict[str, tuple[float, float, Draw]] = {
        "stayed": (10.0, 0.0, lambda _: np.zeros(88)),
        "with the air": (10.0, 0.8, lambda _: 8.0 * HUMIDITY),
        "with the air, 6 %": (6.0, 0.8, lambda _: 4.8 * HUMIDITY),
        "against the air": (10.0, 0.8, lambda _: -8.0 * HUMIDITY),
        "all 6 cents sharper": (10.0, 0.8, lambda _: np.full(88, 6.0)),
        "note by note": (10.0, 5.0, lambda _: np.zeros(88)),
        "with the air, and slips": (10.0, 0.8, lambda rng: 8.0 * HUMIDITY + slipped(rng)),
    }
    for number, (name, (rh, scatter, draw)) in enumerate(kinds.items()):
        said = Counter[str]()
        for i in range(n):
            rng = np.random.default_rng([SEED, 10 + number, i])
            cents = draw(rng) + rng.normal(0, scatter, 88) + rng.normal(0, 0.5, 88) + rng.normal(0, 0.1, 88)
            changes = {int(key): Measured(float(one), 0.1) for key, one in zip(KEYS, cents, strict=True)}
            change = Measured(rh + float(rng.normal(0, 2.1)), 2.1)
            said[judge_drift(changes, rh_change_pct=change, break_after=30).verdict.value] += 1
        count = said.most_common(1)[0][1]
        yield f"drift between visits, {name}: most often said", f"{100 * count / n:.0f} %", "", None, _counts(said)


def track_bridge_loads(n: int) -> Iterator[Row]:
    """Return how often the truth lies within 1.96 se, for one note between measured ones and for a bridge's load."""
    at = [0, 6, 14, 21, 28, 37, 43, 49]
    for name in ("wandering bend", "smooth bend"):
        note = load = 0
        for i in range(n):
            rng = np.random.default_rng([SEED, 20, i])
            truth = 1.0 + np.cumsum(rng.normal(0, 0.08, 50))
            if name == "smooth bend":
                truth = 0.8 + 0.4 * np.sin(np.arange(50) / 50 * rng.uniform(2, 7) + rng.uniform(0, 6))
            bends = {k + 1: Measured(float(truth[k] + rng.normal(0, 0.08)), 0.08) for k in at}
            tension, behind = 700.0 * (1 + rng.normal(0, 0.05)), 1 + rng.normal(0, BACK_TENSION_SE_RATIO)
            told = bridge_load(bends, tensions_n=Measured(700.0, 35.0), strings=dict.fromkeys(range(1, 51), 3))
            note += not between_notes(bends).at(18).differs_from(float(truth[17]))
            assert told.force_n is not None
            truly = 3 * tension * np.sin(np.radians(truth)) * 0.5 * (1 + behind)
            load += not told.force_n.differs_from(float(truly.sum()))
        share = load / n
        remark = f"a note between measured ones {100 * note / n:.1f} %"
        yield f"bridge load within 1.96 se, {name}", f"{100 * share:.1f} %", "93-97 %", 0.93 <= share <= 0.97, remark
