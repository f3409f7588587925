"""Unisons from one recording: modes, verdict and strings against truth that is known.

Struck notes of one, two and three strings over the compass, coupled through an invented soundboard and not, struck
evenly and unevenly, with and without a second polarisation; half of them in *unkind* surroundings (see
`benchmarks.unison_notes`): a room, a knock, partials that stray from the law (alike in all strings, which then have no
f0 better than that), strings that differ in B.

The verdict counts as right when it is the one that the true modes give by the same definition, which is that of
`strikeline.acoustics.unison_verdict`; one that is not told ('cannot tell', between two) is counted apart. *Modes* are
those within 20 dB of the loudest of their partial, in the partials that were resolved.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

import numpy as np

from benchmarks.unison_notes import KIND, UNKIND, unison_note
from strikeline.acoustics.listening import Note
from strikeline.acoustics.measure import measure_strike
from strikeline.acoustics.unison_modes import PartialModes
from strikeline.acoustics.unison_result import UnisonVerdict
from strikeline.acoustics.unison_verdict import judge_by_modes
from strikeline.synthesis.truth import TruePartial, TrueStrike
from strikeline.units import DB_PER_NEPER, cents_from_ratio

SAMPLE_RATE_HZ = 44_100
DURATION_S = 4.0
LOUD_DB = 20.0
WIDE_COUPLED_CENTS = 1.0
WIDE_RIGID_CENTS = 0.3

Row = tuple[str, str, str, bool | None, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """One note, heard once."""

    n_strings: int
    spread_cents: float
    coupled: bool
    kind: bool
    verdict: str
    true_verdict: str
    mode_errors_cents: tuple[float, ...]
    n_told: int | None
    """Strings told; ``None`` if it could not be told."""
    string_errors_cents: tuple[float, ...]
    string_standardised: tuple[float, ...]
    spread_error_cents: float | None
    spread_standardised: float | None

    @property
    def is_wide(self) -> bool:
        """Whether the issue asks for the strings to be told."""
        least = WIDE_COUPLED_CENTS if self.coupled else WIDE_RIGID_CENTS
        return self.n_strings > 1 and self.spread_cents >= least


def trial(seed: int) -> Trial | None:
    """Make, measure and compare one note; ``None`` if not even f0 could be told."""
    rng = np.random.default_rng([2027, seed])
    key = int(rng.integers(10, 86))
    n_strings = int(rng.choice([1, 2] if key < 28 else [1, 2, 3, 3, 3]))
    spread = float(np.exp(rng.uniform(np.log(0.1), np.log(8.0)))) if n_strings > 1 else 0.0
    coupled, kind = bool(rng.random() < 0.75), bool(seed % 2)
    made = unison_note(
        seed,
        key=key,
        n_strings=n_strings,
        spread_cents=spread,
        coupled=coupled,
        even=bool(rng.random() < 0.5),
        polarised=bool(rng.random() < 0.5),
        duration_s=DURATION_S,
        sample_rate_hz=SAMPLE_RATE_HZ,
        surroundings=KIND if kind else UNKIND,
    )
    truth = made.truth
    start_hz = truth.f0_hz * float(np.exp2(rng.normal(0.0, 3.0) / 1200.0))
    note = measure_strike(made.strike(SAMPLE_RATE_HZ), key=key, f0_start_hz=start_hz, a4_hz=440.0)
    unison = note.unison
    if note.f0_hz is None or unison is None:
        return None
    true_verdict = _true_verdict(truth, note)
    strings = unison.string_f0_hz
    errors: tuple[float, ...] = ()
    standardised: tuple[float, ...] = ()
    spread_error = spread_standardised = None
    if strings is not None and len(strings) == n_strings:
        true_hz = np.sort(truth.string_f0_hz)
        errors = tuple(float(cents_from_ratio(s.value / t)) for s, t in zip(strings, true_hz, strict=True))
        standardised = tuple((s.value - t) / s.se for s, t in zip(strings, true_hz, strict=True))
        if unison.spread_cents is not None:
            true_spread = float(cents_from_ratio(true_hz[-1] / true_hz[0]))
            spread_error = unison.spread_cents.value - true_spread
            spread_standardised = spread_error / unison.spread_cents.se
    return Trial(
        n_strings=n_strings,
        spread_cents=spread,
        coupled=coupled,
        kind=kind,
        verdict=unison.verdict.value,
        true_verdict=true_verdict.value,
        mode_errors_cents=_mode_errors(truth, note),
        n_told=None if strings is None else len(strings),
        string_errors_cents=errors,
        string_standardised=standardised,
        spread_error_cents=spread_error,
        spread_standardised=spread_standardised,
    )


def _true_verdict(truth: TrueStrike, note: Note) -> UnisonVerdict:
    """Return the verdict that the true modes give, over the eight loudest of the first sixteen partials.

    How loud each partial is at the microphone is a matter of the room, not of the unison, and is taken as measured.
    """
    heard_db = {partial.n: partial.level_db.value for partial in note.partials if partial.n <= 16}
    loudest = sorted(heard_db, key=lambda n: -heard_db[n])[:8]
    true = {partial.n: partial for partial in truth.partials}
    modes = [_as_modes(true[n], level_db=heard_db[n]) for n in loudest if n in true]
    verdict, _ = judge_by_modes(modes, heard_s=DURATION_S)
    return verdict


def _as_modes(partial: TruePartial, *, level_db: float) -> PartialModes:
    pole = np.array([-mode.decay_db_per_s / DB_PER_NEPER + 2j * np.pi * mode.f_hz for mode in partial.modes])
    onset = np.array([10.0 ** (mode.level_db / 20.0) * np.exp(1j * mode.phase_rad) for mode in partial.modes])
    onset *= 10.0 ** (level_db / 20.0) / np.abs(onset.sum())
    none = np.zeros(pole.size)
    return PartialModes(partial=partial.n, pole_per_s=pole, onset=onset, pole_sd_per_s=none, level_sd_db=none)


def _mode_errors(truth: TrueStrike, note: Note) -> tuple[float, ...]:
    """Return how far the nearest mode found lies from each true one, in partials within 20 dB of the loudest."""
    found = {partial.n: partial for partial in note.partials if partial.n <= 16}
    loudest_db = max((p.level_db.value for p in found.values()), default=0.0)
    errors = []
    for partial in truth.partials:
        measured = found.get(partial.n)
        if measured is None or measured.level_db.value < loudest_db - LOUD_DB:
            continue
        strongest_db = max(mode.level_db for mode in partial.modes)
        for mode in partial.modes:
            if mode.level_db >= strongest_db - LOUD_DB:
                nearest = min(abs(float(cents_from_ratio(m.f_hz.value / mode.f_hz))) for m in measured.modes)
                errors.append(nearest)
    return tuple(errors)


def rows(pool: ProcessPoolExecutor, *, quick: bool) -> Iterator[Row]:
    """Return the figures, one row each: what, measured, target, whether met, remark."""
    n = 120 if quick else 1000
    told = [one for one in pool.map(trial, range(n), chunksize=5) if one is not None]
    for surroundings in ("kind", "unkind"):
        chosen = [one for one in told if one.kind == (surroundings == "kind")]
        yield from _rows_of(f"unisons, {len(chosen)} {surroundings} notes, 4 s, 40 dB: ", chosen)
    single = [one for one in told if one.n_strings == 1]
    invented = sum(one.n_told is not None and one.n_told > 1 for one in single)
    yield "unisons: several strings told where one is", f"{invented}", "0", invented == 0, f"of {len(single)}"


def _rows_of(name: str, trials: list[Trial]) -> Iterator[Row]:
    errors = np.concatenate([one.mode_errors_cents for one in trials])
    yield (
        name + "modes, median error",
        f"{np.median(errors):.4f} cent",
        "<= 0.05",
        bool(np.median(errors) <= 0.05),
        f"{100 * np.mean(errors < 0.1):.0f} % of {errors.size} within 0.1 cent",
    )
    judged = [one for one in trials if one.verdict != UnisonVerdict.CANNOT_TELL]
    right = float(np.mean([one.verdict == one.true_verdict for one in judged]))
    untold = 100 * (1 - len(judged) / len(trials))
    remark = f"of {len(judged)} told; {untold:.1f} % 'cannot tell'"
    yield name + "verdict right", f"{100 * right:.1f} %", ">= 95 %", right >= 0.95, remark
    counted = [one for one in trials if one.n_told is not None]
    wrong = [one for one in counted if one.n_told != one.n_strings]
    kinds = ", ".join(f"{n} for {of}: {times}" for (of, n), times in _kinds_of(wrong).items())
    yield (
        name + "wrong count of strings",
        f"{100 * len(wrong) / len(trials):.1f} %",
        "<= 2 %",
        len(wrong) <= 0.02 * len(trials),
        f"{len(wrong)} of {len(counted)} counted ({kinds})" if wrong else f"of {len(counted)} counted",
    )
    wide = [one for one in trials if one.is_wide]
    share = float(np.mean([one.n_told == one.n_strings for one in wide]))
    yield name + "strings told where wide", f"{100 * share:.0f} %", "", None, f"of {len(wide)}; the rest 'cannot tell'"
    off = np.abs(np.concatenate([one.string_errors_cents for one in wide]))
    apart = np.abs([one.spread_error_cents for one in wide if one.spread_error_cents is not None])
    for what, values in (("f0 of strings", off), ("spread", apart)):
        middle = float(np.median(values))
        yield (
            f"{name}{what}, median error",
            f"{middle:.3f} cent",
            "<= 0.1",
            middle <= 0.1,
            f"95 % within {np.quantile(values, 0.95):.2f}, of {values.size}",
        )
    z = np.concatenate([one.string_standardised for one in trials])
    spreads = np.array([one.spread_standardised for one in trials if one.spread_standardised is not None])
    for what, standardised in (("f0 of strings", z), ("spreads", spreads)):
        within = float(np.mean(np.abs(standardised) <= 1.96))
        yield (
            f"{name}{what} within 1.96 se",
            f"{100 * within:.1f} %",
            "93-97 %",
            0.93 <= within <= 0.97,
            f"of {standardised.size}",
        )


def _kinds_of(wrong: list[Trial]) -> Counter[tuple[int, int]]:
    return Counter((one.n_strings, one.n_told) for one in wrong if one.n_told is not None)
