"""Strings of Chabassier & Duruflé (2012), INRIA RT-0425, Appendix A, sounded and heard again."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from tests.heard import assert_heard
from tests.struck import struck_string

ROWS = list(csv.DictReader((Path(__file__).parent / "scale.csv").read_text().splitlines()))


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["midi"])
def test_the_published_string_is_heard_again(row: dict[str, str]) -> None:
    key = int(row["midi"]) - 20
    struck = struck_string(
        key,
        seed=key,
        n_partials=40,
        f0_hz=float(row["f0_hz"]),
        inharmonicity_b=float(row["inharmonicity_b"]),
    )
    assert_heard(struck, key=key)
