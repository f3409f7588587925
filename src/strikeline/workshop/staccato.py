"""Short blows: the thump of a key let go belongs to the note before it, and the dampers are judged together.

The cutter begins a new strike where the key comes back, for that is a blow on wood. In a pass of short blows such a
strike follows at once on a note and bears no name; it is joined to the note, whose end it holds.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from functools import partial
from typing import Final

import numpy as np

from strikeline.acoustics.identity import Naming, gather_evidence
from strikeline.acoustics.strikes import Strike
from strikeline.workshop.bench import Bench
from strikeline.workshop.hearing import Heard
from strikeline.workshop.second_pair import SecondPair

_RELEASED_WITHIN_S: Final = 0.7
"""A key held longer is no short blow; blows themselves come a second apart."""


def find_releases(naming: Naming, spans_s: Sequence[tuple[float, float]]) -> tuple[bool, ...]:
    """Return for each strike whether it is the noise of the key before it being let go.

    Parameters
    ----------
    naming : Naming
        Names of all strikes.
    spans_s : sequence of (float, float)
        Onset and end of each.
    """
    releases: list[bool] = []
    blow_s = -np.inf
    for key, (onset_s, _) in zip(naming.keys, spans_s, strict=False):
        is_release = key is None and onset_s - blow_s < _RELEASED_WITHIN_S
        releases.append(is_release)
        if not is_release:
            blow_s = onset_s
    return tuple(releases)


def join_releases(strikes: Iterable[Strike], releases: Sequence[bool]) -> Iterator[Strike]:
    """Return the strikes with the noise of each key let go joined to the blow before it.

    Parameters
    ----------
    strikes : iterable of Strike
        In the order of time.
    releases : sequence of bool
        From `find_releases`.
    """
    parts: list[Strike] = []
    for strike, is_release in zip(strikes, releases, strict=False):
        if parts and not is_release:
            yield _joined(parts)
            parts = []
        parts.append(strike)
    if parts:
        yield _joined(parts)


def _joined(parts: Sequence[Strike]) -> Strike:
    """Return a strike with what follows it; where nothing was kept between two, there is silence."""
    first = parts[0]
    if len(parts) == 1:
        return first
    rate_hz = first.sample_rate_hz
    samples = np.zeros(round((parts[-1].end_s - first.start_s) * rate_hz), dtype=np.float32)
    for part in parts:
        start = round((part.start_s - first.start_s) * rate_hz)
        kept = part.samples[: samples.size - start]
        samples[start : start + kept.size] = kept
    return replace(first, samples=samples)


def with_joined(
    heard: Heard, strikes: Iterable[Strike], naming: Naming, *, a4_hz: float, second: SecondPair | None
) -> Heard:
    """Return what was heard with the noises of keys let go joined to their notes, and its evidence made anew.

    Parameters
    ----------
    heard : Heard
        As heard.
    strikes : iterable of Strike
        The strikes of `heard`, in order.
    naming : Naming
        Names of the strikes of `heard`.
    a4_hz : float
        Frequency of A4 that the instrument is compared with.
    second : SecondPair or None
        Helps with the work.
    """
    releases = find_releases(naming, heard.spans_s)
    if not any(releases):
        return heard
    blows = [number for number, is_release in enumerate(releases) if not is_release]
    is_changed = [number + 1 < len(releases) and releases[number + 1] for number in blows]
    joined = replace(
        heard, evidence={}, spans_s=[], peaks=[], kept=None if heard.kept is None else [], releases=releases
    )
    with Bench(joined.evidence, second=second) as bench:
        for place, strike in enumerate(join_releases(strikes, releases)):
            if is_changed[place]:
                bench.take(place, partial(gather_evidence, strike, a4_hz=a4_hz))
            else:
                joined.evidence[place] = heard.evidence[blows[place]]
            joined.note_down(strike)
    return joined
