"""What the quality meter says of recordings with one known fault, and that it keeps silent without one."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy import signal
from tests.closeness import assert_close

from strikeline.acoustics.quality import QualityMeter
from strikeline.errors import InputError

RATE = 48000


def played(
    *, rate: int = RATE, n_notes: int = 14, note_s: float = 2.0, peak: float = 0.5, hiss: float = 3e-5, seed: int = 1
) -> NDArray[np.float32]:
    """Return a run of struck notes with a second of room before it, shape (n,)."""
    rng = np.random.default_rng(seed)
    t_s = np.arange(round(note_s * rate)) / rate
    parts = [np.zeros(rate)]
    for number in range(n_notes):
        f0_hz = 82.4 * 2 ** (5 * number / 12)
        note = np.zeros(len(t_s))
        for partial in range(1, 16):
            f_hz = partial * f0_hz * np.sqrt(1 + 3e-4 * partial**2)
            if f_hz < 0.45 * rate:
                note += np.exp(-t_s * (1.2 + 0.5 * partial + f0_hz / 300)) / partial * np.sin(2 * np.pi * f_hz * t_s)
        knock = 0.05 * rng.standard_normal(len(t_s)) * np.exp(-t_s / 0.015)
        parts.append((note + knock) * np.minimum(1, (note_s - t_s) / 0.05))
    sound = np.concatenate(parts)
    whole = sound * peak / np.abs(sound).max() + hiss * rng.standard_normal(len(sound))
    return np.asarray(whole, np.float32)


def heard(
    samples: NDArray[np.float32], *, rate: int = RATE, block: int | None = None, **coding: object
) -> QualityMeter:
    meter = QualityMeter(sample_rate_hz=rate, **coding)  # type: ignore[arg-type]
    for start in range(0, len(samples), block or rate):
        meter.feed(samples[start : start + (block or rate)])
    return meter


def pcm16(samples: NDArray[np.float32]) -> NDArray[np.float32]:
    return (np.round(np.clip(samples, -1, 1 - 2**-15) * 2**15) / 2**15).astype(np.float32)


SOUND = played()


@pytest.mark.parametrize("convert", [np.copy, pcm16], ids=["float", "16 bit"])
def test_nothing_is_said_of_a_good_recording(convert: Callable[[NDArray[np.float32]], NDArray[np.float32]]) -> None:
    assert heard(convert(SOUND)).finish() == ()


def test_a_recording_at_192_khz_is_good() -> None:
    assert heard(played(rate=192000, n_notes=3), rate=192000).finish() == ()


@pytest.mark.parametrize("level", [1.0, 0.4])
@pytest.mark.parametrize("convert", [np.copy, pcm16], ids=["float", "16 bit"])
def test_clipping_is_counted_and_placed(
    level: float, convert: Callable[[NDArray[np.float32]], NDArray[np.float32]]
) -> None:
    hot = 1.6 * level / 0.5 * SOUND
    truth = np.abs(hot) > level
    meter = heard(convert(np.clip(hot, -level, level).astype(np.float32)))
    (warning,) = [sentence for sentence in meter.finish() if "DC" not in sentence]
    assert warning.startswith("clipped")
    assert f"{20 * np.log10(level):.1f} dB".replace("-", "−") in warning
    count = int(warning.split()[1])
    assert_close(count, truth.sum(), rtol=0.01, atol=0, why="samples within 2e-4 of the limit count as cut off too")
    times_s = np.flatnonzero(truth) / RATE
    covered = np.zeros(len(times_s), bool)
    for start_s, end_s in meter.clipped_s:
        covered |= (times_s >= start_s - 1e-9) & (times_s < end_s)
    assert covered.all()
    assert sum(end_s - start_s for start_s, end_s in meter.clipped_s) < 3.0, "and only around them"


@pytest.mark.parametrize("f_hz", [27.5, 110.0, 1000.0])
@pytest.mark.parametrize("peak", [0.999, 0.3, 0.05])
def test_the_round_tops_of_a_loud_low_tone_are_not_clipping(f_hz: float, peak: float) -> None:
    """At 27.5 Hz, 48 kHz and 16 bit ten and more samples at the top of a sine are equal."""
    t_s = np.arange(2 * RATE) / RATE
    tone = pcm16((peak * np.sin(2 * np.pi * f_hz * t_s)).astype(np.float32))
    assert heard(tone).clipped_s == []


def test_clipping_is_found_wherever_the_blocks_are_cut() -> None:
    hot = np.clip(4 * SOUND[: 4 * RATE], -1, 1)
    whole = heard(hot, block=len(hot))
    for block in (997, 4096, 30000):
        parts = heard(hot, block=block)
        assert parts.clipped_s == whole.clipped_s
        assert parts.finish() == whole.finish()


def test_dropouts_are_found_where_they_are() -> None:
    torn = SOUND.copy()
    for start_s, length_ms in ((1.2, 5), (3.15, 85), (5.3, 20)):
        torn[round(start_s * RATE) : round(start_s * RATE) + length_ms * RATE // 1000] = 0
    for block in (RATE, 1009, 10000):
        meter = heard(torn, block=block)
        (warning,) = meter.finish()
        assert "3 holes" in warning
        assert "110 ms" in warning
        starts_s = [start_s for start_s, _ in meter.dropouts_s]
        assert_close(starts_s, [1.2, 3.15, 5.3], rtol=0, atol=1e-3, why="a zero beside the hole may join it")


def test_gaps_between_notes_are_not_dropouts() -> None:
    t_s = np.arange(RATE) / RATE
    note = np.sin(2 * np.pi * 440 * t_s) * np.exp(-3 * t_s) * np.clip((1 - t_s) / 0.03, 0, 1)
    gap = np.zeros(RATE // 10)
    run = 0.5 * np.concatenate([note, gap, note, gap, note])
    assert heard(run.astype(np.float32)).dropouts_s == []


def test_a_dc_offset_is_given_its_size() -> None:
    (warning,) = heard(SOUND + np.float32(0.03)).finish()
    assert "DC offset of +3.0 %" in warning


@pytest.mark.parametrize("mains_hz", [50.0, 60.0])
def test_hum_in_the_quiet_moments_is_named_by_its_mains(mains_hz: float) -> None:
    t_s = np.arange(len(SOUND)) / RATE
    hum = sum(1e-3 / h * np.sin(2 * np.pi * h * 0.9995 * mains_hz * t_s + h) for h in (1, 2, 3, 5))
    (warning,) = heard((SOUND + hum).astype(np.float32)).finish()
    assert warning.startswith(f"mains hum of {mains_hz:.0f} Hz")
    assert "−60 dB" in warning


@pytest.mark.parametrize("f0_hz", [49.0, 50.0, 60.0, 61.74, 100.0])
def test_a_bass_note_is_not_hum_even_at_the_mains_frequency(f0_hz: float) -> None:
    """A piano 35 cents sharp has its G1 at 50 Hz; what decays is no hum."""
    t_s = np.arange(20 * RATE) / RATE
    note = sum(
        0.2 / n * np.sin(2 * np.pi * n * f0_hz * t_s) * (np.exp(-t_s * 0.8) + 0.1 * np.exp(-t_s * 0.2))
        for n in range(1, 7)
    )
    room = 3e-5 * np.random.default_rng(0).standard_normal(len(t_s))
    assert heard((note + room).astype(np.float32)).finish() == ()


def test_a_telephone_rate_is_named_with_the_notes_that_suffer() -> None:
    (warning,) = heard(played(rate=8000), rate=8000).finish()
    assert "low sample rate of 8000 Hz" in warning
    assert "above 3.8 kHz" in warning
    assert "notes above D6" in warning, (
        "3 · 1.05 · 1175 Hz = 3.70 kHz is still heard, 3 · 1.05 · 1245 Hz = 3.92 kHz not"
    )


@pytest.mark.parametrize("cut_hz", [3400.0, 7000.0, 11000.0])
def test_a_spectrum_that_ends_early_is_found(cut_hz: float) -> None:
    low_pass = signal.firwin(801, cut_hz, fs=RATE, window=("kaiser", 10.0))
    narrow = pcm16(signal.fftconvolve(played(hiss=3e-4), low_pass, mode="same").astype(np.float32))
    (warning,) = heard(narrow).finish()
    assert warning.startswith("the sound ends at ")
    found_khz = float(warning.split()[4])
    assert_close(found_khz, cut_hz / 1000, rtol=0.1, atol=0, why="a band is a twelfth of an octave, 6 %")


def test_lossy_coding_is_said() -> None:
    (warning,) = heard(SOUND, codec_name="aac", is_lossy=True, bit_rate=128000).finish()
    assert warning.startswith("lossy coding (aac, 128 kbit/s)")


def turned_up_and_down(
    samples: NDArray[np.float32], *, range_db: float, recovery_s: float, rate: int = RATE
) -> NDArray[np.float32]:
    """Return the sound as a recorder with automatic gain leaves it."""
    hop = rate // 100
    rms = np.sqrt(np.square(samples[: len(samples) // hop * hop].reshape(-1, hop)).mean(axis=1))
    wanted_db = np.clip(20 * np.log10(0.05 / np.maximum(rms, 1e-6)), -20, range_db)
    gain_db = np.zeros(len(wanted_db))
    for at in range(1, len(gain_db)):
        time_s = 0.01 if wanted_db[at] < gain_db[at - 1] else recovery_s
        gain_db[at] = gain_db[at - 1] + (wanted_db[at] - gain_db[at - 1]) * (1 - np.exp(-hop / rate / time_s))
    pumped = samples[: len(rms) * hop] * 10 ** (np.repeat(gain_db, hop) / 20)
    return np.asarray(pumped * min(1.0, 0.9 / np.abs(pumped).max()), np.float32)


@pytest.mark.parametrize(("range_db", "recovery_s"), [(25, 1.5), (12, 0.5), (12, 1.5)])
def test_automatic_gain_is_found_by_the_rising_noise(range_db: float, recovery_s: float) -> None:
    pumped = turned_up_and_down(played(note_s=3.0, hiss=1e-4), range_db=range_db, recovery_s=recovery_s)
    warnings = heard(pumped).finish()
    assert any(sentence.startswith("automatic gain") for sentence in warnings)


@pytest.mark.parametrize("seed", range(4))
def test_noise_that_wanders_by_itself_is_not_automatic_gain(seed: int) -> None:
    """Traffic and people: noise whose level walks at random by some 3 dB in a second."""
    rng = np.random.default_rng(seed)
    quiet = played(n_notes=14, note_s=2.5, hiss=0)
    steps = np.cumsum(rng.standard_normal(len(quiet) // 480 + 2)) * 0.3
    level_db = np.interp(np.arange(len(quiet)) / 480, np.arange(len(steps)), steps - 0.5 * np.ptp(steps))
    wandering = 3e-4 * 10 ** (np.clip(level_db, -20, 20) / 20) * rng.standard_normal(len(quiet))
    warnings = heard((quiet + wandering).astype(np.float32)).finish()
    assert not any("automatic gain" in sentence for sentence in warnings)


def test_a_faint_recording_is_said_to_be_faint() -> None:
    (warning,) = heard(SOUND * np.float32(0.02)).finish()
    assert "faint" in warning
    assert "−40.0 dB" in warning


@pytest.mark.parametrize("level", [0.0, 3e-5])
def test_silence_is_called_silence(level: float) -> None:
    (warning,) = heard(np.full(3 * RATE, level, np.float32)).finish()
    assert "silent" in warning


def test_an_empty_recording_is_called_empty() -> None:
    meter = QualityMeter(sample_rate_hz=RATE)
    meter.feed(np.zeros(0, np.float32))
    assert meter.finish() == ("the recording is empty: it holds no sample",)


@pytest.mark.parametrize(
    ("samples", "match"),
    [(np.zeros((4, 2), np.float32), "ndim"), (np.array([0, np.nan], np.float32), "not finite")],
)
def test_what_is_no_mono_sound_is_refused(samples: NDArray[np.float32], match: str) -> None:
    with pytest.raises(InputError, match=match):
        QualityMeter(sample_rate_hz=RATE).feed(samples)


def test_a_rate_that_is_none_is_refused() -> None:
    with pytest.raises(InputError, match="sample_rate_hz"):
        QualityMeter(sample_rate_hz=0)


@settings(max_examples=6, deadline=None)
@given(gain_db=st.floats(-15, 5), shift_s=st.floats(0, 5), block=st.integers(3000, 200000))
def test_gain_time_and_block_size_change_nothing_in_the_verdict(gain_db: float, shift_s: float, block: int) -> None:
    t_s = np.arange(len(SOUND)) / RATE
    faulty = SOUND + 2e-3 * np.sin(2 * np.pi * 50 * t_s) + 1e-3 * np.sin(2 * np.pi * 150 * t_s)
    faulty = np.clip(faulty, -0.2, 0.2)
    changed = np.roll(faulty, round(shift_s * RATE)) * 10 ** (gain_db / 20)
    kinds = [sentence.split()[0] for sentence in heard(changed.astype(np.float32), block=block).finish()]
    assert [kind for kind in kinds if kind != "DC"] == ["clipped:", "mains"]
