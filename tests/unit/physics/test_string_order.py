"""Ordering strings: lengths add up, what was not measured is said, sums hold every string once."""

from __future__ import annotations

import math

import pytest
from tests.closeness import assert_close
from tests.scales import plain_row, wound_row

from strikeline.errors import InputError
from strikeline.measured import Measured
from strikeline.physics.scale import scale_state
from strikeline.physics.string_fixing import StringEnd, StringFixing
from strikeline.physics.string_order import CuttingAllowance, OrderLine, order_line, string_order
from strikeline.physics.wire_gauge import GaugeSystem, StockSize, stock_sizes

SIZES = stock_sizes(system=GaugeSystem.THOU)
NOTES = {note.key: note for note in scale_state([plain_row(50), plain_row(51), plain_row(60), wound_row(18)]).notes}
ALLOWANCE = CuttingAllowance(pin_mm=100.0, loop_mm=60.0, eye_mm=80.0, hitch_mm=10.0)


def line(key: int, *, end: StringEnd | None, n_strings: int | None = None, size: StockSize | None = None) -> OrderLine:
    fixing = StringFixing(dead_top_mm=Measured(50.0, 1.0), dead_bottom_mm=Measured(40.0, 1.0), end=end)
    return order_line(NOTES[key], fixing, n_strings=n_strings, sizes=SIZES, new_size=size, allowance=ALLOWANCE)


@pytest.mark.parametrize(
    ("end", "takes_mm"), [(StringEnd.LOOP, 60.0), (StringEnd.EYE, 80.0), (StringEnd.PLAIN_HITCH, 10.0)]
)
def test_the_wire_to_cut_is_all_that_was_measured_and_the_allowance(end: StringEnd, takes_mm: float) -> None:
    speaking = NOTES[50].row.dimensions.length_mm.value
    cut = line(50, end=end).cut_mm
    assert cut is not None
    assert_close(cut, speaking + 50.0 + 40.0 + 100.0 + takes_mm, rtol=1e-12, atol=0, why="a sum")


def test_sums_hold_every_plain_string_once_by_size_and_weigh_what_wire_weighs() -> None:
    lines = [line(key, end=StringEnd.LOOP) for key in (50, 51, 60, 18)]
    order = string_order(lines, allowance=ALLOWANCE)
    assert [(one.size.number if one.size else None, one.n_strings) for one in order.sums] == [(16.5, 6), (15.5, 3)]
    assert order.n_wound == 2
    first = order.sums[0]
    length_m = sum(3 * one.cut_mm for one in lines[:2] if one.cut_mm is not None) / 1e3
    assert_close(first.length_m, length_m, rtol=1e-12, atol=0, why="the same sum")
    mass_g = 7850e3 * math.pi / 4.0 * (first.wire_mm * 1e-3) ** 2 * length_m
    assert_close(first.mass_g, mass_g, rtol=1e-12, atol=0, why="density times volume")


def test_what_was_not_measured_is_to_be_checked_and_its_wire_is_not_summed() -> None:
    bare = order_line(NOTES[50], None, n_strings=None, sizes=SIZES, new_size=None, allowance=ALLOWANCE)
    assert bare.cut_mm is None
    assert bare.to_check == ("dead lengths were not measured", "the end at the hitch pin was not told")
    order = string_order([bare], allowance=ALLOWANCE)
    assert (order.sums[0].length_m, order.sums[0].n_unknown) == (0.0, 3)


def test_a_wound_string_is_told_by_core_winding_and_bare_ends() -> None:
    wound = line(18, end=StringEnd.LOOP, n_strings=1)
    dimensions = NOTES[18].row.dimensions
    assert wound.is_wound
    assert wound.outside_mm is not None
    assert wound.wound_mm is not None
    wrap = dimensions.windings[0].wrap_diameter_mm.value
    assert_close(wound.outside_mm.value, 1.1 + 2 * wrap, rtol=1e-12, atol=0, why="core and two wraps")
    assert_close(wound.wound_mm.value, dimensions.length_mm.value - 40.0, rtol=1e-12, atol=0, why="22 and 18 mm bare")


def test_more_strings_than_a_note_has_and_another_core_for_a_wound_string_are_refused() -> None:
    with pytest.raises(InputError, match="n_strings = 4"):
        line(50, end=None, n_strings=4)
    with pytest.raises(InputError, match="wound string"):
        line(18, end=None, size=SIZES[0])
    with pytest.raises(InputError, match="each note once"):
        string_order([line(50, end=None), line(50, end=None)], allowance=ALLOWANCE)
