"""Plain strings of an upright, H. Fletcher (1964), sounded in equal temperament and heard again."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from tests.heard import assert_heard
from tests.struck import struck_string

ROWS = list(csv.DictReader((Path(__file__).parent / "upright.csv").read_text().splitlines()))


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["key"])
def test_the_published_string_is_heard_again(row: dict[str, str]) -> None:
    key = int(row["key"])
    struck = struck_string(key, seed=key, n_partials=40, inharmonicity_b=float(row["inharmonicity_b"]))
    assert_heard(struck, key=key)
