"""Short blows on generated pianos with faulty dampers: what is found, what is missed, what is made up.

Each pass has its own piano, pitch, room, noise, hand, thumps of returning keys and strings that ring along; some
twenty of its dampers are faulty: on a node, missing a string, late, weak, doing nothing. Truth is what the strings do
(`strikeline.synthesis.truth.TrueDamping`). A partial counts as leaking if it takes 4.5 times as long to die as is
usual (a sound damper's partial 1, or the room where that is longer), as stopped up to twice as long; between the two
either answer is right, and such partials are only counted.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from strikeline.acoustics.damping_judgement import judge_dampers
from strikeline.acoustics.damping_result import DamperVerdict, Damping
from strikeline.acoustics.identity import gather_evidence, name_strikes
from strikeline.acoustics.listening import Note
from strikeline.acoustics.staccato import measure_staccato
from strikeline.acoustics.strikes import StrikeCutter
from strikeline.keyboard import FULL_COMPASS, SHORT_COMPASS
from strikeline.synthesis.damper import usual_damper_t60_s
from strikeline.synthesis.fitted_dampers import with_dampers
from strikeline.synthesis.instrument import SynthesisedPiano, piano, upright_1920s
from strikeline.synthesis.performance import Performance, staccato
from strikeline.synthesis.rendering import render_pass
from strikeline.synthesis.room import Room
from strikeline.synthesis.truth import TrueDampedPartial, TrueStrike
from strikeline.workshop.staccato import find_releases, join_releases

SAMPLE_RATE_HZ = 44_100
_LEAKS_RATIO = 4.5
_STOPPED_RATIO = 2.0
_LEAST_USUAL_S = 0.3
_LOUD_DB = 30.0
"""A partial counts if it is within this of the loudest when the damper lands, and stands as far above the noise."""
_SAME_BLOW_S = 0.06
_T60_SPAN_DB = (2.0, 25.0)

Rows = Iterator[tuple[str, str, str, bool | None, str]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Tally:
    """Answers against the truth."""

    hit: int = 0
    false: int = 0
    missed: int = 0
    untold: int = 0
    """True ones that were said to be unknowable."""
    grey: int = 0
    sound: int = 0
    """Where there is nothing to find and nothing was found."""

    def plus(self, other: Tally) -> Tally:
        """Return both together."""
        return Tally(**{name: getattr(self, name) + getattr(other, name) for name in self.__slots__})

    @property
    def precision(self) -> float:
        """Share of what was found that is true."""
        return self.hit / max(self.hit + self.false, 1)

    @property
    def recall(self) -> float:
        """Share of what is true, and was answered, that was found."""
        return self.hit / max(self.hit + self.missed, 1)

    @property
    def recall_of_all(self) -> float:
        """Share of what is true that was found, an answer withheld counting as a miss."""
        return self.hit / max(self.hit + self.missed + self.untold, 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """One pass."""

    n_struck: int
    n_named: int
    n_false_notes: int
    partials: Tally
    notes: Tally
    late: Tally
    weak: Tally
    undamped: Tally
    """Notes above the last damper: said to have none."""
    n_bared: int
    """Notes with a damper, at the top, that were taken to have none, as the ones above them."""
    landing_errors_s: tuple[float, ...]
    landing_standardised: tuple[float, ...]
    t60_ratios: tuple[float, ...]
    t60_standardised: tuple[float, ...]
    decay_standardised: tuple[float, ...]
    warnings: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Scene:
    piano: SynthesisedPiano
    performance: Performance
    room: Room
    late: frozenset[int]
    weak: frozenset[int]


def run_pass(number: int, *, faulty: bool = True, pedal: bool = False, dry: bool = False) -> Outcome:
    """Make pass `number`, listen to it, and compare.

    Parameters
    ----------
    number : int
        Which pass: everything about it follows from this.
    faulty : bool
        Whether some dampers are faulty.
    pedal : bool
        Whether the sustain pedal is down, so that no damper lands.
    dry : bool
        In a room that answers nothing, in little noise: there the felt's own decays can be compared.
    """
    scene = _scene(number, faulty=faulty, pedal=pedal, dry=dry)
    rendered = render_pass(
        scene.piano, scene.performance, sample_rate_hz=SAMPLE_RATE_HZ, seed=7000 + number, room=scene.room
    )
    notes, warnings = listen_to(rendered.samples)
    silent = None if faulty or pedal else _without_noise(scene, number)
    return _compare(scene, rendered.truth.strikes, notes, warnings, silent)


def listen_to(samples: NDArray[np.float32]) -> tuple[tuple[Note, ...], tuple[str, ...]]:
    """Return the notes of a pass of short blows with their dampers judged, and the warnings."""
    cutter = StrikeCutter(sample_rate_hz=SAMPLE_RATE_HZ)
    strikes = cutter.feed(samples) + cutter.finish()
    evidence = {s.end_s: gather_evidence(s, a4_hz=440.0) for s in strikes}
    first = name_strikes(list(evidence.values()), compass=None, a4_hz=440.0)
    joined = list(join_releases(strikes, find_releases(first, [(s.onset_s, s.end_s) for s in strikes])))
    whole = {s.start_s for s in strikes if any(s is one for one in joined)}  # those that nothing was joined to
    again = [evidence[s.end_s] if s.start_s in whole else gather_evidence(s, a4_hz=440.0) for s in joined]
    naming = name_strikes(again, compass=None, a4_hz=440.0)
    notes = [
        measure_staccato(strike, key=key, f0_start_hz=f0_hz, a4_hz=440.0)
        for strike, key, f0_hz in zip(joined, naming.keys, naming.f0_hz, strict=True)
        if key is not None and f0_hz is not None
    ]
    judged = judge_dampers(notes)
    return judged.notes, judged.warnings


def _scene(number: int, *, faulty: bool, pedal: bool, dry: bool) -> _Scene:
    rng = np.random.default_rng([2027, number])
    compass = (FULL_COMPASS, SHORT_COMPASS)[number % 2]
    plain = (
        upright_1920s(900 + number)
        if number % 4 == 3
        else piano(compass=compass, seed=900 + number, pitch_level_cents=float(rng.uniform(-60.0, 20.0)))
    )
    last_key = int(rng.integers(66, 69))
    shuffled = rng.permutation(np.arange(3, last_key - 1)).tolist()
    at_node = {key: int(rng.integers(2, 9)) for key in shuffled[:8]}
    misses = {
        key: (int(rng.integers(plain[key].unison.n_strings)),)
        for key in shuffled[8:12]
        if plain[key].unison.n_strings > 1
    }
    late = {key: float(rng.uniform(0.12, 0.25)) for key in shuffled[12:15]}
    weak = {key: float(rng.uniform(0.3, 0.45)) for key in shuffled[15:18]}
    fitted = with_dampers(
        plain,
        seed=900 + number,
        last_key=last_key,
        at_node_of=at_node if faulty else {},
        misses=misses if faulty else {},
        late_s=late if faulty else {},
        strength_ratio=weak if faulty else {},
        without=tuple(compass) if pedal else shuffled[18:19] if faulty else (),
    )
    fitted = replace(
        fitted,
        release_noise_db=-60.0 if dry else float(rng.uniform(-16.0, -5.0)),
        after_ring_db=None if dry else float(rng.uniform(-60.0, -45.0)),
    )
    room = Room(
        reverberation_s=0.0 if dry else float(rng.uniform(0.15, 0.5)),
        tail_db=float(rng.uniform(-12.0, -3.0)),
        noise_db=-90.0 if dry else float(rng.uniform(-80.0, -64.0)),
    )
    performance = staccato(
        tuple(fitted.compass),
        speed_m_per_s=float(rng.uniform(1.8, 3.2)),
        seed=900 + number,
        hold_s=float(rng.uniform(0.14, 0.24)),
        rest_s=float(rng.uniform(0.95, 1.4)),
    )
    return _Scene(
        piano=fitted,
        performance=performance,
        room=room,
        late=frozenset(late) if faulty else frozenset(),
        weak=frozenset(weak) if faulty else frozenset(),
    )


def _without_noise(scene: _Scene, number: int) -> NDArray[np.float32]:
    """Return the same pass without noise, thumps and other strings: what there is to fall."""
    quiet = replace(scene.piano, release_noise_db=None, after_ring_db=None, knock_db=-200.0)
    room = replace(scene.room, noise_db=-200.0)
    return render_pass(quiet, scene.performance, sample_rate_hz=SAMPLE_RATE_HZ, seed=7000 + number, room=room).samples


def _compare(
    scene: _Scene,
    truth: Sequence[TrueStrike],
    notes: Sequence[Note],
    warnings: tuple[str, ...],
    silent: NDArray[np.float32] | None,
) -> Outcome:
    pairs, used = [], set()
    for true in truth:
        near = [i for i, n in enumerate(notes) if abs(n.onset_s - true.onset_s) < _SAME_BLOW_S and n.key == true.key]
        if near:
            used.add(near[0])
            pairs.append((true, notes[near[0]]))
    told = [(true, note.damping) for true, note in pairs if note.damping is not None]
    landed = [(t, t.damping.lands_s, d) for t, d in told if t.damping is not None and d.lands_s is not None]
    errors = [(d.lands_s.value - lands_s, d.lands_s.se) for _, lands_s, d in landed if d.lands_s is not None]
    t60 = [] if silent is None else [_t60_error(t, lands_s, d, silent) for t, lands_s, d in landed]
    return Outcome(
        n_struck=len(truth),
        n_named=len(pairs),
        n_false_notes=len(notes) - len(used),
        partials=_sum(_partial_tally(true, note, scene.room) for true, note in pairs),
        notes=_sum(_note_tally(true, note, scene.room) for true, note in pairs),
        late=_sum(_verdict_tally(t, d, scene.late, DamperVerdict.LATE) for t, d in told),
        weak=_sum(_verdict_tally(t, d, scene.weak, DamperVerdict.WEAK) for t, d in told),
        undamped=_sum(_undamped_tally(t, d) for t, d in told),
        n_bared=sum(t.damping is not None and n.damping is not None and _is_bared(n) for t, n in pairs),
        landing_errors_s=tuple(error for error, _ in errors),
        landing_standardised=tuple(error / se for error, se in errors),
        t60_ratios=tuple(one[0] for one in t60 if one is not None),
        t60_standardised=tuple(one[1] for one in t60 if one is not None),
        decay_standardised=tuple(z for t, _, d in landed for z in _decay_errors(t, d)),
        warnings=warnings,
    )


def _sum(tallies: Iterator[Tally]) -> Tally:
    total = Tally()
    for tally in tallies:
        total = total.plus(tally)
    return total


def _usual_s(key: int, room: Room) -> float:
    return max(usual_damper_t60_s(key) or 0.0, room.reverberation_s, _LEAST_USUAL_S)


def _loud(true: TrueStrike, room: Room) -> list[TrueDampedPartial]:
    """Return the partials that can be heard under the damper."""
    if true.damping is None or not true.damping.partials:
        return []
    loudest_db = max(p.level_db for p in true.damping.partials)
    half_width_hz = min(0.4 * true.f0_hz, 40.0)
    noise_db = room.noise_db + 10.0 * np.log10(8.0 * half_width_hz / SAMPLE_RATE_HZ)
    return [p for p in true.damping.partials if p.level_db > max(loudest_db - _LOUD_DB, noise_db + _LOUD_DB)]


def _is_blamed(note: Note) -> bool:
    """Return whether a listener is told that nothing stops a note; at the top, where dampers end, it is no fault."""
    return any("nothing stops" in notice for notice in note.notices)


def _is_bared(note: Note) -> bool:
    return note.damping is not None and note.damping.verdict is DamperVerdict.NONE and not _is_blamed(note)


def _partial_tally(true: TrueStrike, note: Note, room: Room) -> Tally:
    """Compare the partials; a note that nothing stops is one whose partials all leak."""
    damping = note.damping
    if damping is None:
        return Tally()
    found = {p.n: p.leaks for p in damping.partials}
    tally = Tally()
    for p in _loud(true, room):
        ratio = p.t60_s / _usual_s(true.key, room)
        answer = True if _is_blamed(note) else found.get(p.n)
        if _STOPPED_RATIO < ratio < _LEAKS_RATIO:
            tally = tally.plus(Tally(grey=1))
        elif ratio >= _LEAKS_RATIO:
            tally = tally.plus(Tally(hit=1) if answer else Tally(untold=1) if answer is None else Tally(missed=1))
        else:
            tally = tally.plus(Tally(false=1) if answer else Tally(sound=1))
    return tally


def _note_tally(true: TrueStrike, note: Note, room: Room) -> Tally:
    """Compare the notes: one leaks if any of its loud partials does, or if nothing stops it."""
    damping, loud = note.damping, _loud(true, room)
    if not loud or damping is None:
        return Tally()
    usual_s = _usual_s(true.key, room)
    ratio = max(p.t60_s for p in loud) / usual_s
    is_found = damping.verdict is DamperVerdict.LEAKS or _is_blamed(note)
    faint = any(p.leaks or p.t60_s > _STOPPED_RATIO * usual_s for p in true.damping.partials) if true.damping else False
    if ratio < _LEAKS_RATIO and faint:  # a leak that is faint, or between: to find it is no error, nor to leave it
        return Tally(grey=1)
    if ratio >= _LEAKS_RATIO:
        is_untold = damping.verdict is DamperVerdict.CANNOT_TELL
        return Tally(hit=1) if is_found else Tally(untold=1) if is_untold else Tally(missed=1)
    return Tally(false=1) if is_found else Tally(sound=1)


def _verdict_tally(true: TrueStrike, damping: Damping, faulty: frozenset[int], verdict: DamperVerdict) -> Tally:
    if true.damping is None:
        return Tally(false=1) if damping.verdict is verdict else Tally()
    if true.key in faulty:
        return Tally(hit=1) if damping.verdict is verdict else Tally(missed=1)
    return Tally(false=1) if damping.verdict is verdict else Tally(sound=1)


def _undamped_tally(true: TrueStrike, damping: Damping) -> Tally:
    if true.damping is not None:
        return Tally()
    if damping.verdict is DamperVerdict.CANNOT_TELL:
        return Tally(untold=1)
    return Tally(hit=1) if damping.verdict is DamperVerdict.NONE else Tally(missed=1)


def _t60_error(
    true: TrueStrike, lands_s: float, damping: Damping, silent: NDArray[np.float32]
) -> tuple[float, float] | None:
    """Return the T60 over the truth, and its error over its standard error.

    The truth is read from the noiseless sound in the same way: a line through the level, in steps of 5 ms, from 2 to
    25 dB below that of the landing.
    """
    if damping.t60_s is None:
        return None
    step = round(0.005 * SAMPLE_RATE_HZ)
    start = round((true.onset_s + lands_s) * SAMPLE_RATE_HZ)
    sound = silent[start - 4 * step : start + 400 * step].astype(np.float64)
    frames = sound[: sound.size // step * step].reshape(-1, step)
    level = 10.0 * np.log10(np.mean(frames**2, axis=1) + 1e-30)
    level = level[4:] - level[:4].mean()
    low = int(np.argmax(level < -_T60_SPAN_DB[0]))
    high = int(np.argmax(level < -_T60_SPAN_DB[1]))
    if high - low < 3:
        return None
    slope = float(np.polyfit(np.arange(low, high) * 0.005, level[low:high], 1)[0])
    truth_s = -60.0 / slope
    return damping.t60_s.value / truth_s, (damping.t60_s.value - truth_s) / damping.t60_s.se


def _decay_errors(true: TrueStrike, damping: Damping) -> Iterator[float]:
    """Return the errors of decays over their standard errors, of loud partials slow enough to be followed.

    The decay told is that of the slowest part where two are parted, else of all together; the truth is taken at the
    nearer of the two, or between them.
    """
    if true.damping is None:
        return
    truth = {p.n: p for p in true.damping.partials}
    loudest_db = max(p.level_db for p in true.damping.partials)
    for p in damping.partials:
        t = truth.get(p.n)
        if p.decay_db_per_s is None or t is None or t.level_db < loudest_db - _LOUD_DB or t.t60_s < 0.2:
            continue
        told, (low, high) = p.decay_db_per_s, sorted((60.0 / t.t60_s, t.fall_db_per_s))
        yield (told.value - min(max(told.value, low), high)) / told.se


def rows(pool: ProcessPoolExecutor, *, quick: bool) -> Rows:
    """Return what was measured, one line each: what, figure, target, met, remark."""
    n, n_others = (1, 1) if quick else (12, 2)
    runs = [pool.submit(run_pass, number) for number in range(n)]
    others = [
        [pool.submit(run_pass, first + i, faulty=False, pedal=pedal, dry=dry) for i in range(n_others)]
        for first, pedal, dry in ((100, False, False), (200, False, True), (300, True, False))
    ]
    faulty = [run.result() for run in runs]
    sound, dry, pedal = ([run.result() for run in group] for group in others)
    everyone = faulty + sound
    name = f"{len(everyone)} staccato passes: "
    struck, named = sum(o.n_struck for o in everyone), sum(o.n_named for o in everyone)
    yield (
        name + "notes named right",
        f"{100 * named / struck:.2f} %",
        ">= 99 %",
        named >= 0.99 * struck,
        f"({struck}), false {sum(o.n_false_notes for o in everyone)}",
    )
    yield from _found(name + "leaking partials", _sum(o.partials for o in everyone))
    yield from _found(name + "leaking notes", _sum(o.notes for o in everyone))
    late, weak = _sum(o.late for o in everyone), _sum(o.weak for o in everyone)
    for what, tally in (("late", late), ("weak", weak)):
        remark = f"false {tally.false} of {tally.false + tally.sound}"
        yield f"{name}{what} dampers found", f"{tally.hit} of {tally.hit + tally.missed}", "", None, remark
    bare = _sum(o.undamped for o in everyone)
    yield (
        name + "notes without damper said to have none",
        f"{100 * bare.recall:.1f} %",
        "",
        None,
        f"cannot tell {bare.untold} of {bare.hit + bare.missed + bare.untold}",
    )
    yield name + "damped notes at the top taken to have no damper", f"{sum(o.n_bared for o in everyone)}", "", None, ""
    yield from _accuracy(f"{len(sound)} sound passes: ", sound)
    z = [value for o in dry for value in o.decay_standardised]
    yield _coverage(f"{len(dry)} dry passes: decays under the felt within 1.96 se", z)
    calm = sum(any("pedal" in w for w in o.warnings) for o in pedal)
    blamed = sum(o.partials.false + o.notes.false for o in pedal)
    yield (
        "passes with the pedal down: said so",
        f"{calm} of {len(pedal)}",
        "all",
        calm == len(pedal),
        f"blamed {blamed}",
    )


def _found(name: str, tally: Tally) -> Rows:
    remark = f"({tally.hit + tally.false} said, {tally.sound + tally.false} sound ones, {tally.grey} between)"
    yield f"{name}: precision", f"{tally.precision:.3f}", ">= 0.95", tally.precision >= 0.95, remark
    remark = (
        f"cannot tell {tally.untold} of {tally.hit + tally.missed + tally.untold}; {tally.recall_of_all:.3f} of all"
    )
    yield f"{name}: recall", f"{tally.recall:.3f}", ">= 0.95", tally.recall >= 0.95, remark


def _accuracy(name: str, outcomes: Sequence[Outcome]) -> Rows:
    landing = 1e3 * np.abs([e for o in outcomes for e in o.landing_errors_s])
    yield (
        name + "landing, middle error / 95 %",
        f"{np.median(landing):.1f} / {np.quantile(landing, 0.95):.1f} ms",
        "",
        None,
        f"({landing.size})",
    )
    yield _coverage(name + "landing within 1.96 se", [z for o in outcomes for z in o.landing_standardised])
    ratio = np.array([r for o in outcomes for r in o.t60_ratios])
    spread = 100.0 * float(np.quantile(np.abs(ratio - 1.0), 0.5))
    yield name + "T60 over truth", f"{np.median(ratio):.2f}", "", None, f"half within {spread:.0f} % ({ratio.size})"
    yield _coverage(name + "T60 within 1.96 se", [z for o in outcomes for z in o.t60_standardised])


def _coverage(name: str, standardised: Sequence[float]) -> tuple[str, str, str, bool | None, str]:
    share = float(np.mean(np.abs(standardised) <= 1.96))
    return name, f"{100 * share:.1f} %", "93-97 %", 0.93 <= share <= 0.97, f"({len(standardised)})"
