from __future__ import annotations

import numpy as np
import pytest
from tests.closeness import assert_close

from strikeline.errors import InputError
from strikeline.measured import Measured
from strikeline.physics.bearing import (
    BACK_TENSION_SE_RATIO,
    Sign,
    bridge_load,
    press_n,
    side_press_n,
    string_bearing,
)

EXACT = 1e-12


def test_both_sides_together_are_the_pull_of_two_tensions_on_a_bent_string() -> None:
    # Statics: two pulls T at angles a and b to the level have the vertical sum 2·T·sin((a+b)/2)·cos((a-b)/2).
    a, b, tension = 0.8, 1.7, 720.0
    ours = press_n(tension, angle_deg=a) + press_n(tension, angle_deg=b)
    half_sum, half_difference = np.radians((a + b) / 2), np.radians((a - b) / 2)
    assert_close(
        ours, 2 * tension * np.sin(half_sum) * np.cos(half_difference), rtol=EXACT, atol=0, why="an identity; rounding"
    )


def test_a_bend_of_both_sides_adds_their_angles_and_errors() -> None:
    one = string_bearing(front_deg=Measured(0.5, 0.03), back_deg=Measured(0.7, 0.04), tension_n=Measured(700.0, 0.0))
    assert_close([one.total_deg.value, one.total_deg.se], [1.2, 0.05], rtol=EXACT, atol=0, why="3, 4, 5")
    assert one.front_n is not None
    assert one.total_n is not None
    assert_close(one.front_n.value, press_n(700.0, angle_deg=0.5), rtol=EXACT, atol=0, why="its own angle")
    assert_close(one.total_n.value, press_n(700.0, angle_deg=1.2), rtol=EXACT, atol=0, why="the whole bend")


def test_the_tension_behind_the_bridge_is_less_sure_than_in_front() -> None:
    one = string_bearing(front_deg=Measured(1.0, 0.0), back_deg=Measured(1.0, 0.0), tension_n=700.0)
    assert one.front_n is not None
    assert one.back_n is not None
    assert one.front_n.se == 0.0
    assert_close(
        one.back_n.se / one.back_n.value, BACK_TENSION_SE_RATIO, rtol=1e-9, atol=0, why="force follows tension"
    )


@pytest.mark.parametrize(
    ("angle", "sign"),
    [
        (Measured(0.5, 0.1), Sign.POSITIVE),
        (Measured(-0.5, 0.1), Sign.NEGATIVE),
        (Measured(0.15, 0.1), Sign.NONE_TOLD),
        (Measured(0.0, 0.0), Sign.NONE_TOLD),
    ],
)
def test_a_sign_is_told_only_beyond_the_reading(angle: Measured, sign: Sign) -> None:
    assert string_bearing(front_deg=None, back_deg=None, total_deg=angle).total_sign is sign


def test_without_tension_there_is_no_force() -> None:
    one = string_bearing(front_deg=None, back_deg=None, total_deg=Measured(1.0, 0.1))
    assert one.total_n is None
    assert one.front_deg is None


@pytest.mark.parametrize(
    "sides", [{"front_deg": None, "back_deg": None}, {"front_deg": Measured(1.0, 0.1), "back_deg": None}]
)
def test_half_a_bend_is_refused(sides: dict[str, Measured | None]) -> None:
    with pytest.raises(InputError, match="front and back"):
        string_bearing(**sides)


def test_an_angle_of_forty_degrees_is_a_slip_of_the_pen() -> None:
    with pytest.raises(InputError, match="millimetres"):
        press_n(700.0, angle_deg=40.0)


def test_staggered_pins_turn_the_string_one_way_and_back() -> None:
    ours = side_press_n(700.0, stagger_mm=1.0, pin_spacing_mm=7.0)
    assert_close(ours, 700.0 / np.sqrt(50.0), rtol=EXACT, atol=0, why="sides 1 and 7, hypotenuse √50")


def load(tension: Measured | dict[int, Measured], *, step: int = 3, se: float = 0.05):  # type: ignore[no-untyped-def]
    bends = {key: Measured(1.0, se) for key in range(1, 29, step)}
    return bridge_load(bends, tensions_n=tension, strings=dict.fromkeys(range(1, 29), 3))


def test_the_load_of_even_strings_is_their_number_times_one() -> None:
    told = load(Measured(700.0, 0.0), step=1, se=1e-6)
    assert told.force_n is not None
    assert_close(told.force_n.value, 84 * float(press_n(700.0, angle_deg=1.0)), rtol=1e-6, atol=0, why="errors of 1e-6")
    assert (told.n_measured, told.n_between, told.n_strings) == (28, 0, 84)


def test_a_tension_shared_by_all_strings_is_not_averaged_away() -> None:
    told = load(Measured(700.0, 70.0), step=1, se=1e-6)
    assert told.force_n is not None
    assert told.force_n.se / told.force_n.value > 0.1


def test_tensions_of_their_own_average_out() -> None:
    own = load({key: Measured(700.0, 70.0) for key in range(1, 29)}, step=1, se=1e-6)
    shared = load(Measured(700.0, 70.0), step=1, se=1e-6)
    assert own.force_n is not None
    assert shared.force_n is not None
    assert own.force_n.se < 0.6 * shared.force_n.se


def test_too_few_notes_give_no_load_and_say_why() -> None:
    told = bridge_load(
        {1: Measured(1.0, 0.1), 5: Measured(1.0, 0.1)},
        tensions_n=Measured(700.0, 50.0),
        strings=dict.fromkeys(range(1, 6), 1),
    )
    assert told.force_n is None
    assert told.cannot_tell is not None
    assert "needs 4" in told.cannot_tell


def test_a_key_without_its_strings_is_refused() -> None:
    with pytest.raises(InputError, match="strings"):
        bridge_load(
            {1: Measured(1.0, 0.1), 5: Measured(1.0, 0.1)}, tensions_n=Measured(700.0, 9.0), strings={1: 3, 5: 3}
        )


def test_tensions_that_end_before_the_bends_give_no_load() -> None:
    told = load({key: Measured(700.0, 10.0) for key in (1, 5, 9, 13)})
    assert told.force_n is None


def test_the_load_is_honest() -> None:
    inside, n = 0, 80
    for seed in range(n):
        rng = np.random.default_rng(seed)
        truth = 1.0 + np.cumsum(rng.normal(0.0, 0.08, 50))
        tension = 700.0 + np.cumsum(rng.normal(0.0, 10.0, 50))
        at = [0, 6, 14, 21, 28, 37, 43, 49]
        bends = {k + 1: Measured(float(truth[k] + rng.normal(0, 0.08)), 0.08) for k in at}
        pulls = {k + 1: Measured(float(tension[k] + rng.normal(0, 15.0)), 15.0) for k in at}
        told = bridge_load(bends, tensions_n=pulls, strings=dict.fromkeys(range(1, 51), 3))
        behind = 1.0 + rng.normal(0.0, BACK_TENSION_SE_RATIO)
        force = float(np.sum(3 * tension * np.sin(np.radians(truth)) * 0.5 * (1 + behind)))
        assert told.force_n is not None
        inside += not told.force_n.differs_from(force)
    assert inside >= 0.95 * n - 6, f"{inside} of {n}: 3 standard deviations below 95 %"
