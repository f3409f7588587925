"""Plucked strings against what is known of plucks, felt and dampers."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.closeness import assert_close

from strikeline.errors import InputError
from strikeline.keyboard import FULL_COMPASS
from strikeline.physics.strings import partial_frequencies_hz
from strikeline.synthesis.instrument import piano
from strikeline.synthesis.plucking import Hand, HeldHammer, PluckKind, PluckPerformance, StringPluck, pluck_section
from strikeline.synthesis.plucks import RenderedPlucks, pluck_modes, render_plucks
from strikeline.synthesis.room import DRY

RATE_HZ = 16_000
GRAND = piano(compass=FULL_COMPASS, seed=3, pitch_level_cents=-10.0)
STEADY = Hand(
    pace_s=0.6,
    change_s=1.0,
    timing_scatter=0.0,
    force_n=1.5,
    force_scatter_db=0.0,
    release_s=3e-4,
    click_db=-60.0,
)


def pluck(key: int, string: int = 0, *, at_s: float = 0.5, point: float = 0.2, force_n: float = 1.5) -> StringPluck:
    return StringPluck(
        key=key,
        string=string,
        at_s=at_s,
        force_n=force_n,
        point_ratio=point,
        release_s=2e-4,
        angle_rad=0.5,
        click_db=-60.0,
    )


def hold(key: int, touch: tuple[float | None, ...], *, until_s: float = 5.0) -> HeldHammer:
    return HeldHammer(key=key, from_s=0.2, until_s=until_s, touch_t60_s=touch, felt_stiffness_ratio=0.2)


def rendered(
    *plucks: StringPluck, holds: tuple[HeldHammer, ...], duration_s: float = 3.0, action_db: float = -200.0
) -> RenderedPlucks:
    performance = PluckPerformance(
        holds=holds, plucks=plucks, missed=(), duration_s=duration_s, action_noise_db=action_db
    )
    return render_plucks(GRAND, performance, sample_rate_hz=RATE_HZ, seed=1, room=DRY)


def level_db(samples: NDArray[np.float32], from_s: float, to_s: float) -> float:
    part = samples[round(from_s * RATE_HZ) : round(to_s * RATE_HZ)].astype(np.float64)
    return float(10 * np.log10(np.mean(part**2) + 1e-30))


@pytest.mark.parametrize(("key", "least_db"), [(5, 4.0), (25, 8.0), (45, 15.0), (65, 15.0)])
def test_a_touched_string_is_short_and_an_open_one_rings_on(key: int, least_db: float) -> None:
    # In the bass waves come round to the felt less often, and the eighth partial rings on.
    n = GRAND[key].unison.n_strings
    open_, touched = (rendered(pluck(key), holds=(hold(key, (t60_s,) * n),)).samples for t60_s in (None, 0.15))
    fall_open, fall_touched = (level_db(s, 0.52, 0.56) - level_db(s, 0.9, 1.1) for s in (open_, touched))
    assert fall_open < 18.0
    assert fall_touched > fall_open + least_db


def test_a_single_open_string_sounds_the_partials_of_the_law() -> None:
    key = 6
    unison = GRAND[key].unison
    assert unison.n_strings == 1
    sound = rendered(pluck(key), holds=(hold(key, (None,)),), duration_s=4.0).samples[round(0.6 * RATE_HZ) :]
    n_fft = 8 * sound.size
    spectrum = np.abs(np.fft.rfft(sound * np.hanning(sound.size), n_fft))
    for true_hz in partial_frequencies_hz([4, 7, 9], f0_hz=unison.mean_f0_hz, inharmonicity_b=unison.inharmonicity_b):
        centre, reach = round(true_hz * n_fft / RATE_HZ), round(3 * n_fft / RATE_HZ)
        found = centre - reach + int(np.argmax(spectrum[centre - reach : centre + reach + 1]))
        assert_close(found * RATE_HZ / n_fft, true_hz, rtol=0, atol=0.2, why="the bridge moves partials by so much")


def test_a_string_plucked_in_the_middle_lacks_its_even_partials() -> None:
    modes = pluck_modes(GRAND, pluck(6, point=0.5), hold(6, (None,)), sample_rate_hz=48_000)
    unison = GRAND[6].unison
    law_hz = partial_frequencies_hz(np.arange(1, 9), f0_hz=unison.mean_f0_hz, inharmonicity_b=unison.inharmonicity_b)
    mode_hz = modes.pole_per_s.imag / (2 * np.pi)
    heard = np.array([np.abs(modes.amplitude[np.abs(mode_hz - f) < 3.0]).sum() for f in law_hz])
    assert (heard[1::2] < 1e-3 * heard[2]).all()
    assert (heard[2::2] > 0).all()


def test_the_force_scales_the_sound_and_nothing_else() -> None:
    held = hold(40, (None, 0.2, None))
    soft, loud = (pluck_modes(GRAND, pluck(40, force_n=f), held, sample_rate_hz=48_000) for f in (1.0, 3.0))
    assert_close(np.abs(loud.amplitude), 3.0 * np.abs(soft.amplitude), rtol=1e-9, atol=0, why="linear")
    assert (loud.pole_per_s == soft.pole_per_s).all()


def test_open_neighbours_answer_a_touched_string_weakly() -> None:
    touched = pluck(40, string=1)
    alone = pluck_modes(GRAND, touched, hold(40, (0.1, 0.1, 0.1)), sample_rate_hz=48_000)
    beside = pluck_modes(GRAND, touched, hold(40, (None, 0.1, None)), sample_rate_hz=48_000)
    slow_db = [
        20 * np.log10(np.abs(m.amplitude[m.pole_per_s.real > -6.0]).sum() / np.abs(m.amplitude).sum() + 1e-9)
        for m in (alone, beside)
    ]
    assert slow_db[0] < slow_db[1] - 3.0
    assert -50.0 < slow_db[1] < -15.0


def test_a_node_at_the_felt_leaks_a_partial_of_a_touched_string() -> None:
    modes = pluck_modes(GRAND, pluck(20), hold(20, (0.1, 0.1)), sample_rate_hz=48_000)
    unison = GRAND[20].unison
    number = np.rint(modes.pole_per_s.imag / (2 * np.pi) / unison.mean_f0_hz)
    slowest = {n: float(-modes.pole_per_s.real[number == n].max()) for n in (4, 8)}
    assert slowest[8] < 0.1 * slowest[4]


def test_the_damper_ends_it_and_the_next_pluck_of_the_string_stops_it_first() -> None:
    let_go = rendered(pluck(40), holds=(hold(40, (None,) * 3, until_s=1.0),)).samples
    held = rendered(pluck(40), holds=(hold(40, (None,) * 3),)).samples
    assert level_db(let_go, 1.6, 1.9) < level_db(held, 1.6, 1.9) - 25.0
    again = rendered(pluck(40), pluck(40, at_s=1.0, force_n=0.01), holds=(hold(40, (None,) * 3),)).samples
    assert level_db(again, 1.1, 1.3) < level_db(held, 1.1, 1.3) - 20.0


def test_a_string_whose_key_is_not_held_lies_under_its_damper() -> None:
    free = rendered(pluck(40), holds=(hold(40, (None,) * 3),)).samples
    damped = rendered(pluck(40), holds=()).samples
    assert level_db(damped, 1.0, 1.2) < level_db(free, 1.0, 1.2) - 25.0


def test_the_truth_tells_every_pluck_and_every_string() -> None:
    keys = (40, 41)
    performance = pluck_section(GRAND, keys, touch_t60_s={(40, 1): 0.1, (41, 0): 0.2}, hand=STEADY, seed=1)
    made = render_plucks(GRAND, performance, sample_rate_hz=RATE_HZ, seed=1)
    assert [(p.key, p.string) for p in made.plucks] == [(key, string) for key in keys for string in range(3)]
    assert [p.is_touched for p in made.plucks] == [False, True, False, True, False, False]
    assert made.is_touched[41, 0]
    assert not made.is_touched[41, 2]
    assert made.keys == keys


def test_the_same_seed_gives_the_same_samples() -> None:
    performance = pluck_section(GRAND, (40,), touch_t60_s={}, hand=STEADY, seed=1)
    first, again, other = (
        render_plucks(GRAND, performance, sample_rate_hz=RATE_HZ, seed=seed).samples for seed in (5, 5, 6)
    )
    assert (first == again).all()
    assert not (first == other).all()


def test_a_hand_that_errs_forgets_repeats_and_strays() -> None:
    hand = replace(STEADY, missed=0.2, repeated=0.2, foreign=0.1, at_once=0.1, swapped=0.1)
    performance = pluck_section(GRAND, tuple(range(40, 60)), touch_t60_s={}, hand=hand, seed=2)
    kinds = {kind: sum(p.kind is kind for p in performance.plucks) for kind in PluckKind}
    assert all(kinds.values())
    assert performance.missed
    own = [p for p in performance.plucks if p.kind in {PluckKind.MEANT, PluckKind.AT_ONCE}]
    assert len(own) + len(performance.missed) == 60
    strings = [p.string for p in performance.plucks if p.kind is PluckKind.MEANT]
    assert any(b == a - 1 for a, b in itertools.pairwise(strings))


def test_a_steady_hand_keeps_its_pace() -> None:
    performance = pluck_section(GRAND, (40, 41), touch_t60_s={}, hand=STEADY, seed=1)
    gaps = np.diff([p.at_s for p in performance.plucks])
    assert_close(gaps, [0.6, 0.6, 1.0, 0.6, 0.6], rtol=0, atol=1e-9, why="no scatter was asked for")


def test_what_cannot_be_rendered_is_refused() -> None:
    with pytest.raises(InputError, match="at_s"):
        rendered(pluck(40, at_s=9.0), holds=())
    performance = PluckPerformance(holds=(), plucks=(), missed=(), duration_s=1.0)
    with pytest.raises(InputError, match="sample_rate_hz"):
        render_plucks(GRAND, performance, sample_rate_hz=4000, seed=1)
