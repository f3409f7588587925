"""Two-stage decay, singing, the pedal and two keys at once against truth that is known.

- *Decays*: two strings coupled through the bridge (`synthesis.unison`, after Weinreich 1977), 0 to 0.4 cents apart,
  struck unevenly, in white noise 40 dB below: each partial is then two modes exactly, and early rate, late rate, their
  crossing and its level are known.
- *Three strings*: notes of an invented grand; two modes may be all that can be told from three.
- *Singing*: notes of an invented grand, three strings each, held for 1.2 to 4 s. The truth is worked out from the true
  modes step by step in time, by another route than the estimator's.
- *Pedal* and *two notes*: invented grands played with and without. A good pass must raise neither.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace

import numpy as np
import scipy.signal
from numpy.typing import NDArray

from benchmarks.generated_passes import generated_pass
from strikeline.acoustics.bands import Spectrum
from strikeline.acoustics.decay import estimate_decays
from strikeline.acoustics.identity import gather_evidence, name_strikes
from strikeline.acoustics.listening import Note
from strikeline.acoustics.measure import measure_strike
from strikeline.acoustics.partials import measure_partials
from strikeline.acoustics.pedal import HeardStrike, RingingOn, find_ringing_on
from strikeline.acoustics.singing import a_weighting_power
from strikeline.acoustics.strikes import Strike, StrikeCutter
from strikeline.acoustics.two_notes import TwoNotes, find_two_notes
from strikeline.keyboard import Compass
from strikeline.physics.strings import partial_frequencies_hz
from strikeline.synthesis.hammer import strike_strings
from strikeline.synthesis.ideal import white_noise
from strikeline.synthesis.instrument import SynthesisedPiano, piano
from strikeline.synthesis.modes import sum_of_modes
from strikeline.synthesis.note import NoteModes, note_modes
from strikeline.synthesis.performance import KeyBlow, Performance, ascending, play
from strikeline.synthesis.rendering import RenderedPass, render_pass
from strikeline.synthesis.unison import couple_strings
from strikeline.units import DB_PER_NEPER

SAMPLE_RATE_HZ = 44_100
SNR_DB = 40.0
PRE_ROLL_S = 0.25
HELD_S = (1.2, 2.0, 3.0, 4.0)
INTERVALS = (1, 2, 3, 4, 5, 7, 8, 9, 10)
_SAME_BLOW_S = 0.08

Row = tuple[str, str, str, bool | None, str]
Complex = NDArray[np.complex128]


@dataclass(frozen=True, slots=True, kw_only=True)
class DecayTrial:
    """Errors of one note's partials over their standard errors."""

    early: tuple[float, ...]
    late: tuple[float, ...]
    crossing: tuple[float, ...]
    level: tuple[float, ...]
    one_stage_pct: tuple[float, ...]
    """Errors of the rate, per cent, where the weaker of the two modes was not found and one rate was told."""


def decay_trial(seed: int) -> DecayTrial:
    """Make one note of two coupled strings and measure the decay of its partials."""
    rng = np.random.default_rng([31, seed])
    key = int(rng.integers(20, 65))
    grand = piano(compass=Compass(key, key + 1), seed=seed, pitch_level_cents=0.0)
    f0_hz = grand[key].unison.mean_f0_hz
    apart = float(np.exp2(rng.uniform(0.0, 0.4) / 1200.0))
    unison = replace(grand[key].unison, f0_hz=(f0_hz, f0_hz * apart), string_stiffness_ratio=())
    n = np.arange(1, 11)
    at_hz = partial_frequencies_hz(n, f0_hz=f0_hz, inharmonicity_b=unison.inharmonicity_b)
    board = grand.soundboard.admittance_s_per_kg(key, at_hz)
    share = float(rng.uniform(0.7, 1.3))
    coupled = couple_strings(unison, n, admittance_s_per_kg=board, share=(share, 2.0 - share))
    size = 0.1 * 10.0 ** (-1.5 * (n - 1) / 20.0) * np.exp(2j * np.pi * rng.uniform(size=n.size))
    pole, onset = coupled.pole_per_s, coupled.weight * size[:, None]
    strike = _in_noise(pole, onset, duration_s=4.0, seed=seed)
    spectrum = Spectrum(strike.samples[strike.onset_sample :], sample_rate_hz=SAMPLE_RATE_HZ)
    found = measure_partials(spectrum, n, expected_hz=at_hz, spacing_hz=f0_hz)
    clear = found.signal_to_noise_db > 13.0
    one_stage_pct: list[float] = []
    errors: dict[str, list[float]] = {"early": [], "late": [], "crossing": [], "level": []}
    for row, decay in enumerate(estimate_decays(found)):
        if not clear[row]:
            continue
        truth = _true_stages(pole[row], onset[row], first_s=float(found.bands.time_s[0]))
        told = (decay.early, decay.late, decay.crossing_s, decay.crossing_db)
        if not found.is_double[row] and decay.early is not None:
            one_stage_pct.append(100.0 * abs(decay.early.value / truth[0] - 1.0))
        if decay.late is None:
            continue
        for values, one, true in zip(errors.values(), told, truth, strict=True):
            if one is not None:
                values.append((one.value - true) / one.se)
    return DecayTrial(one_stage_pct=tuple(one_stage_pct), **{name: tuple(values) for name, values in errors.items()})


def _true_stages(pole: Complex, onset: Complex, *, first_s: float) -> tuple[float, float, float, float]:
    """Return early and late rate, dB/s, crossing, s, and level there, dB."""
    fast, slow = np.argsort(pole.real)
    alpha, size = -pole.real, np.abs(onset)
    power = size**2 * np.exp(-2.0 * alpha * first_s)
    crossing_s = float(np.log(size[fast] / size[slow]) / (alpha[fast] - alpha[slow]))
    level = np.log(size[slow] / np.abs(onset.sum())) - alpha[slow] * crossing_s
    return (
        float(DB_PER_NEPER * (power @ alpha) / power.sum()),
        float(DB_PER_NEPER * alpha[slow]),
        crossing_s,
        float(DB_PER_NEPER * level),
    )


def _in_noise(pole: Complex, onset: Complex, *, duration_s: float, seed: int) -> Strike:
    n_before, n_after = round(PRE_ROLL_S * SAMPLE_RATE_HZ), round(duration_s * SAMPLE_RATE_HZ)
    sound = sum_of_modes(
        pole.ravel(), onset.ravel(), sample_rate_hz=SAMPLE_RATE_HZ, n_samples=n_after, dtype=np.float64
    )
    loud = float(np.sqrt(np.mean(np.square(sound[: SAMPLE_RATE_HZ // 10]))))
    samples = white_noise(n_samples=n_before + n_after, noise_sd=loud * 10.0 ** (-SNR_DB / 20.0), seed=seed)
    samples[n_before:] += sound
    return Strike(samples=samples.astype(np.float32), sample_rate_hz=SAMPLE_RATE_HZ, onset_sample=n_before, start_s=0.0)


def three_string_trial(seed: int) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Strike a key with three strings; return late rates less the truth over their errors, and over the truth.

    The truth is the mean rate of the modes weighted by their energy at the end of the sound.
    """
    rng = np.random.default_rng([35, seed])
    key = int(rng.integers(32, 66))
    grand = piano(compass=Compass(key, key + 1), seed=seed, pitch_level_cents=0.0)
    state = grand[key]
    pulses = strike_strings([state.unison], [state.hammer], speed_m_per_s=np.array([rng.uniform(1.5, 4.0)]))
    modes = note_modes(grand, key, pulses, blow=0, sample_rate_hz=SAMPLE_RATE_HZ)
    strike = _in_noise(modes.pole_per_s, modes.amplitude, duration_s=4.0, seed=seed)
    note = measure_strike(strike, key=key, f0_start_hz=state.unison.mean_f0_hz, a4_hz=440.0)
    errors, ratios = [], []
    for partial in note.partials[:8]:
        late = partial.decay_db_per_s.late
        one = modes.where(modes.partial == partial.n).later(4.0)
        if late is not None and one.amplitude.size:
            power = np.abs(one.amplitude) ** 2
            true = float(-DB_PER_NEPER * (power @ one.pole_per_s.real) / power.sum())
            errors.append((late.value - true) / late.se)
            ratios.append(late.value / true)
    return tuple(errors), tuple(ratios)


@dataclass(frozen=True, slots=True, kw_only=True)
class SingingTrial:
    """How one note's singing was told when it was held for a time."""

    held_s: float
    ln_error: float | None
    """ln(told / true); ``None`` if it was not told."""
    standardised: float | None


def singing_trials(seed: int) -> tuple[SingingTrial, ...]:
    """Strike one key of an invented grand and hold it for each of `HELD_S`."""
    rng = np.random.default_rng([32, seed])
    key = int(rng.integers(4, 86))
    grand = piano(compass=Compass(key, key + 1), seed=seed, pitch_level_cents=0.0)
    state = grand[key]
    pulses = strike_strings([state.unison], [state.hammer], speed_m_per_s=np.array([rng.uniform(1.5, 4.0)]))
    modes = note_modes(grand, key, pulses, blow=0, sample_rate_hz=SAMPLE_RATE_HZ)
    true_s = true_singing_s(modes)
    whole = _in_noise(modes.pole_per_s, modes.amplitude, duration_s=max(HELD_S), seed=seed)
    trials = []
    for held_s in HELD_S:
        part = whole.samples[: whole.onset_sample + round(held_s * SAMPLE_RATE_HZ)]
        note = measure_strike(replace(whole, samples=part), key=key, f0_start_hz=state.unison.mean_f0_hz, a4_hz=440.0)
        told = note.singing_s
        trials.append(
            SingingTrial(
                held_s=held_s,
                ln_error=None if told is None else float(np.log(told.value / true_s)),
                standardised=None if told is None else (told.value - true_s) / told.se,
            )
        )
    return tuple(trials)


def true_singing_s(modes: NoteModes, *, forgetting_s: float = 1.0, exponent: float = 0.3) -> float:
    """Return when a note is a quarter as loud, from its envelopes step by step in time."""
    step_s = 0.002
    time_s = np.arange(0.0, 60.0, step_s)
    loudness = np.zeros(time_s.size)
    partials = np.unique(modes.partial)
    onset_db, parts = [], []
    keep = np.exp(-step_s / forgetting_s)
    for n in partials:
        one = modes.where(modes.partial == n)
        carrier = one.pole_per_s.imag.mean()
        weight = float(a_weighting_power(np.array([carrier / (2.0 * np.pi)]))[0])
        envelope = np.zeros(time_s.size, dtype=np.complex128)
        for pole, amplitude in zip(one.pole_per_s, one.amplitude, strict=True):
            envelope += amplitude * np.exp((pole - 1j * carrier) * time_s)
        power = weight * np.abs(envelope) ** 2
        ahead = scipy.signal.lfilter([1.0 - keep], [1.0, -keep], power[::-1])[::-1]  # what follows, forgotten slowly
        onset_db.append(10.0 * np.log10(ahead[0]))
        parts.append(ahead)
    kept = np.clip((np.array(onset_db) - max(onset_db) + 35.0) / 10.0, 0.0, 1.0)
    for share, ahead in zip(kept, parts, strict=True):
        loudness += share * ahead**exponent
    return float(time_s[np.argmax(loudness < 0.25119 * loudness[0])])


@dataclass(frozen=True, slots=True, kw_only=True)
class PassTrial:
    """What was found in one pass besides its notes."""

    description: str
    ringing: RingingOn | None
    n_strikes: int
    n_pairs: int
    n_pairs_found: int
    n_pairs_named: int
    """Found, and both keys named right."""
    n_false_pairs: int
    misnamed: tuple[str, ...] = ()


def plain_pass(number: int) -> PassTrial:
    """Listen to one of the generated passes that the naming is judged by: no pedal, no two notes."""
    rendered, description = generated_pass(number)
    return _heard(rendered, description)


def pedal_pass(number: int) -> PassTrial:
    """Listen to a pass over half a keyboard with the pedal down all the time, or (every third) in its middle."""
    rng = np.random.default_rng([33, number])
    lowest = int(rng.integers(1, 30))
    grand, performance = _half_pass(lowest, rng)
    duration_s = performance.duration_s
    from_s, to_s = (0.3 * duration_s, 0.8 * duration_s) if number % 3 == 2 else (0.0, duration_s)
    rendered = render_pass(
        grand, performance.with_pedal_down(from_s=from_s, to_s=to_s), sample_rate_hz=SAMPLE_RATE_HZ, seed=number
    )
    return _heard(rendered, f"pedal from {from_s:.0f} to {to_s:.0f} s, lowest key {lowest}")


def paired_pass(number: int) -> PassTrial:
    """Listen to a pass over half a keyboard in which every fourth blow takes another key along."""
    rng = np.random.default_rng([34, number])
    grand, performance = _half_pass(int(rng.integers(4, 32)), rng, n_keys=52)
    blows: list[KeyBlow] = []
    for place, blow in enumerate(performance.blows[:-12]):
        blows.append(blow)
        if place % 4 == 3:
            other = blow.key + int(rng.choice(INTERVALS))
            later_s = float(rng.uniform(0.0, 0.03))
            blows.append(replace(blow, key=other, at_s=blow.at_s + later_s, hold_s=blow.hold_s - later_s))
    rendered = render_pass(grand, replace(performance, blows=tuple(blows)), sample_rate_hz=SAMPLE_RATE_HZ, seed=number)
    return _heard(rendered, f"pairs, pass {number}")


def _half_pass(lowest: int, rng: np.random.Generator, *, n_keys: int = 44) -> tuple[SynthesisedPiano, Performance]:
    compass = Compass(lowest, lowest + n_keys - 1)
    seed = int(rng.integers(1 << 30))
    grand = piano(compass=compass, seed=seed, pitch_level_cents=float(rng.uniform(-60.0, 20.0)))
    overlap_s = float(rng.choice([-0.12, 0.1, 0.3]))
    keys = ascending(compass)
    return grand, play(keys, speed_m_per_s=2.5, seed=seed, length_ratio=0.7, overlap_s=overlap_s)


def _heard(rendered: RenderedPass, description: str) -> PassTrial:
    """Name and measure a pass as `workshop.listening` does, and look for the pedal and for two notes."""
    cutter = StrikeCutter(sample_rate_hz=rendered.sample_rate_hz)
    strikes = cutter.feed(rendered.samples) + cutter.finish()
    evidence = [gather_evidence(strike, a4_hz=440.0) for strike in strikes]
    naming = name_strikes(evidence, compass=None, a4_hz=440.0)
    notes: list[Note | None] = []
    two: list[tuple[float, TwoNotes]] = []
    for strike, about, key, f0_hz in zip(strikes, evidence, naming.keys, naming.f0_hz, strict=True):
        if key is None or f0_hz is None:
            notes.append(None)
            continue
        note = measure_strike(strike, key=key, f0_start_hz=f0_hz, a4_hz=440.0)
        both = find_two_notes(about.peaks, note, a4_hz=440.0)
        notes.append(note if both is None else both.instead_of(note))
        if both is not None:
            two.append((strike.onset_s, both))
    ringing = find_ringing_on(
        [
            HeardStrike(onset_s=strike.onset_s, note=note, peaks=about.peaks.heard)
            for strike, note, about in zip(strikes, notes, evidence, strict=True)
        ]
    )
    true_pairs = _true_pairs(rendered)
    found = [(pair, both) for at_s, pair in true_pairs for on_s, both in two if abs(at_s - on_s) < _SAME_BLOW_S]
    return PassTrial(
        description=description,
        ringing=ringing,
        n_strikes=len(rendered.truth.strikes),
        n_pairs=len(true_pairs),
        n_pairs_found=len(found),
        n_pairs_named=sum(pair == both.keys for pair, both in found),
        n_false_pairs=len(two) - len(found),
        misnamed=tuple(f"{pair} heard as {both.keys}" for pair, both in found if pair != both.keys),
    )


def _true_pairs(rendered: RenderedPass) -> list[tuple[float, tuple[int, int]]]:
    true = sorted(rendered.truth.strikes, key=lambda strike: strike.onset_s)
    return [
        (one.onset_s, (min(one.key, other.key), max(one.key, other.key)))
        for one, other in itertools.pairwise(true)
        if other.onset_s - one.onset_s < _SAME_BLOW_S
    ]


def rows(pool: ProcessPoolExecutor, *, quick: bool) -> Iterator[Row]:
    """Yield the rows of the table.

    Parameters
    ----------
    pool : ProcessPoolExecutor
        Runs the trials.
    quick : bool
        Fewer trials: a look, not a claim.
    """
    yield from _decay_rows(list(pool.map(decay_trial, range(20 if quick else 200), chunksize=5)))
    yield _three_string_row(list(pool.map(three_string_trial, range(20 if quick else 100), chunksize=5)))
    yield from _singing_rows(list(pool.map(singing_trials, range(20 if quick else 200), chunksize=5)))
    plain = list(pool.map(plain_pass, range(0, 20, 10) if quick else range(20)))
    pedal = list(pool.map(pedal_pass, range(3 if quick else 12)))
    paired = list(pool.map(paired_pass, range(2 if quick else 8)))
    name = f"{len(plain)} plain passes: "
    n_false = sum(one.n_false_pairs for one in plain)
    n_strikes = sum(one.n_strikes for one in plain)
    yield (
        name + "false pedal warnings",
        f"{sum(one.ringing is not None for one in plain)}",
        "0",
        all(one.ringing is None for one in plain),
        "",
    )
    yield name + "false 'two notes'", f"{n_false} of {n_strikes}", "<= 0.5 %", n_false <= 0.005 * n_strikes, ""
    found = sum(one.ringing is not None for one in pedal)
    yield f"{len(pedal)} passes with the pedal down: found", f"{found}", f"{len(pedal)}", found == len(pedal), ""
    n_pairs, n_found = sum(one.n_pairs for one in paired), sum(one.n_pairs_found for one in paired)
    n_named = sum(one.n_pairs_named for one in paired)
    remark = f"of {n_pairs}; both named right {n_named}; false {sum(one.n_false_pairs for one in paired)}"
    yield (
        "two keys struck together: found",
        f"{100 * n_found / n_pairs:.0f} %",
        ">= 90 %",
        (n_found >= 0.9 * n_pairs),
        remark,
    )
    yield (
        "two keys found: both named right",
        f"{100 * n_named / max(n_found, 1):.0f} %",
        ">= 95 %",
        (n_named >= 0.95 * n_found),
        "; ".join(wrong for one in paired for wrong in one.misnamed),
    )


def _decay_rows(trials: list[DecayTrial]) -> Iterator[Row]:
    for name, what in (
        ("early", "early rate"),
        ("late", "late rate"),
        ("crossing", "crossing"),
        ("level", "its level"),
    ):
        errors = np.abs([error for trial in trials for error in getattr(trial, name)])
        share = float(np.mean(errors <= 1.96))
        remark = f"(95 +- {196.0 * np.sqrt(0.0475 / errors.size):.1f} % expected of {errors.size})"
        yield (
            f"two coupled strings: {what} within 1.96 se",
            f"{100 * share:.1f} %",
            "93-97 %",
            0.93 <= share <= 0.97,
            remark,
        )

    off_pct = np.array([error for trial in trials for error in trial.one_stage_pct])
    remark = f"worst of 20: {np.percentile(off_pct, 95):.1f} % ({off_pct.size}); not in its standard error"
    yield "the same: one rate told, second mode not found, off by", f"{np.median(off_pct):.1f} %", "", None, remark


def _three_string_row(trials: list[tuple[tuple[float, ...], tuple[float, ...]]]) -> Row:
    errors = np.abs([error for one, _ in trials for error in one])
    share = float(np.mean(errors <= 1.96))
    low, high = np.percentile([ratio for _, one in trials for ratio in one], [5.0, 95.0])
    remark = f"5 to 95 of 100: {low:.2f} to {high:.2f} of the truth ({errors.size})"
    return "three coupled strings: late rate within 1.96 se", f"{100 * share:.1f} %", ">= 93 %", share >= 0.93, remark


def _singing_rows(trials: list[tuple[SingingTrial, ...]]) -> Iterator[Row]:
    for place, held_s in enumerate(HELD_S):
        all_held = [trial[place] for trial in trials]
        told = [trial for trial in all_held if trial.standardised is not None]
        share = float(np.mean([abs(trial.standardised or 0.0) <= 1.96 for trial in told]))
        off = float(np.median([abs(trial.ln_error or 0.0) for trial in told]))
        remark = f"median error {100 * off:.0f} %, told {len(told)} of {len(all_held)}"
        yield (
            f"singing, held for {held_s:g} s: within 1.96 se",
            f"{100 * share:.1f} %",
            ">= 93 %",
            share >= 0.93,
            remark,
        )
