"""B over the compass: gaps filled within the errors told, odd strings left odd, steps at the break kept."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.closeness import assert_close

from strikeline.errors import InputError
from strikeline.physics.inharmonicity_curve import inharmonicity_curve
from strikeline.physics.stretch import typical_inharmonicity_b

KEYS = np.arange(1, 89)
BREAK = 26
Floats = NDArray[np.float64]


def invented_b(rng: np.random.Generator) -> Floats:
    """Return B of an invented piano: bent, with a step at the break and strings that scatter by 4 %."""
    bass = KEYS <= BREAK
    log_b = np.log(typical_inharmonicity_b(KEYS)) + rng.normal(0.0, 0.2)
    log_b += np.where(bass, rng.normal(0.0, 0.3), rng.normal(0.0, 0.1))
    log_b += 0.08 * np.sin(2 * np.pi * KEYS / 45.0 + rng.uniform(0, 6))
    return np.asarray(np.exp(log_b + 0.04 * rng.standard_t(5, KEYS.size) * np.sqrt(3 / 5)))


def test_b_of_notes_that_were_not_measured_lies_within_1_96_errors_in_95_of_100() -> None:
    rng = np.random.default_rng(1)
    inside, n = 0, 0
    for _ in range(40):
        true_b = invented_b(rng)
        is_gap = rng.random(KEYS.size) < 0.25
        is_gap[[0, 48, 87]] = False
        se = 0.005 * true_b[~is_gap]
        heard = true_b[~is_gap] + se * rng.normal(size=se.size)
        curve = inharmonicity_curve(
            KEYS, measured_key=KEYS[~is_gap], measured_b=heard, measured_b_se=se, sections_end_after=[BREAK]
        )
        off = np.log(curve.inharmonicity_b / true_b)[is_gap] / curve.relative_se[is_gap]
        inside += int(np.sum(np.abs(off) < 1.96))
        n += off.size
    assert n > 700
    assert 0.92 < inside / n < 0.98, "binomial, two standard errors at n = 800, notes of one piano hanging together"


def test_a_single_odd_string_keeps_its_own_b_and_leaves_the_curve_where_it_was() -> None:
    true_b = invented_b(np.random.default_rng(2))
    odd_b = true_b.copy()
    odd_b[50] *= 1.4
    settings: dict[str, Any] = {"measured_key": KEYS, "sections_end_after": [BREAK]}
    even = inharmonicity_curve(KEYS, measured_b=true_b, measured_b_se=0.003 * true_b, **settings)
    odd = inharmonicity_curve(KEYS, measured_b=odd_b, measured_b_se=0.003 * odd_b, **settings)
    assert_close(odd.inharmonicity_b[50], odd_b[50], rtol=0.005, atol=0, why="it is known to 0.3 %")
    assert_close(odd.smooth_b, even.smooth_b, rtol=0.02, atol=0, why="half of the scatter from string to string")


def test_b_may_jump_at_the_break_and_only_there() -> None:
    b = typical_inharmonicity_b(KEYS) * np.where(KEYS <= BREAK, 1.0, 1.5)
    told = inharmonicity_curve(
        KEYS, measured_key=KEYS, measured_b=b, measured_b_se=0.01 * b, sections_end_after=[BREAK]
    )
    at = BREAK - KEYS[0]
    step = told.smooth_b[at + 1] / told.smooth_b[at] / (b[at + 1] / b[at])
    assert_close(step, 1.0, rtol=0.03, atol=0, why="two ends of a smooth line, 1 % each")


def test_errors_grow_with_the_distance_from_measured_notes() -> None:
    measured = KEYS[30:60]
    b = typical_inharmonicity_b(measured)
    curve = inharmonicity_curve(KEYS, measured_key=measured, measured_b=b, measured_b_se=0.003 * b)
    assert (np.diff(curve.relative_se[60:]) > 0).all()
    assert curve.relative_se[:60].argmin() in range(30, 60)


def test_shares_reproduce_the_error_of_every_note() -> None:
    b = invented_b(np.random.default_rng(3))
    curve = inharmonicity_curve(KEYS, measured_key=KEYS[::3], measured_b=b[::3], measured_b_se=0.01 * b[::3])
    covariance = curve.log_shares @ curve.log_shares.T
    assert (np.linalg.eigvalsh(covariance) > -1e-12).all()
    # Two keys side by side in a gap know the same of the curve, each has its own string: tied, but not wholly.
    tie = covariance[1, 2] / np.sqrt(covariance[1, 1] * covariance[2, 2])
    assert 0.02 < tie < 0.9


def test_values_known_worse_than_to_half_their_size_say_nothing() -> None:
    b = invented_b(np.random.default_rng(4))
    se = 0.003 * b
    settings: dict[str, Any] = {"sections_end_after": [BREAK]}
    without = inharmonicity_curve(KEYS, measured_key=KEYS[:80], measured_b=b[:80], measured_b_se=se[:80], **settings)
    b[80:], se[80:] = 5.0, 4.0
    with_bad = inharmonicity_curve(KEYS, measured_key=KEYS, measured_b=b, measured_b_se=se, **settings)
    assert_close(with_bad.inharmonicity_b, without.inharmonicity_b, rtol=1e-9, atol=0, why="the same values went in")
    assert not with_bad.is_measured[80:].any()


@pytest.mark.parametrize("keys", [[3, 3], [3, 99]])
def test_a_key_that_stands_twice_or_is_not_on_the_piano_is_refused(keys: list[int]) -> None:
    with pytest.raises(InputError, match="measured_key"):
        inharmonicity_curve(KEYS, measured_key=keys, measured_b=[1e-4, 1e-4], measured_b_se=[1e-6, 1e-6])


def test_without_any_b_there_is_no_curve() -> None:
    with pytest.raises(InputError, match="no note has a usable B"):
        inharmonicity_curve(KEYS, measured_key=[49], measured_b=[0.0], measured_b_se=[1e-4])
