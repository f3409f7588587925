from __future__ import annotations

import numpy as np
import pytest
from tests.closeness import assert_close

from strikeline.errors import InputError
from strikeline.measured import Measured
from strikeline.physics.crown import CrownSign, rib_crown


def test_three_points_of_a_circle_give_its_radius_back() -> None:
    radius_mm, half_span = 18_000.0, 450.0
    sagitta = radius_mm - np.sqrt(radius_mm**2 - half_span**2)
    told = rib_crown(Measured(float(sagitta), 0.01), span_mm=2 * half_span)
    assert told.radius_m is not None
    assert_close(told.radius_m.value, 18.0, rtol=1e-9, atol=0, why="exact geometry; cancellation in the sagitta")


def test_the_gap_over_the_blocks_is_taken_off() -> None:
    told = rib_crown(Measured(14.0, 0.1), span_mm=1000.0, ends_mm=Measured(9.0, 0.1))
    assert_close(
        [told.crown_mm.value, told.crown_mm.se], [5.0, np.hypot(0.1, 0.1)], rtol=1e-9, atol=0, why="a difference"
    )


@pytest.mark.parametrize(
    ("middle", "sign", "has_radius"),
    [
        (5.0, CrownSign.CROWNED, True),
        (0.3, CrownSign.CROWNED, False),
        (0.1, CrownSign.FLAT_WITHIN_READING, False),
        (-2.0, CrownSign.HOLLOW, True),
    ],
)
def test_a_flat_board_has_no_radius(middle: float, sign: CrownSign, has_radius: bool) -> None:
    told = rib_crown(Measured(middle, 0.1), span_mm=1000.0)
    assert told.sign is sign
    assert (told.radius_m is not None) is has_radius


def test_a_hollow_board_has_a_negative_radius() -> None:
    told = rib_crown(Measured(-2.0, 0.1), span_mm=1000.0)
    assert told.radius_m is not None
    assert told.radius_m.value < 0 < told.radius_m.se


@pytest.mark.parametrize(("middle", "span"), [(5.0, 0.0), (300.0, 1000.0)])
def test_what_no_board_has_is_refused(middle: float, span: float) -> None:
    with pytest.raises(InputError):
        rib_crown(Measured(middle, 0.1), span_mm=span)
