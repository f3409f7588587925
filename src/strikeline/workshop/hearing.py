"""Hear a recording through: choose the channel, cut the strikes, gather what each one is evidence of.

The sound is streamed; what stays in memory is the evidence of each strike, which is small, and the strikes themselves
as long as they are few.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import partial
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.acoustics.identity import StrikeEvidence, gather_evidence
from strikeline.acoustics.quality import ChannelChoice, QualityMeter, choose_channel
from strikeline.acoustics.strikes import Strike, StrikeCutter
from strikeline.errors import SignalError
from strikeline.workshop.bench import Bench
from strikeline.workshop.ports import SoundSource
from strikeline.workshop.second_pair import SecondPair
from strikeline.workshop.steps import Steps

_STRETCH_S: Final = 30.0
"""Sound that decides the channel: a few notes of any pass."""
_STRETCH_VALUES: Final = 12_000_000
"""The same bounded for many channels at high rates: 48 MB."""
_SOUNDING_PEAK: Final = 1e-4
"""A block that never reaches −80 dB re full scale, three steps of 16 bits, holds no sound."""
_KEPT_VALUES: Final = 20_000_000
"""Samples of strikes kept in memory (80 MB), so that a short recording need not be decoded twice."""


@dataclass(slots=True, kw_only=True)
class Heard:
    """What one hearing leaves; grows while the hearing goes on, and stands as it is when that is interrupted."""

    channel: ChannelChoice | None = None
    heard_s: float = 0.0
    peak: float = 0.0
    evidence: dict[int, StrikeEvidence] = field(default_factory=dict)
    spans_s: list[tuple[float, float]] = field(default_factory=list)
    """Onset and end of each strike."""
    peaks: list[float] = field(default_factory=list)
    """Largest sample of each strike."""
    kept: list[Strike] | None = field(default_factory=list)
    """The strikes themselves, or ``None`` when they were too many to keep."""
    quality_warnings: tuple[str, ...] = ()
    clipped_s: list[tuple[float, float]] = field(default_factory=list)
    """Start and end of the clipped moments."""
    releases: tuple[bool, ...] = ()
    """Which strikes, as the cutter gives them, were keys let go and are joined to the blow before; empty for none."""
    is_whole: bool = False

    def note_down(self, strike: Strike) -> None:
        """Add one strike: when it was, how loud, and itself while they are few."""
        self.spans_s.append((strike.onset_s, strike.end_s))
        self.peaks.append(float(np.abs(strike.samples).max(initial=0.0)))
        if self.kept is not None:
            self.kept.append(strike)
            if sum(len(kept.samples) for kept in self.kept) > _KEPT_VALUES:
                self.kept = None


def hear(source: SoundSource, heard: Heard, *, a4_hz: float, second: SecondPair | None, steps: Steps) -> None:
    """Fill `heard` from the whole of `source`.

    Parameters
    ----------
    source : SoundSource
        The recording.
    heard : Heard
        A new one; it holds what was heard so far when this is interrupted.
    a4_hz : float
        Frequency of A4 that the instrument is compared with.
    second : SecondPair or None
        Helps with the work.
    steps : Steps
        Told how far the hearing is.

    Raises
    ------
    SignalError
        If the recording is empty or silent.
    """
    heard.channel = choose(source)
    meter = QualityMeter(
        sample_rate_hz=source.sample_rate_hz,
        codec_name=source.codec.name,
        is_lossy=source.codec.is_lossy,
        bit_rate=source.codec.bit_rate,
    )
    cutter = StrikeCutter(sample_rate_hz=source.sample_rate_hz)
    with Bench(heard.evidence, second=second) as bench:

        def take(strikes: list[Strike]) -> None:
            for strike in strikes:
                bench.take(len(heard.spans_s), partial(gather_evidence, strike, a4_hz=a4_hz))
                heard.note_down(strike)

        for samples in mono(source, heard.channel):
            heard.heard_s += len(samples) / source.sample_rate_hz
            heard.peak = max(heard.peak, float(np.abs(samples).max(initial=0.0)))
            meter.feed(samples)
            take(cutter.feed(samples))
            steps.heard(heard.heard_s, source.duration_s)
        take(cutter.finish())
    heard.quality_warnings = meter.finish()
    heard.clipped_s = list(meter.clipped_s)
    heard.is_whole = True


def cut_again(source: SoundSource, channel: ChannelChoice) -> Iterator[Strike]:
    """Return the strikes of `source` once more, in the same order."""
    cutter = StrikeCutter(sample_rate_hz=source.sample_rate_hz)
    for samples in mono(source, channel):
        yield from cutter.feed(samples)
    yield from cutter.finish()


def choose(source: SoundSource) -> ChannelChoice:
    """Choose the channel by the first half minute that suffices to judge.

    Raises
    ------
    SignalError
        If the recording is empty or silent.
    """
    choice = None
    for stretch in stretches(source):
        choice = choose_channel(stretch, sample_rate_hz=source.sample_rate_hz)
        if choice.is_certain or source.n_channels == 1:
            return choice
    if choice is None:
        raise SignalError("the recording is silent: nothing reaches −80 dB re full scale; check microphone and file")
    return choice


def stretches(source: SoundSource) -> Iterator[NDArray[np.float32]]:
    """Return one half minute after the other, shape (n, channels); silence is left out, so there may be none."""
    limit = min(round(_STRETCH_S * source.sample_rate_hz), _STRETCH_VALUES // source.n_channels)
    blocks: list[NDArray[np.float32]] = []
    for block in source.blocks():
        if np.abs(block).max(initial=0.0) >= _SOUNDING_PEAK:
            blocks.append(block)
        if sum(map(len, blocks)) >= limit:
            yield np.concatenate(blocks)
            blocks = []
    if blocks:
        yield np.concatenate(blocks)


def mono(source: SoundSource, channel: ChannelChoice) -> Iterator[NDArray[np.float32]]:
    """Return the sound through the chosen channels, blocks of shape (n,)."""
    weights = np.asarray(channel.weights, dtype=np.float32)
    only = np.flatnonzero(weights)
    for block in source.blocks():
        if len(only) == 1 and weights[only[0]] == 1.0:
            yield np.ascontiguousarray(block[:, only[0]])
        else:
            yield block @ weights
