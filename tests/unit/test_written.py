"""Quantities as people write them."""

import pytest
from tests.closeness import assert_close

from strikeline.errors import InputError
from strikeline.units import UNITS
from strikeline.written import read_quantity


@pytest.mark.parametrize(
    ("text", "unit", "expected"),
    [
        ("0.925mm", "mm", 0.925),
        ("0,925", "mm", 0.925),
        (".925", "mm", 0.925),
        ("14½", "mm", 14.5),
        ("36 5/8 in", "mm", 930.275),
        ('36-5/8"', "mm", 930.275),
        ("3' 2¼\"", "mm", 971.55),
        ("3 ft 2 1/4 in", "mm", 971.55),
        ("1 200 mm", "mm", 1200.0),
        ("1 200", "mm", 1200.0),
        ("41 thou", "mm", 1.0414),
        ("1.2e3 mm", "mm", 1200.0),
        ("−12 cents", "cents", -12.0),
        ("68 °F", "°C", 20.0),
        ("-40F", "°C", -40.0),
        ("320 ksi", "MPa", 2206.322336),
        ("45%", "%", 45.0),
    ],
)
def test_a_quantity_is_read_as_it_is_written(text: str, unit: str, expected: float) -> None:
    assert_close(read_quantity(text, name="x", unit=unit).value, expected, rtol=1e-9, atol=1e-9, why="exact units")


def test_torques_and_forces_convert_as_the_tables_of_nist_sp_811_do() -> None:
    # NIST SP 811 (2008), appendix B.8 (from memory): 1 lbf = 4.448222 N, 1 lbf·in = 0.1129848 N·m, 1 kgf = 9.80665 N.
    for text, unit, expected in [("1 lbf", "N", 4.448222), ("1 in-lb", "N·m", 0.1129848), ("1 kgf", "N", 9.80665)]:
        assert_close(
            read_quantity(text, name="x", unit=unit).value,
            expected,
            rtol=0,
            atol=5e-7 if expected > 1 else 5e-8,
            why="half of the last printed digit",
        )


@pytest.mark.parametrize("text", ["0.925 ± 0.0196 mm", "0.925mm ±0.0196mm", "0,925 +/- 0,0196"])
def test_the_error_is_read_as_the_half_width_of_95_cases(text: str) -> None:
    read = read_quantity(text, name="diameter", unit="mm")
    assert_close([read.value, read.se], [0.925, 0.01], rtol=1e-9, atol=0, why="1.96 se is the half-width")


def test_the_error_of_a_temperature_has_no_offset() -> None:
    assert_close(read_quantity("68 ± 1.96 °F", name="t", unit="°C").se, 5 / 9, rtol=1e-9, atol=0, why="a difference")


@pytest.mark.parametrize(
    ("text", "match"),
    [
        ("540 m", "did you mean 540 mm"),
        ("21 mm", "did you mean 21 cm or 21 in"),
        ("1,200", "1200 or 1.200.*both ways"),
        ("12 lbf", "a length in mm"),
        ("nonsense", "a number with or without unit"),
        ("", "a number with or without unit"),
        ("3 4", "a number with or without unit"),
        ("1/0", "other than 0"),
        ("5 mm or so", "a length in"),
        ("nan", "a number with"),
    ],
)
def test_what_cannot_be_meant_is_refused_with_the_likely_meaning(text: str, match: str) -> None:
    with pytest.raises(InputError, match=match):
        read_quantity(text, name="length", unit="mm", low=30, high=2600, what="the speaking length of a string")


def test_no_spelling_means_two_units_of_one_kind() -> None:
    for kind in {unit.kind for unit in UNITS.values()}:
        spellings = [one for unit in UNITS.values() if unit.kind == kind for one in unit.spellings]
        assert len(spellings) == len(set(spellings)), kind


@pytest.mark.parametrize(
    ("text", "unit", "low", "high", "meant"),
    [
        ("45", "mm", 2.0, 30.0, "did you mean 4.5?"),
        ("465", "mm", 20.0, 70.0, "did you mean 46.5?"),
        ("65", "N·m", 0.0, 50.0, "did you mean 6.5 or 65 in-lb or 65 kgf·cm?"),
        ("1.75", "mm", 20.0, 70.0, "did you mean 1.75 in?"),
        ("0.4", "mm", 4.0, 16.0, "did you mean 0.4 cm or 0.4 in?"),
        ("68", "°C", -10.0, 50.0, "did you mean 68 °F?"),
    ],
)
def test_a_decimal_mark_left_out_is_likelier_than_a_unit_nobody_reads_in(
    text: str, unit: str, low: float, high: float, meant: str
) -> None:
    with pytest.raises(InputError) as caught:
        read_quantity(text, name="felt", unit=unit, low=low, high=high)
    assert str(caught.value).endswith(meant)


@pytest.mark.parametrize(
    ("text", "advice"),
    [
        ("46-47", "46.5 ± 0.5$"),
        ("46–47 mm", "46.5 ± 0.5 mm$"),
        ("46?", "behind ±, such as 46 ± 1$"),
        ("~46", "behind ±, such as 46 ± 1$"),
    ],
)
def test_a_range_and_a_doubt_are_told_how_to_be_written(text: str, advice: str) -> None:
    with pytest.raises(InputError, match=advice):
        read_quantity(text, name="blow", unit="mm")
