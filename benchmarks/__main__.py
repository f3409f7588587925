"""Run every benchmark and print one table: ``python -m benchmarks [--quick] [TOPIC …]``."""

from __future__ import annotations

import argparse
import os
import tempfile
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path

import numpy as np

from benchmarks import (
    colours,
    comparisons,
    dampers,
    decays,
    evenness_steps,
    ideal_strings,
    kept_records,
    machine,
    muted_strings,
    plucks,
    toning,
    unisons,
    workshop_readings,
)
from benchmarks.generated_passes import name_generated
from strikeline.keyboard import FULL_COMPASS

_ROW = "{:<74} {:>16} {:>14}  {}"
_TABLES = {
    "unisons": unisons.rows,
    "muted": muted_strings.rows,
    "decays": decays.rows,
    "dampers": dampers.rows,
    "plucks": plucks.rows,
    "steps": evenness_steps.rows,
    "toning": toning.rows,
    "comparisons": comparisons.rows,
    "readings": workshop_readings.rows,
    "colours": colours.rows,
    "records": kept_records.rows,
}
_TOPICS = ("machine", "ideal", "naming", *_TABLES)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="fewer seeds and passes: a look, not a claim")
    parser.add_argument("--seeds", type=int, default=5, help="strings per key and noise level")
    parser.add_argument("topics", nargs="*", metavar="TOPIC", help=f"only some of: {', '.join(_TOPICS)}")
    chosen = parser.parse_args()
    if unknown := set(chosen.topics) - set(_TOPICS):
        parser.error(f"no such topic: {', '.join(sorted(unknown))}; there are {', '.join(_TOPICS)}")
    topics = chosen.topics or _TOPICS
    print(_ROW.format("what", "measured", "target", ""))
    with ProcessPoolExecutor(os.cpu_count()) as pool:
        if "machine" in topics:
            _machine()  # first, while the other processor is idle
        if "ideal" in topics:
            _ideal(pool, 1 if chosen.quick else chosen.seeds)
        if "naming" in topics:
            _naming(pool, range(0, 20, 5) if chosen.quick else range(20))
        for topic in (topic for topic in _TABLES if topic in topics):
            for what, measured, target, met, remark in _TABLES[topic](pool, quick=chosen.quick):
                _say(what, measured, target, met, remark)


def _say(what: str, measured: str, target: str, met: bool | None, remark: str = "") -> None:
    verdict = "" if met is None else "met" if met else "MISSED"
    print(_ROW.format(what, measured, target, " ".join(filter(None, (verdict, remark)))), flush=True)


def _trial(place: tuple[int, int], *, snr_db: float) -> ideal_strings.Trial | None:
    key, seed = place
    return ideal_strings.trial(key, snr_db=snr_db, seed=seed)


def _ideal(pool: ProcessPoolExecutor, n_seeds: int) -> None:
    places = [(key, seed) for key in FULL_COMPASS for seed in range(n_seeds)]
    for snr_db in (20.0, 40.0):
        trials = list(pool.map(partial(_trial, snr_db=snr_db), places, chunksize=8))
        told = [trial for trial in trials if trial is not None]
        name = f"ideal strings, 88 keys x {n_seeds}, {snr_db:.0f} dB: "
        f0, b = (ideal_strings.rms([getattr(t, field) for t in told]) for field in ("f0_error", "b_error"))
        _say(name + "RMSE of f0 / bound", f"{f0:.2f}", "<= 1.2", f0 <= 1.2)
        _say(name + "RMSE of B / bound", f"{b:.2f}", "<= 1.3", b <= 1.3)
        few = [trial for trial in told if trial.n_partials == 2]
        _say(name + "B cannot be told", f"{len(trials) - len(told)}", "", None, "keys with one partial above the noise")
        many = [trial for trial in told if trial.n_partials > 2]
        _covered(name, "f0", [t.f0_standardised for t in many])
        _covered(name, "B", [t.b_standardised for t in many])
        _covered(name, "partials", [z for t in told for z in t.partial_standardised])
        _covered(name, "decays", [z for t in told for z in t.decay_standardised])
        if few:
            within = ideal_strings.covered([z for t in few for z in (t.f0_standardised, t.b_standardised)])
            _say(name + "f0, B of 2 partials within", f"{100 * within:.1f} %", "", None, "wide on purpose, see docs")


def _covered(name: str, what: str, standardised: Sequence[float]) -> None:
    share = ideal_strings.covered(list(standardised))
    spread = 196.0 * np.sqrt(0.95 * 0.05 / len(standardised))
    _say(
        f"{name}{what} within 1.96 se",
        f"{100 * share:.1f} %",
        "93-97 %",
        0.93 <= share <= 0.97,
        f"(95 +- {spread:.1f} % expected of {len(standardised)})",
    )


def _naming(pool: ProcessPoolExecutor, numbers: Sequence[int]) -> None:
    passes = list(pool.map(name_generated, numbers))
    struck, right = sum(p.n_struck for p in passes), sum(p.n_right for p in passes)
    false = sum(p.n_false for p in passes)
    errors_ms = 1e3 * np.abs([error for p in passes for error in p.onset_errors_s])
    name = f"{len(passes)} generated passes: "
    _say(
        name + "notes named right", f"{100 * right / struck:.2f} %", ">= 99.5 %", right >= 0.995 * struck, f"({struck})"
    )
    _say(name + "false notes", f"{false}", "0", false == 0)
    compasses = sum(p.compass_right for p in passes)
    _say(name + "compass right", f"{compasses} of {len(passes)}", "", None)
    late = float(np.mean(errors_ms <= 5.0))
    _say(name + "onsets within 5 ms", f"{100 * late:.2f} %", "100 %", late == 1.0, f"worst {errors_ms.max():.1f} ms")
    for one in passes:
        for wrong in one.wrong:
            print(f"    {one.description}: {wrong}")


def _machine() -> None:
    with tempfile.TemporaryDirectory() as folder:
        path, long_path = Path(folder) / "pass.wav", Path(folder) / "long.wav"
        duration_s = machine.make_pass(path)
        took_s, processor_s = machine.listening_seconds(path)
        pyin = machine.pyin_seconds_per_second(path)
        speed = duration_s / took_s
        remark = f"{duration_s:.0f} s of sound in {took_s:.2f} s, {processor_s:.2f} s of processor time"
        _say("full listening to an 85-note pass", f"{speed:.0f} x real time", ">= 100 x", speed >= 100.0, remark)
        ratio = pyin * duration_s / took_s
        _say("the same against librosa's pYIN on the same file", f"{ratio:.0f} x faster", ">= 50 x", ratio >= 50.0)
        machine.make_long(long_path, path)
        (empty, _), (own, helper) = machine.peak_mb(None), machine.peak_mb(long_path)
        remark = f"of it {empty:.0f} MB the libraries; helper process {helper:.0f} MB"
        _say("peak memory, 30-minute pass", f"{own:.0f} MB", "< 500 MB", own + helper < 500.0, remark)
    started, bare = machine.start_seconds()
    _say("strikeline --help", f"{started:.2f} s", "< 0.3 s", started < 0.3, f"{started / bare:.1f} x a bare Python")


if __name__ == "__main__":
    main()
