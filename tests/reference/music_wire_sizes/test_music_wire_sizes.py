"""Music wire numbers as other people print them."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from tests.closeness import assert_close

from strikeline.physics.wire_gauge import GaugeSystem, gauge_diameter_mm, stock_sizes

ROWS = list(csv.DictReader((Path(__file__).parent / "sizes.csv").read_text().splitlines()))


@pytest.mark.parametrize("system", GaugeSystem)
def test_every_printed_size_is_a_stock_size(system: GaugeSystem) -> None:
    printed = {
        float(row["number"]): float(row["diameter"]) * (25.4 if system is GaugeSystem.THOU else 1.0)
        for row in ROWS
        if row["system"] == system
    }
    found = {number: gauge_diameter_mm(number, system=system) for number in printed}
    assert_close(list(found.values()), list(printed.values()), rtol=0, atol=6e-5, why="kept to 0.0001 mm")
    assert set(printed) <= {size.number for size in stock_sizes(system=system)}


def test_the_same_number_is_up_to_a_fiftieth_of_a_millimetre_apart_and_three_per_cent_in_tension() -> None:
    sizes = stock_sizes(system=GaugeSystem.THOU)
    apart = [size.diameter_mm / gauge_diameter_mm(size.number, system=GaugeSystem.METRIC) for size in sizes]
    assert_close(max(apart) ** 2, 1.032, rtol=0, atol=5e-4, why="as the docstring says; T goes as d²")
    assert min(apart) > 0.99
