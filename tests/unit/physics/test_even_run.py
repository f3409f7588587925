"""Runs over the compass that single wild keys cannot bend."""

import numpy as np
import pytest
from tests.closeness import assert_close

from strikeline.errors import InputError
from strikeline.measured import Measured
from strikeline.physics.even_run import fit_run


def exact(keys: list[int], coefficients: tuple[float, ...], se: float = 0.05) -> list[Measured]:
    x = (np.array(keys) - (keys[0] + keys[-1]) / 2) / ((keys[-1] - keys[0]) / 2)
    return [Measured(float(np.polyval(coefficients[::-1], one)), se) for one in x]


def test_readings_on_a_bend_give_it_back_with_their_own_errors() -> None:
    keys = list(range(1, 86, 4))
    run = fit_run(keys, exact(keys, (0.2, 0.3, -0.4)), degree=2)
    assert run is not None
    assert run.sag is not None
    assert_close([run.at(43).value, run.tilt.value, run.sag.value], [0.2, 0.6, -0.4], rtol=0, atol=1e-9, why="exact")
    design = ((np.array(keys) - 43) / 42)[:, None] ** np.arange(3)
    least = 0.05 * np.sqrt(np.linalg.inv(design.T @ design)[0, 0])
    assert least < run.at(43).se < 1.2 * least, "the errors of reading stand though the readings fit exactly"


def test_one_wild_key_moves_the_run_by_less_than_its_error() -> None:
    keys = list(range(1, 86, 4))
    values = exact(keys, (0.0, 0.1))
    wild = [Measured(one.value + (3.0 if place == 6 else 0.0), one.se) for place, one in enumerate(values)]
    clean, bent = fit_run(keys, values, degree=1), fit_run(keys, wild, degree=1)
    assert clean is not None
    assert bent is not None
    assert abs(bent.at(25).value - clean.at(25).value) < 1.96 * bent.at(25).se < 0.1


@pytest.mark.parametrize(("n", "degree", "wild"), [(10, 1, 0.0), (20, 1, 0.1), (52, 2, 0.1)])
def test_the_truth_lies_within_the_error_in_95_of_100(n: int, degree: int, wild: float) -> None:
    rng, n_trials, hits = np.random.default_rng(11), 500, 0
    keys = [int(key) for key in np.linspace(1, 88, n).round()]
    for _trial in range(n_trials):
        truth = np.array([one.value for one in exact(keys, (0.2, 0.3, 0.4)[: degree + 1])])
        read = truth + rng.normal(0, 0.15, n) + np.where(rng.random(n) < wild, rng.choice([-1.0, 1.0], n), 0.0)
        run = fit_run(keys, [Measured(float(one), 0.05) for one in read], degree=degree)
        assert run is not None
        hits += abs(run.tilt.value - 0.6) < 1.96 * run.tilt.se
    # Three standard errors of a share of 0.95 in 500 are 0.029.
    assert abs(hits / n_trials - 0.95) < 0.029


def test_too_few_readings_give_no_run() -> None:
    assert fit_run([1, 20, 40, 60], exact([1, 20, 40, 60], (0.0, 0.0)), degree=1) is None
    assert fit_run([7] * 9, [Measured(1.0, 0.1)] * 9, degree=1) is None
    with pytest.raises(InputError, match="degree"):
        fit_run([1], [], degree=3)
