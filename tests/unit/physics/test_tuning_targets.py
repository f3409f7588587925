"""Targets: pure without stiffness, anchored at A4, smooth, and with errors that repeat what B really does to them."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from tests.closeness import assert_close

from strikeline.errors import InputError
from strikeline.keyboard import equal_tempered_hz
from strikeline.physics.beat_rates import INTERVALS, interval_width_cents, partial_above_first_cents
from strikeline.physics.beat_rates import partial_above_first_slope as slope_of
from strikeline.physics.inharmonicity_curve import InharmonicityCurve, exact_curve, inharmonicity_curve
from strikeline.physics.stretch import typical_inharmonicity_b
from strikeline.physics.strings import partial_frequencies_hz
from strikeline.physics.temperaments import TEMPERAMENTS, temperament_named
from strikeline.physics.tuning_leanings import LEANINGS, leaning_named
from strikeline.physics.tuning_targets import OWN_SHARE, TuningTargets, tuning_targets

KEYS = np.arange(1, 89)
B = typical_inharmonicity_b(KEYS)


def made(b: Any = B, *, smooth_b: Any = None, **others: Any) -> TuningTargets:
    curve = exact_curve(KEYS, inharmonicity_b=b)
    if smooth_b is not None:
        curve = replace(curve, smooth_b=np.asarray(smooth_b))
    return of_curve(curve, **others)


def of_curve(curve: InharmonicityCurve, **others: Any) -> TuningTargets:
    settings: dict[str, Any] = {
        "temperament": TEMPERAMENTS["equal"],
        "leaning": LEANINGS["middle"],
        "a4_hz": 440.0,
    }
    return tuning_targets(curve, **settings | others)


@pytest.mark.parametrize("leaning", LEANINGS.values(), ids=list(LEANINGS))
@pytest.mark.parametrize("temperament", TEMPERAMENTS.values(), ids=list(TEMPERAMENTS))
def test_without_stiffness_the_targets_are_the_pure_temperament(leaning: Any, temperament: Any) -> None:
    pure = made(np.zeros(88), leaning=leaning, temperament=temperament)
    assert_close(pure.cents_from_equal, temperament.offset_cents(KEYS), rtol=0, atol=1e-9, why="rounding only")
    assert_close(pure.f0_cents_from_equal, pure.cents_from_equal, rtol=0, atol=1e-9, why="no stiffness")
    if temperament.name == "equal":
        cents = 1200 * np.log2(pure.first_partial_hz / equal_tempered_hz(KEYS, a4_hz=440.0))
        assert_close(cents, np.zeros(88), rtol=0, atol=1e-9, why="rounding only")


@pytest.mark.parametrize("a4_hz", [435.0, 440.0, 442.5])
@pytest.mark.parametrize("leaning", LEANINGS.values(), ids=list(LEANINGS))
def test_the_first_partial_of_a4_is_the_reference_exactly(a4_hz: float, leaning: Any) -> None:
    targets = made(a4_hz=a4_hz, leaning=leaning)
    assert targets.first_partial_hz[48] == a4_hz
    first = partial_frequencies_hz([1], f0_hz=float(targets.f0_hz[48]), inharmonicity_b=float(B[48]))
    assert_close(first, [a4_hz], rtol=1e-12, atol=0, why="rounding only")


def test_a_temperament_lies_on_the_stretch_unchanged() -> None:
    equal, uneven = made(), made(temperament=TEMPERAMENTS["vallotti"])
    offset = TEMPERAMENTS["vallotti"].offset_cents(KEYS)
    assert_close(uneven.cents_from_equal - equal.cents_from_equal, offset, rtol=0, atol=1e-9, why="they only add")


def test_the_close_leaning_leaves_treble_octaves_within_half_a_cent_of_2_1() -> None:
    close = made(leaning=LEANINGS["close"])
    octave = INTERVALS["octave 2:1"]
    widths = [close.width_cents(octave, low_key=key).value for key in range(44, 77)]
    assert np.abs(widths).max() < 0.5


def test_leanings_reach_farther_the_wider_they_are() -> None:
    ends = [made(leaning=LEANINGS[name]).stretch_cents[[0, -1]] for name in ("close", "middle", "wide")]
    assert (np.diff([low for low, _ in ends]) < 0).all()
    assert (np.diff([high for _, high in ends]) > 0).all()


def test_the_curve_rises_from_end_to_end_and_is_flat_in_the_middle() -> None:
    stretch = made().stretch_cents
    assert (np.diff(stretch) > 0).all()
    assert np.abs(stretch[36:61]).max() < 5.0


def test_an_odd_string_gets_its_share_of_what_its_own_partials_ask_for() -> None:
    """The trade-off: one note's wish against the smoothness of the curve."""
    odd_b = B.copy()
    odd_b[40] *= 1.5
    kept = made(odd_b, smooth_b=B, own_share=0.0)
    halved = made(odd_b, smooth_b=B)
    whole = made(odd_b, smooth_b=B, own_share=1.0)
    asked = kept.own_wish_cents[40] - made().own_wish_cents[40]
    assert abs(asked) > 1.0, "1.5 times B asks for something"
    assert_close(kept.stretch_cents, made().stretch_cents, rtol=0, atol=1e-12, why="only the smooth curve counts")
    for share, targets in ((OWN_SHARE, halved), (1.0, whole)):
        assert_close(targets.own_part_cents[40], share * asked, rtol=1e-9, atol=0, why="by definition")
        others = np.delete(targets.own_part_cents, 40)
        assert_close(others, np.zeros(87), rtol=0, atol=1e-12, why="each string answers for its own B")


def test_a_single_odd_string_makes_no_jagged_curve() -> None:
    """Heard B with its scatter goes through the curve of B: its neighbours hardly move."""
    rng = np.random.default_rng(8)
    even_b = B * np.exp(0.03 * rng.normal(size=88))
    odd_b = even_b.copy()
    odd_b[40] *= 1.5
    even, odd = (
        of_curve(inharmonicity_curve(KEYS, measured_key=KEYS, measured_b=b, measured_b_se=0.003 * b))
        for b in (even_b, odd_b)
    )
    moved = odd.stretch_cents - even.stretch_cents
    assert 0.4 < abs(moved[40]) < 1.2
    assert np.abs(np.delete(moved, 40)).max() < 0.1
    assert np.abs(np.diff(even.stretch_cents - even.own_part_cents, n=2)).max() < 0.25


def test_the_wish_of_a_note_is_where_its_own_intervals_would_be_best() -> None:
    odd_b = B.copy()
    odd_b[40] *= 1.5
    targets, leaning = made(odd_b, smooth_b=B), LEANINGS["middle"]

    def badness(moved_cents: float) -> float:
        hz = targets.first_partial_hz.copy()
        hz[40] *= 2 ** (moved_cents / 1200)
        total = 0.0
        for interval in leaning.intervals:
            for low in (40, 40 - interval.semitones):
                high = low + interval.semitones
                if low >= 0 and high < 88:
                    width = interval_width_cents(
                        interval,
                        low_first_hz=hz[low],
                        high_first_hz=hz[high],
                        low_inharmonicity_b=odd_b[low],
                        high_inharmonicity_b=odd_b[high],
                    )
                    pure = 1200 * np.log2(interval.low_partial / interval.high_partial)
                    aim = 100.0 * interval.semitones - pure
                    total += float(leaning.weight(interval, low_key=KEYS[low])) * float(width - aim) ** 2
        return total

    wish = targets.own_wish_cents[40]
    assert badness(wish) < min(badness(wish - 0.05), badness(wish + 0.05), badness(0.0))


def test_errors_are_those_that_b_brings() -> None:
    """Monte Carlo against the linear errors: targets, f0, widths and beats."""
    rng = np.random.default_rng(5)
    heard_b = B * np.exp(0.03 * rng.normal(size=88))
    heard = (KEYS % 3 == 0) & (KEYS < 75)
    curve = inharmonicity_curve(
        KEYS, measured_key=KEYS[heard], measured_b=heard_b[heard], measured_b_se=0.01 * heard_b[heard]
    )
    octave = INTERVALS["octave 6:3"]
    told = of_curve(curve)
    tried = []
    for _ in range(200):
        z = rng.normal(size=curve.log_shares.shape[1])
        moved: dict[str, Any] = {
            "inharmonicity_b": curve.inharmonicity_b * np.exp(curve.log_shares @ z),
            "smooth_b": curve.smooth_b * np.exp(curve.smooth_log_shares @ z),
        }
        tried.append(of_curve(replace(curve, **moved)))
    for what, se in (
        ("stretch_cents", told.stretch_se_cents),
        ("f0_cents_from_equal", told.f0_se_cents),
        ("first_partial_hz", told.first_partial_se_hz),
    ):
        spread = np.std([getattr(one, what) for one in tried], axis=0)
        assert_close(spread, se, rtol=0.2, atol=1e-6, why=f"{what}: a standard deviation of 200 is good to 5 %")
    for low_key in (3, 10, 35, 60):
        beats = [one.beat_hz(octave, low_key=low_key).value for one in tried]
        widths = [one.width_cents(octave, low_key=low_key).value for one in tried]
        beat, width = told.beat_hz(octave, low_key=low_key), told.width_cents(octave, low_key=low_key)
        assert_close(np.std(beats), beat.se, rtol=0.2, atol=0, why="the same")
        assert_close(np.std(widths), width.se, rtol=0.2, atol=0, why="the same")
        assert_close(np.mean(beats), beat.value, rtol=0, atol=0.3 * beat.se, why="six errors of the mean")


def test_true_targets_lie_within_1_96_errors_in_95_of_100() -> None:
    """The truth is the target by the curve and the strings that the heard values were drawn from."""
    rng = np.random.default_rng(21)
    octave = INTERVALS["octave 4:2"]
    inside, beats_inside = [], []
    for _ in range(30):
        smooth = np.log(B) + rng.normal(0.0, 0.2) + np.where(KEYS <= 26, rng.normal(0.0, 0.3), rng.normal(0.0, 0.1))
        smooth += 0.08 * np.sin(2 * np.pi * KEYS / 45.0 + rng.uniform(0, 6))
        strings = np.exp(smooth + 0.04 * rng.standard_t(5, 88) * np.sqrt(3 / 5))
        se = np.where(KEYS > 75, 0.05, 0.005) * strings
        heard = rng.random(88) > 0.1
        curve = inharmonicity_curve(
            KEYS,
            measured_key=KEYS[heard],
            measured_b=(strings + se * rng.normal(size=88))[heard],
            measured_b_se=se[heard],
            sections_end_after=[26],
        )
        told = of_curve(curve)
        true = of_curve(replace(curve, smooth_b=np.exp(smooth), inharmonicity_b=strings))
        off = np.delete((told.stretch_cents - true.stretch_cents) / np.maximum(told.stretch_se_cents, 1e-12), 48)
        inside.append(np.abs(off) < 1.96)
        for key in (5, 20, 40, 60):
            beat = told.beat_hz(octave, low_key=key)
            beats_inside.append(not beat.differs_from(true.beat_hz(octave, low_key=key).value))
    assert 0.90 < np.mean(inside) < 0.985, "95 %; the notes of a piano hang together, so 30 pianos tell it to 2 %"
    assert 0.89 < np.mean(beats_inside) < 0.995, "the same, n = 120"


def test_partials_of_the_law_give_width_and_beats() -> None:
    targets = made()
    octave = INTERVALS["octave 4:2"]
    low = partial_frequencies_hz([4], f0_hz=float(targets.f0_hz[27]), inharmonicity_b=float(B[27]))[0]
    high = partial_frequencies_hz([2], f0_hz=float(targets.f0_hz[39]), inharmonicity_b=float(B[39]))[0]
    assert_close(targets.beat_hz(octave, low_key=28).value, high - low, rtol=0, atol=1e-9, why="rounding only")
    cents = 1200 * np.log2(high / low)
    assert_close(targets.width_cents(octave, low_key=28).value, cents, rtol=0, atol=1e-9, why="rounding only")
    assert_close(targets.meeting_hz(octave, low_key=28), low, rtol=1e-12, atol=0, why="rounding only")


def test_the_slope_of_a_partial_is_the_derivative_by_the_logarithm_of_b() -> None:
    up, down = (partial_above_first_cents(6, inharmonicity_b=B * np.exp(x)) for x in (1e-5, -1e-5))
    assert_close(slope_of(6, inharmonicity_b=B), (up - down) / 2e-5, rtol=1e-6, atol=0, why="difference quotient")


@pytest.mark.parametrize(
    ("wrong", "name"),
    [
        ({"own_share": 1.1}, "own_share"),
        ({"a4_hz": 0.0}, "a4_hz"),
    ],
)
def test_values_out_of_range_are_refused(wrong: dict[str, Any], name: str) -> None:
    with pytest.raises(InputError, match=name):
        made(**wrong)


def test_keys_with_gaps_or_without_a4_are_refused() -> None:
    for keys in (np.arange(1, 40), np.arange(1, 89)[::2], np.arange(45, 55)):
        with pytest.raises(InputError, match="A4 among them"):
            of_curve(exact_curve(keys, inharmonicity_b=np.zeros(keys.size)))


def test_unknown_names_are_answered_with_those_there_are() -> None:
    with pytest.raises(InputError, match="vallotti"):
        temperament_named("valotti")
    with pytest.raises(InputError, match="close, middle, wide"):
        leaning_named("flat")


def test_the_tables_of_weights_are_those_of_the_manual() -> None:
    manual = (Path(__file__).parents[3] / "docs" / "tuning-and-pitch.md").read_text("utf-8")
    rows = re.findall(r"^\| (\w*) ?\| (\w[\w ]* \d+:\d) \|((?: [\d.]+ \|){5})$", manual, re.MULTILINE)
    printed: dict[str, dict[str, tuple[float, ...]]] = {}
    leaning = ""
    for name, interval, weights in rows:
        leaning = name or leaning
        printed.setdefault(leaning, {})[interval] = tuple(float(one) for one in weights.split("|")[:-1])
    assert printed == {name: dict(one.weights) for name, one in LEANINGS.items()}
