"""Generated sections of plucked strings: touched or open, which pluck was which string, how honest the confidence is.

No open recording of a plucked piano string exists, so truth comes from `strikeline.synthesis.plucks`, made as unkind as
a workshop: several pianos, six to twelve notes anywhere on the compass, a pluck every 0.4 to 1 s, forces that scatter,
light and firm felt, open strings that ring under the next pluck, keys and dampers, rooms, microphone noise, talk. In
half of the sections the hand errs as well: plucks forgotten, repeated, out of order, two at once, a neighbour's string.
The analyser knows nothing of how the felt is drawn here: T60 of partial 1 is log-uniform between 0.05 and 0.3 s, and up
to 0.5 s for one touched string in seven.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial

import numpy as np

from strikeline.acoustics.plucks import ToldPlucks, tell_plucks
from strikeline.acoustics.plucks_cut import PluckCutter
from strikeline.acoustics.plucks_evidence import gather_pluck_evidence
from strikeline.keyboard import FULL_COMPASS, SHORT_COMPASS
from strikeline.synthesis.instrument import SynthesisedPiano, piano, upright_1920s
from strikeline.synthesis.performance import Disturbance, DisturbanceKind
from strikeline.synthesis.plucking import Hand, PluckKind, pluck_section
from strikeline.synthesis.plucks import RenderedPlucks, render_plucks
from strikeline.synthesis.room import Room

SAMPLE_RATE_HZ = 44_100
_SAME_S = 0.05
_TOP_KEY = 76
"""E7: above it open strings are hardly longer than touched ones in a room; counted apart."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StringTrial:
    """One string of one section."""

    key: int
    was_plucked: bool
    is_touched: bool
    told: bool | None
    confidence: float
    is_placed: bool | None
    """Whether the pluck it was told by was its own; ``None`` if none was told."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionTrial:
    """One section heard."""

    description: str
    strings: tuple[StringTrial, ...]
    n_false_strings: int
    """Strings told of notes that have not so many."""
    duration_s: float
    cpu_s: float


def instrument(rng: np.random.Generator) -> SynthesisedPiano:
    """Return one of several invented pianos."""
    seed = int(rng.integers(1000))
    if rng.uniform() < 0.4:
        return upright_1920s(seed)
    compass = FULL_COMPASS if rng.uniform() < 0.7 else SHORT_COMPASS
    return piano(compass=compass, seed=seed, pitch_level_cents=float(rng.uniform(-60.0, 30.0)))


def section(number: int, *, errs: bool, keys: tuple[int, ...] | None = None) -> tuple[RenderedPlucks, SynthesisedPiano]:
    """Return section `number`; `errs` says whether the hand makes mistakes."""
    rng = np.random.default_rng([3, 5, number, int(errs)])
    piano_ = instrument(rng)
    if keys is None:
        n_notes = int(rng.integers(6, 13))
        first = int(rng.integers(1, piano_.compass.highest - n_notes + 2))
        keys = tuple(range(first, first + n_notes))
    share = float(rng.uniform(0.3, 0.9))
    touch = {(key, string): _t60_s(rng) if rng.uniform() < share else None for key in keys for string in range(3)}
    pace_s = float(rng.uniform(0.4, 1.0))
    rate = 1.0 if errs else 0.0
    hand = Hand(
        pace_s=pace_s,
        change_s=pace_s + float(rng.uniform(0.2, 0.8)),
        timing_scatter=float(rng.uniform(0.05, 0.2)),
        force_n=float(rng.uniform(0.7, 3.0)),
        force_scatter_db=float(rng.uniform(2.0, 5.0)),
        release_s=float(np.exp(rng.uniform(np.log(1e-4), np.log(7e-4)))),
        click_db=float(rng.uniform(-22.0, -8.0)),
        missed=0.012 * rate,
        repeated=0.02 * rate,
        foreign=0.01 * rate,
        at_once=0.005 * rate,
        swapped=0.004 * rate,
    )
    performance = pluck_section(piano_, keys, touch_t60_s=touch, hand=hand, seed=int(rng.integers(2**31)))
    kinds = tuple(DisturbanceKind) if rng.uniform() < 0.35 else ()
    noises = [
        Disturbance(
            kind=kind,
            at_s=float(rng.uniform(0.0, performance.duration_s - 1.2)),
            duration_s=1.0,
            peak_db=float(rng.uniform(-45.0, -28.0)),
        )
        for kind in kinds
    ]
    rendered = render_plucks(
        piano_,
        performance.disturbed(*noises, action_noise_db=float(rng.uniform(-38.0, -22.0))),
        sample_rate_hz=SAMPLE_RATE_HZ,
        seed=int(rng.integers(2**31)),
        room=Room(
            reverberation_s=float(rng.uniform(0.2, 0.7)),
            tail_db=float(rng.uniform(-10.0, -3.0)),
            noise_db=float(rng.uniform(-86.0, -68.0)),
        ),
    )
    return rendered, piano_


def _t60_s(rng: np.random.Generator) -> float:
    low, high = (0.3, 0.5) if rng.uniform() < 1.0 / 7.0 else (0.05, 0.3)
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def hear_section(rendered: RenderedPlucks, *, notes: tuple[int, ...] | None, n_strings: int | None) -> ToldPlucks:
    """Cut, gather and tell one section."""
    cutter = PluckCutter(sample_rate_hz=rendered.sample_rate_hz)
    sounds = cutter.feed(rendered.samples) + cutter.finish()
    evidence = [gather_pluck_evidence(sound, a4_hz=440.0) for sound in sounds]
    return tell_plucks(evidence, notes=notes, n_strings=n_strings, a4_hz=440.0)


def trials(number: int, *, errs: bool) -> tuple[SectionTrial, SectionTrial]:
    """Render section `number`, hear it with its notes listed and without, and compare with the truth."""
    rendered, piano_ = section(number, errs=errs)
    return trial(rendered, piano_, listed=True), trial(rendered, piano_, listed=False)


def trial(rendered: RenderedPlucks, piano_: SynthesisedPiano, *, listed: bool) -> SectionTrial:
    """Hear one section and compare with the truth."""
    begun = time.process_time()
    told = hear_section(rendered, notes=rendered.keys if listed else None, n_strings=None)
    cpu_s = time.process_time() - begun
    answers = {(note.key, number_): pluck for note in told.notes for number_, pluck in enumerate(note.plucks)}
    counts = {note.key: len(note.plucks) for note in told.notes}
    own_s: dict[tuple[int, int], list[float]] = {}
    for pluck in rendered.plucks:
        if pluck.kind is not PluckKind.FOREIGN:
            own_s.setdefault((pluck.key, pluck.string), []).append(pluck.at_s)
    strings = []
    for (key, string), is_touched in rendered.is_touched.items():
        n_strings = piano_[key].unison.n_strings
        # A note taken for one of another number of strings has its strings under the wrong names.
        answer = answers.get((key, string)) if counts.get(key) == n_strings else None
        at_s = None if answer is None or answer.is_touched is None else answer.at_s
        strings.append(
            StringTrial(
                key=key,
                was_plucked=(key, string) in own_s,
                is_touched=is_touched,
                told=None if answer is None else answer.is_touched,
                confidence=0.5 if answer is None else answer.confidence,
                is_placed=None if at_s is None else any(abs(at_s - t) < _SAME_S for t in own_s.get((key, string), [])),
            )
        )
    false = sum(
        pluck.is_touched is not None
        for (key, string), pluck in answers.items()
        if key not in piano_.compass
        or counts[key] != piano_[key].unison.n_strings
        or (key, string) not in rendered.is_touched
    )
    return SectionTrial(
        description=f"{rendered.keys[0]}-{rendered.keys[-1]} {piano_.description[:24]}",
        strings=tuple(strings),
        n_false_strings=false,
        duration_s=rendered.samples.size / rendered.sample_rate_hz,
        cpu_s=cpu_s,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Tally:
    """Many strings counted."""

    precision: float
    """Of strings called open: share that are."""
    recall: float
    """Of open strings that were plucked: share called open."""
    touched_precision: float
    touched_recall: float
    told: float
    """Share of plucked strings told at all."""
    misplaced: float
    """Share of strings told by a pluck that was not theirs."""
    n: int


def tally(strings: list[StringTrial]) -> Tally:
    """Count."""

    def shares(is_touched: bool) -> tuple[float, float]:
        said = [one for one in strings if one.told is is_touched]
        true = [one for one in strings if one.is_touched is is_touched and one.was_plucked]
        right = sum(one.is_touched is is_touched for one in said)
        found = sum(one.told is is_touched for one in true)
        return right / max(1, len(said)), found / max(1, len(true))

    plucked = [one for one in strings if one.was_plucked]
    placed = [one for one in strings if one.is_placed is not None]
    precision, recall = shares(False)
    touched_precision, touched_recall = shares(True)
    return Tally(
        precision=precision,
        recall=recall,
        touched_precision=touched_precision,
        touched_recall=touched_recall,
        told=sum(one.told is not None for one in plucked) / max(1, len(plucked)),
        misplaced=sum(not one.is_placed for one in placed) / max(1, len(placed)),
        n=len(plucked),
    )


_BINS = ((0.8, 0.9), (0.9, 0.97), (0.97, 1.01))


def reliability(strings: list[StringTrial]) -> list[tuple[float, float, int]]:
    """Return for each bin of confidence the mean of what was said, the share that was right, and how many."""
    bins = []
    for low, high in _BINS:
        inside = [one for one in strings if one.told is not None and low <= one.confidence < high]
        said = float(np.mean([one.confidence for one in inside])) if inside else 0.0
        right = float(np.mean([one.told is one.is_touched for one in inside])) if inside else 0.0
        bins.append((said, right, len(inside)))
    return bins


def rows(pool: ProcessPoolExecutor, *, quick: bool) -> Iterator[tuple[str, str, str, bool | None, str]]:
    """Return the rows of the benchmark table.

    Parameters
    ----------
    pool : ProcessPoolExecutor
        Runs the trials.
    quick : bool
        Fewer sections.
    """
    n = 10 if quick else 60
    every: list[SectionTrial] = []
    for errs, hand in ((False, "in order"), (True, "with mistakes")):
        pairs = list(pool.map(partial(trials, errs=errs), range(n), chunksize=2))
        for heard, how in zip(zip(*pairs, strict=True), ("listed", "found"), strict=True):
            what = f"plucks {hand}, notes {how}"
            every += heard
            strings = [one for t in heard for one in t.strings]
            yield from _tally_rows(what, [one for one in strings if one.key <= _TOP_KEY])
            top = tally([one for one in strings if one.key > _TOP_KEY])
            figures = f"{100 * top.precision:.1f} / {100 * top.recall:.1f} %"
            yield f"{what}: above E7, open precision / recall", figures, "", None, f"({top.n} strings)"
    strings = [one for t in every for one in t.strings]
    for said, right, number in reliability(strings):
        spread = 1.96 * float(np.sqrt(max(said * (1.0 - said), 1e-4) / max(1, number)))
        met = right >= said - spread - 0.01
        yield (
            f"plucks said with confidence {said:.2f}: right",
            f"{100 * right:.1f} %",
            f">= {100 * said:.1f} %",
            met,
            (f"({number}, +- {100 * spread:.1f} % expected)"),
        )
    speed = sum(t.duration_s for t in every) / sum(t.cpu_s for t in every)
    yield "plucks: speed on one core, decoding left out", f"{speed:.0f} x", ">= 50 x", speed >= 50.0, ""


def _tally_rows(what: str, strings: list[StringTrial]) -> Iterator[tuple[str, str, str, bool | None, str]]:
    counted = tally(strings)
    n = f"({counted.n} strings)"
    yield (
        f"{what}: open strings, precision",
        f"{100 * counted.precision:.1f} %",
        ">= 95 %",
        counted.precision >= 0.95,
        n,
    )
    yield f"{what}: open strings, recall", f"{100 * counted.recall:.1f} %", ">= 95 %", counted.recall >= 0.95, n
    yield f"{what}: strings told", f"{100 * counted.told:.1f} %", "", None, "the others say why not"
    yield f"{what}: told by another's pluck", f"{100 * counted.misplaced:.1f} %", "", None, ""
