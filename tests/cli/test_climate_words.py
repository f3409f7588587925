"""What the climate command says in words."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from tests.cli.conftest import Answer

from strikeline.cli.climate_table import _scatter
from strikeline.measured import Measured

AIR = ("climate", "--rh", "45%", "--temperature", "20C")


def test_the_air_of_one_visit_tells_of_the_wood_and_what_else_can_be_asked(strikeline: Callable[..., Answer]) -> None:
    told = strikeline(*AIR).out
    assert "Spruce left in this air settles at 8.5 ± 1.1 % of moisture" in told
    assert all(option in told for option in ("--rh-before", "--panel", "--before", "--after"))
    assert "no more than 5 % to either side within a day" in told


def test_what_was_given_is_not_asked_again(strikeline: Callable[..., Answer]) -> None:
    told = strikeline(*AIR, "--rh-before", "60%", "--panel", "900mm").out
    assert "--panel" not in told
    assert "--rh-before" not in told
    assert "--before and --after" in told


@pytest.mark.parametrize(
    ("scatter", "words"),
    [
        (Measured(1e-9, 1e-9), "not at all"),
        (Measured(0.0, 0.2), "not at all, or by less than 0.39 cents,"),
        (Measured(1.2, 0.2), "by 1.2 ± 0.4 cents"),
    ],
)
def test_no_scatter_is_no_figure(scatter: Measured, words: str) -> None:
    assert _scatter(scatter) == words
