"""Real strings, real noises of keys let go, and a felt that is put over them: no recording of a damper test is open.

The free notes of a recorded grand are faded by an exponential from a chosen moment on, all partials alike or all but
one, and the recorded noise of that key's return is laid over the landing.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.real.lone_strikes import layered_note
from tests.recordings import LAYERED_KEYS, attack_sample, chromatic_grand, key_release, layered_grand
from tests.sounds import MemorySound

from strikeline.acoustics.damping import measure_damping
from strikeline.acoustics.damping_result import DamperVerdict
from strikeline.acoustics.identity import gather_evidence, name_strikes
from strikeline.acoustics.listening import Kind, Listening
from strikeline.acoustics.strikes import Strike, StrikeCutter
from strikeline.keyboard import equal_tempered_hz
from strikeline.physics.stretch import typical_inharmonicity_b
from strikeline.workshop.listening import listen

pytestmark = pytest.mark.real

RATE_HZ: Final = 48_000
VELOCITY: Final = 10
STEP_S: Final = 1.4
LANDS_S: Final = 0.22
LAST_DAMPED: Final = 67
LEAKING: Final = {25: 3, 40: 2, 46: 4}
"""Key, and the partial that the felt leaves ringing."""


@dataclass(frozen=True)
class Played:
    listening: Listening
    onsets_s: tuple[float, ...]


def t60_s(key: int) -> float:
    """A sound damper's, as in the secondary survey that the synthesis goes by."""
    return float(np.interp(key, [1, 25, 49, 68], [0.86, 0.49, 0.25, 0.17]))


def free_note(key: int) -> NDArray[np.float64]:
    samples = layered_grand(key, VELOCITY)[0].mean(axis=1).astype(np.float64)
    begin = max(0, attack_sample(samples[:, None]) - 240)
    return np.asarray(samples[begin : begin + round(STEP_S * RATE_HZ)])


def under_felt(key: int, leaking: int | None) -> NDArray[np.float64]:
    note = free_note(key)
    since_s = np.arange(note.size) / RATE_HZ - LANDS_S
    felt = np.exp(-np.log(1000.0) / t60_s(key) * np.maximum(since_s, 0.0))
    if leaking is None:
        return np.asarray(note * felt)
    partial = next(p for p in layered_note(key, VELOCITY).partials if p.n == leaking)
    spectrum, hz = np.fft.rfft(note), np.fft.rfftfreq(note.size, 1.0 / RATE_HZ)
    spared = np.fft.irfft(spectrum * (np.abs(hz - partial.f_hz.value) < 12.0), note.size)
    return np.asarray((note - spared) * felt + spared)


@lru_cache(maxsize=2)
def played(*, leaks: bool, noise_db: float = -24.0) -> Played:
    """A pass over all keys that were recorded; their returns peak 5 to 15 dB below the notes, as no quiet action does.

    The recordings of the returns are brought to full scale; how loud they were is not known.
    """
    rng = np.random.default_rng(3)
    n_step = round(STEP_S * RATE_HZ)
    samples = 1e-4 * rng.standard_normal(n_step * (len(LAYERED_KEYS) + 2))
    onsets = []
    for place, key in enumerate(LAYERED_KEYS):
        at = round(0.5 * RATE_HZ) + place * n_step
        leaking = LEAKING.get(key) if leaks else None
        note = under_felt(key, leaking) if key <= LAST_DAMPED else free_note(key) * fade()
        samples[at : at + note.size] += note
        thump = key_release(key)[0].mean(axis=1) * 10.0 ** (noise_db / 20.0)
        start = at + round((LANDS_S + rng.uniform(-0.01, 0.02)) * RATE_HZ)
        samples[start : start + thump.size] += thump
        onsets.append(at / RATE_HZ)
    source = MemorySound(samples.astype(np.float32), sample_rate_hz=RATE_HZ)
    heard = listen(source, kind=Kind.STACCATO, note=None, compass=None, a4_hz=440.0, analyser="test")
    return Played(heard, tuple(onsets))


def fade() -> NDArray[np.float64]:
    """The cut between two notes, 30 ms."""
    n = round(STEP_S * RATE_HZ)
    return np.clip((n - np.arange(n)) / (0.03 * RATE_HZ), 0.0, 1.0)


def verdict_by_key(listening: Listening) -> dict[int, DamperVerdict]:
    return {n.key: n.damping.verdict for n in listening.notes if n.key is not None and n.damping is not None}


@pytest.mark.parametrize("leaks", [False, True])
def test_every_blow_is_named_and_no_noise_of_a_key_is_a_note(leaks: bool) -> None:
    notes = played(leaks=leaks).listening.notes
    assert tuple(note.key for note in notes) == LAYERED_KEYS
    assert max(abs(n.onset_s - at - 0.005) for n, at in zip(notes, played(leaks=leaks).onsets_s, strict=True)) < 0.03


def test_nothing_leaks_where_the_felt_stops_everything_and_the_landing_is_found() -> None:
    notes = played(leaks=False).listening.notes
    damped = [note.damping for note in notes if (note.key or 0) <= LAST_DAMPED and note.damping is not None]
    assert {damping.verdict for damping in damped} == {DamperVerdict.STOPS}
    assert all(damping.leaking_partials == () for damping in damped)
    assert all(abs(d.lands_s.value - LANDS_S) < 0.02 for d in damped if d.lands_s is not None)
    assert all(d.lands_s is not None for d in damped)


def test_the_time_to_die_is_that_of_the_felt() -> None:
    notes = played(leaks=False).listening.notes
    told = [(n.key, n.damping.t60_s) for n in notes if n.damping is not None and n.damping.t60_s is not None and n.key]
    ratio = [t60.value / t60_s(key) for key, t60 in told if key <= LAST_DAMPED]
    assert len(ratio) >= 18
    assert 0.9 < float(np.median(ratio)) < 1.15, "free decay adds to the felt's, the recording's room takes from it"


def test_the_partials_left_ringing_leak_and_no_other() -> None:
    notes = played(leaks=True).listening.notes
    found = {n.key: n.damping.leaking_partials for n in notes if n.damping is not None and n.damping.leaking_partials}
    assert found == {key: (n,) for key, n in LEAKING.items()}


def test_the_top_has_no_damper() -> None:
    found = verdict_by_key(played(leaks=False).listening)
    assert all(found[key] is DamperVerdict.NONE for key in LAYERED_KEYS if key > LAST_DAMPED)


def test_noises_of_keys_alone_are_no_notes() -> None:
    rng = np.random.default_rng(1)
    samples = 1e-4 * rng.standard_normal(RATE_HZ * 90)
    for key in range(1, 89):
        noise = key_release(key)[0].mean(axis=1)
        start = round((0.5 + key) * RATE_HZ)
        samples[start : start + noise.size] += noise
    cutter = StrikeCutter(sample_rate_hz=float(RATE_HZ))
    strikes = cutter.feed(samples.astype(np.float32)) + cutter.finish()
    naming = name_strikes([gather_evidence(s, a4_hz=440.0) for s in strikes], compass=None, a4_hz=440.0)
    assert [key for key in naming.keys if key is not None] == []


@pytest.mark.parametrize("set_name", ["layered", "chromatic"])
def test_ordinary_notes_that_nothing_stops_do_not_leak(set_name: str) -> None:
    wrong = []
    for key in range(7, 68, 6):
        if set_name == "layered" and key not in LAYERED_KEYS:
            continue
        samples, rate = layered_grand(key, VELOCITY) if set_name == "layered" else chromatic_grand(key)
        mono = samples.mean(axis=1)
        begin = max(0, attack_sample(samples) - round(0.005 * rate))
        sound = np.concatenate([np.zeros(round(0.3 * rate)), mono[begin : begin + round(1.5 * rate)]])
        noise = 1e-4 * np.random.default_rng(key).standard_normal(sound.size)
        strike = Strike(
            samples=(sound + noise).astype(np.float32),
            sample_rate_hz=float(rate),
            onset_sample=round(0.305 * rate),
            start_s=0.0,
        )
        f0_hz = float(equal_tempered_hz(key, a4_hz=440.0 if set_name == "layered" else 441.0))
        damping = measure_damping(strike, key=key, f0_hz=f0_hz, inharmonicity_b=float(typical_inharmonicity_b(key)))
        if damping.leaking_partials or (damping.lands_s is not None and damping.is_landing_sure):
            wrong.append((key, damping.verdict.value, damping.leaking_partials))
    assert wrong == []
