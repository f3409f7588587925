"""Strings recorded together and each alone: intervals, false beats and coupling against the truth of invented notes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial

import numpy as np

from benchmarks.unison_notes import KIND, UNKIND, UnisonNote, unison_note, unison_state
from strikeline.acoustics.listening import Note
from strikeline.acoustics.measure import measure_strike
from strikeline.acoustics.muted import compare_strings
from strikeline.acoustics.muted_result import Agreement, StringsOfNote
from strikeline.acoustics.pluck_result import StringPlace
from strikeline.physics.strings import partial_frequencies_hz
from strikeline.synthesis.scale import StringUnison
from strikeline.synthesis.soundboard import build_soundboard
from strikeline.units import A4_STANDARD_HZ, cents_from_ratio, ratio_from_cents

RATE_HZ = 44_100
KEYS = tuple(range(16, 77, 4))
SPREADS_CENTS = (0.0, 0.3, 0.7, 1.5, 3.0, 6.0)
FALSE_BEATS_HZ = (0.6, 1.2, 2.5)
_PLACES = {2: (StringPlace.LEFT, StringPlace.RIGHT), 3: (StringPlace.LEFT, StringPlace.MIDDLE, StringPlace.RIGHT)}
_LAST_OF_TWO = 28


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One note to be told."""

    key: int
    seed: int
    spread_cents: float
    is_unkind: bool
    false_beat_hz: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """What was told of it."""

    case: Case
    offset_errors_cents: tuple[float, ...]
    offset_standardised: tuple[float, ...]
    f0_standardised: tuple[float, ...]
    coupling_errors: tuple[float, ...]
    """Relative to the true κ, in size."""
    coupling_standardised: tuple[float, ...]
    """Real and imaginary parts."""
    n_partials: int
    """In which every string alone and all together were heard, of the first ten."""
    beating_strings: tuple[int, ...]
    true_beating: tuple[int, ...]
    agreement: Agreement
    result: StringsOfNote


def trial(case: Case) -> Trial:
    """Make the recordings of one note, measure each and compare."""
    n_strings = 2 if case.key <= _LAST_OF_TWO else 3
    rng = np.random.default_rng([case.seed, case.key, 77])
    state = partial(
        unison_state,
        case.seed,
        key=case.key,
        n_strings=n_strings,
        spread_cents=case.spread_cents,
        even=bool(rng.integers(2)),
        polarised=bool(rng.integers(2)),
        false_beat_hz=case.false_beat_hz,
        surroundings=UNKIND if case.is_unkind else KIND,
    )
    make = partial(unison_note, case.seed, **state.keywords, coupled=True)
    together, alone = make(), [make(only_string=string) for string in range(n_strings)]
    start_hz = together.truth.f0_hz * float(ratio_from_cents(rng.normal(0.0, 3.0)))
    notes = [_measured(one, case.key, start_hz, n_strings=1) for one in alone]
    result = compare_strings(
        _measured(together, case.key, start_hz, n_strings=None),
        dict(zip(_PLACES[n_strings], notes, strict=True)),
        n_strings=n_strings,
    )
    return _compared(case, result, state().unison, together)


def _measured(note: UnisonNote, key: int, start_hz: float, *, n_strings: int | None) -> Note:
    return measure_strike(
        note.strike(RATE_HZ), key=key, f0_start_hz=start_hz, a4_hz=A4_STANDARD_HZ, n_strings=n_strings
    )


def _compared(case: Case, result: StringsOfNote, unison: StringUnison, together: UnisonNote) -> Trial:
    true_cents = np.asarray(cents_from_ratio(np.array(unison.f0_hz) / unison.mean_f0_hz))
    true_cents = true_cents - true_cents.mean()
    told = [(s.from_mean_cents, true) for s, true in zip(result.strings, true_cents, strict=True)]
    errors = [(one.value - true, one.se) for one, true in told if one is not None]
    f0 = [(s.f0_hz, f0_hz) for s, f0_hz in zip(result.strings, unison.f0_hz, strict=True)]
    number = np.array([coupling.partial for coupling in result.coupling], dtype=np.int64)
    law_hz = partial_frequencies_hz(number, f0_hz=unison.mean_f0_hz, inharmonicity_b=unison.inharmonicity_b)
    admittance = build_soundboard(case.seed).admittance_s_per_kg(case.key, law_hz)
    kappa = 2.0 * unison.mean_f0_hz * unison.impedance_kg_per_s * admittance
    off = [
        (complex(c.loss_per_s.value, -2 * np.pi * c.pull_hz.value) - complex(true), c.loss_per_s.se, abs(complex(true)))
        for c, true in zip(result.coupling, kappa, strict=True)
    ]
    return Trial(
        case=case,
        offset_errors_cents=tuple(float(error) for error, _ in errors),
        offset_standardised=tuple(float(error / se) for error, se in errors),
        f0_standardised=tuple((one.value - true) / one.se for one, true in f0 if one is not None),
        coupling_errors=tuple(abs(error) / size for error, _, size in off),
        coupling_standardised=tuple(part / se for error, se, _ in off for part in (error.real, error.imag)),
        n_partials=sum(one.n <= 10 for one in together.truth.partials),
        beating_strings=tuple(i for i, string in enumerate(result.strings) if string.false_beats),
        true_beating=tuple(s.place for s in together.truth.strings if s.false_beat_hz is not None),
        agreement=result.agreement,
        result=result,
    )


def cases(*, quick: bool) -> list[Case]:
    """Return the notes to be told; each has its own seed, and so its own board, blow and noise."""
    seeds = range(1) if quick else range(2)
    keys = KEYS[::3] if quick else KEYS
    spreads = SPREADS_CENTS[1::2] if quick else SPREADS_CENTS
    rates = FALSE_BEATS_HZ[1:2] if quick else FALSE_BEATS_HZ
    plain = [
        Case(key=key, seed=3000 + 10 * seed + place, spread_cents=spread, is_unkind=unkind)
        for key in keys
        for seed in seeds
        for place, spread in enumerate(spreads)
        for unkind in (False, True)
    ]
    beating = [
        Case(key=key, seed=4000 + 10 * seed + place, spread_cents=1.0, is_unkind=unkind, false_beat_hz=rate)
        for key in keys
        if key > _LAST_OF_TWO
        for seed in seeds
        for place, rate in enumerate(rates)
        for unkind in (False, True)
    ]
    return plain + beating


def rows(pool: ProcessPoolExecutor, *, quick: bool) -> Iterator[tuple[str, str, str, bool | None, str]]:
    """Yield the figures: what, measured, target, whether met, remark."""
    trials = list(pool.map(trial, cases(quick=quick), chunksize=4))
    for unkind, word in ((False, "kind"), (True, "unkind")):
        mine = [t for t in trials if t.case.is_unkind is unkind]
        plain = [t for t in mine if t.case.false_beat_hz == 0.0]
        beating = [t for t in mine if t.case.false_beat_hz > 0.0]
        name = f"muted strings, {len(plain)} notes, {word}: "
        offsets = np.abs([e for t in plain for e in t.offset_errors_cents])
        middle = float(np.median(offsets))
        yield name + "string against mean, median error", f"{middle:.3f} c", "<= 0.1 c", middle <= 0.1, ""
        what, told_share, target, met, size = _covered(
            name + "strings within 1.96 se", [z for t in plain for z in t.offset_standardised]
        )
        clock = "" if unkind else "; the errors allow for clocks that differ by 1 ppm, these do not"
        yield what, told_share, target, met if unkind else None, size + clock
        errors = [e for t in plain for e in t.coupling_errors]
        told = f"told in {len(errors)} of {sum(t.n_partials for t in plain)} partials"
        yield name + "coupling, median error", f"{100 * np.median(errors):.0f} %", "", None, told
        yield _covered(name + "coupling within 1.96 se", [z for t in plain for z in t.coupling_standardised])
        false = sum(len(t.beating_strings) for t in plain)
        n = sum(len(t.result.strings) for t in plain)
        yield name + "false beats where there are none", f"{false} of {n}", "", None, "strings"
        found = sum(bool(set(t.beating_strings) & set(t.true_beating)) for t in beating)
        wrong = sum(len(set(t.beating_strings) - set(t.true_beating)) for t in beating)
        share = found / len(beating)
        others = f"other strings of those notes said to beat: {wrong}"
        yield f"false beats, {len(beating)} notes, {word}: found", f"{100 * share:.0f} %", "", None, others
        count = Counter(t.agreement.value for t in plain)
        told = ", ".join(f"{n} {what}" for what, n in count.most_common())
        yield name + "one recording of all against each alone", "", "", None, told


def _covered(what: str, standardised: Sequence[float]) -> tuple[str, str, str, bool | None, str]:
    share = float(np.mean(np.abs(standardised) <= 1.96)) if standardised else float("nan")
    return what, f"{100 * share:.1f} %", "93-97 %", 0.93 <= share <= 0.97, f"({len(standardised)})"
