"""The toning list against the truth: rendered pianos with worn and dull hammers, odd strings and moved strike points.

Each invented piano has an area of worn hammers, single worn and single needled ones, notes whose strings are stiffer or
slacker than the scale asks, and notes that are struck elsewhere; it is played by hand, recorded in a workshop, listened
to as any pass, and its toning list is compared with what was done to it.
"""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace

import numpy as np

from strikeline.acoustics.listening import Kind, Listening
from strikeline.acoustics.toning import toning_list
from strikeline.acoustics.toning_result import Action, Cause, ToningItem, ToningList
from strikeline.keyboard import FULL_COMPASS
from strikeline.synthesis.instrument import SynthesisedPiano, Upkeep, build_piano
from strikeline.synthesis.performance import ascending, play
from strikeline.synthesis.rendering import RenderedPass, render_pass
from strikeline.synthesis.scale import SMALL_GRAND, UPRIGHT_1920S
from strikeline.workshop.listening import listen

Row = tuple[str, str, str, bool | None, str]

SAMPLE_RATE_HZ = 44_100
_WEAR = 0.12
_AREA_WEAR = 0.85
_SINGLE_WEAR = 0.9
_SOFTNESS = 0.5
_STIFFER = 1.4
_MOVED_RATIO = 0.03
_FAULTS_FROM_TO = (4, 52)
"""Above, a few partials hardly show a hammer; a row of its own says how few are then listed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Faults:
    """What was done to one piano, by key."""

    area: tuple[int, ...]
    worn: tuple[int, ...]
    soft: tuple[int, ...]
    stiff: tuple[int, ...]
    moved: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """One piano: the share of each kind that was treated rightly, as counts."""

    n_area: int
    n_area_listed: int
    n_worn: int
    n_worn_listed: int
    n_soft: int
    n_soft_listed: int
    n_stiff: int
    n_stiff_labelled: int
    n_moved: int
    n_moved_advised: int
    n_moved_labelled: int
    n_sound: int
    n_sound_advised: int


class _Memory:
    """A rendered pass as a sound source."""

    def __init__(self, rendered: RenderedPass) -> None:
        self.sha256 = "0" * 64
        self.sample_rate_hz = rendered.sample_rate_hz
        self.n_channels = 1
        self.duration_s: float | None = None
        self.codec = _Codec()
        self.broke_off: str | None = None
        self._samples = rendered.samples[:, None]

    def blocks(self) -> Iterator[np.ndarray[tuple[int, ...], np.dtype[np.float32]]]:
        """Return blocks of one second."""
        for start in range(0, len(self._samples), self.sample_rate_hz):
            yield self._samples[start : start + self.sample_rate_hz]


@dataclass(frozen=True)
class _Codec:
    name: str = "pcm_f32le"
    is_lossy: bool = False
    bit_rate: int | None = None


def heard(piano: SynthesisedPiano, *, seed: int) -> Listening:
    """Return the listening of a piano played once up the keyboard by hand.

    Parameters
    ----------
    piano : SynthesisedPiano
        What is played.
    seed : int
        Chance of hand, room and noise.
    """
    performance = play(ascending(piano.compass), speed_m_per_s=2.5, seed=seed)
    rendered = render_pass(piano, performance, sample_rate_hz=SAMPLE_RATE_HZ, seed=seed)
    return listen(_Memory(rendered), kind=Kind.PASS, note=None, compass=None, a4_hz=440.0, analyser="benchmark")


def faulty_piano(
    seed: int, *, low: int = _FAULTS_FROM_TO[0], high: int = _FAULTS_FROM_TO[1]
) -> tuple[SynthesisedPiano, Faults]:
    """Return an invented piano with faults between two keys, and what they are.

    Parameters
    ----------
    seed : int
        Chance; even seeds are uprights, odd ones grands.
    low, high : int
        Keys between which the faults lie.
    """
    rng = np.random.default_rng([31, seed])
    design = SMALL_GRAND if seed % 2 else UPRIGHT_1920S
    upkeep = Upkeep(pitch_level_cents=0.0, tuning_scatter_cents=2.0, unison_scatter_cents=0.6, wear=lambda _key: _WEAR)
    piano = build_piano(description="toning", compass=FULL_COMPASS, design=design, upkeep=upkeep, seed=9000 + seed)
    length = int(rng.integers(8, 16))
    first = int(rng.integers(low + 2, high - length))
    area = tuple(range(first, first + length))
    free = rng.permutation([key for key in range(low, high + 1) if key + 3 < first or key - 3 >= first + length])
    spaced: list[int] = []
    for key in free.tolist():
        if all(abs(key - other) >= 3 for other in spaced):
            spaced.append(key)
    kinds = [tuple(spaced[i:8:4]) for i in range(4)]
    faults = Faults(area=area, worn=kinds[0], soft=kinds[1], stiff=kinds[2], moved=kinds[3])
    return _with(piano, faults), faults


def _with(piano: SynthesisedPiano, faults: Faults) -> SynthesisedPiano:
    changes = []
    for key in piano.compass:
        state = piano[key]
        hammer, unison = state.hammer, state.unison
        if key in faults.area:
            hammer = replace(hammer, wear=_AREA_WEAR)
        if key in faults.worn:
            hammer = replace(hammer, wear=_SINGLE_WEAR)
        if key in faults.soft:
            hammer = replace(hammer, softness=_SOFTNESS)
        if key in faults.stiff:
            unison = replace(unison, stiffness_ratio=unison.stiffness_ratio * _STIFFER)
        if key in faults.moved:
            hammer = replace(hammer, strike_ratio=hammer.strike_ratio + _MOVED_RATIO)
        changes.append(replace(state, hammer=hammer, unison=unison))
    return piano.replacing(*changes)


def try_piano(seed: int) -> Trial:
    """Return how one faulty piano's toning list compares with what was done to it."""
    piano, faults = faulty_piano(seed)
    return _compare(toning_list(heard(piano, seed=seed)), faults)


def _compare(told: ToningList, faults: Faults) -> Trial:
    def lines(key: int) -> list[ToningItem]:
        return [item for item in told.items if item.first_key <= key <= item.last_key]

    def advised(key: int, action: Action) -> bool:
        hammers = [hammer for item in lines(key) if item.action is action for hammer in item.hammers]
        return any(hammer.key == key and hammer.advised_db > 0.0 for hammer in hammers)

    def labelled(key: int) -> bool:
        return any(item.cause is not Cause.HAMMER for item in lines(key))

    spoilt = {key for fault in (faults.area, faults.worn, faults.soft, faults.stiff, faults.moved) for key in fault}
    sound = [key for key in FULL_COMPASS if key not in spoilt]
    return Trial(
        n_area=len(faults.area),
        n_area_listed=sum(advised(key, Action.SOFTEN) for key in faults.area),
        n_worn=len(faults.worn),
        n_worn_listed=sum(advised(key, Action.SOFTEN) for key in faults.worn),
        n_soft=len(faults.soft),
        n_soft_listed=sum(advised(key, Action.HARDEN) for key in faults.soft),
        n_stiff=len(faults.stiff),
        n_stiff_labelled=sum(labelled(key) for key in faults.stiff),
        n_moved=len(faults.moved),
        n_moved_advised=sum(advised(key, Action.SOFTEN) or advised(key, Action.HARDEN) for key in faults.moved),
        n_moved_labelled=sum(labelled(key) for key in faults.moved),
        n_sound=len(sound),
        n_sound_advised=sum(advised(key, Action.SOFTEN) or advised(key, Action.HARDEN) for key in sound),
    )


def rows(pool: ProcessPoolExecutor, *, quick: bool) -> Iterator[Row]:
    """Yield the lines of the benchmark's table.

    Parameters
    ----------
    pool : ProcessPoolExecutor
        Where the pianos are played and heard.
    quick : bool
        Fewer pianos: a look, not a claim.
    """
    trials = list(pool.map(try_piano, range(4 if quick else 20)))

    def share(part: str, whole: str) -> tuple[float, int]:
        n = sum(getattr(trial, whole) for trial in trials)
        return sum(getattr(trial, part) for trial in trials) / max(1, n), n

    name = f"toning list, {len(trials)} rendered pianos, faults C1-C5: "
    for what, part, whole in (
        ("hammers of worn areas listed to soften", "n_area_listed", "n_area"),
        ("single worn hammers listed to soften", "n_worn_listed", "n_worn"),
        ("single needled hammers listed to harden", "n_soft_listed", "n_soft"),
        ("stiffer strings labelled as the string's", "n_stiff_labelled", "n_stiff"),
        ("moved strike points labelled as the string's", "n_moved_labelled", "n_moved"),
        ("moved strike points listed as hammers'", "n_moved_advised", "n_moved"),
        ("sound hammers listed", "n_sound_advised", "n_sound"),
    ):
        value, n = share(part, whole)
        yield (name + what, f"{100.0 * value:.1f} %", "", None, f"of {n}")
