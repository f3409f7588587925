"""Beats of equal temperament, Teki et al. (2012), Table 1, as calculated in the survey that checked it."""

from __future__ import annotations

import csv
from pathlib import Path

from tests.closeness import assert_close

from strikeline.keyboard import equal_tempered_hz, key_from_name
from strikeline.physics.beat_rates import INTERVALS, beat_rate_hz

ROWS = list(csv.DictReader((Path(__file__).parent / "beats.csv").read_text().splitlines()))


def test_beat_rates_of_flexible_strings_in_equal_temperament_are_those_of_the_table() -> None:
    pairs = [(row["low"], name, float(text)) for row in ROWS for name, text in row.items() if name != "low" and text]
    assert len(pairs) == 41
    for low, name, printed in pairs:
        interval, key = INTERVALS[name], key_from_name(low)
        low_hz, high_hz = equal_tempered_hz([key, key + interval.semitones], a4_hz=440.0)
        rate = beat_rate_hz(
            interval, low_first_hz=low_hz, high_first_hz=high_hz, low_inharmonicity_b=0.0, high_inharmonicity_b=0.0
        )
        assert_close(rate, printed, rtol=0, atol=0.00501, why=f"{low} {name}: printed to 0.01 Hz")
