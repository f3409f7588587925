"""Answers on ivory as people write them."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.closeness import assert_close

from strikeline.domain.ivory_facts import Span
from strikeline.domain.ivory_law import Outcome
from strikeline.errors import InputError
from strikeline.measured import Measured
from strikeline.physics.key_cover import key_cover
from strikeline.workshop.ivory import ask_ivory, read_span

TODAY = date(2026, 11, 25)


@pytest.mark.parametrize(
    ("text", "first", "last"),
    [
        ("1908", "1908-01-01", "1908-12-31"),
        ("1948-02", "1948-02-01", "1948-02-29"),
        ("1947-03-03", "1947-03-03", "1947-03-03"),
        ("1900 to 1910", "1900-01-01", "1910-12-31"),
        ("1900-1910", "1900-01-01", "1910-12-31"),
        ("1900–1910", "1900-01-01", "1910-12-31"),
        ("before 1947-03-03", None, "1947-03-02"),
        ("until 1974", None, "1974-12-31"),
        ("from 1975", "1975-01-01", None),
        ("after 1975", "1976-01-01", None),
    ],
)
def test_dates_are_read_as_people_write_them(text: str, first: str | None, last: str | None) -> None:
    ends = [None if one is None else date.fromisoformat(one) for one in (first, last)]
    assert read_span(text, name="made") == Span(*ends)


@pytest.mark.parametrize("text", ["about 1900", "1910 to 1900", "1947-13", "1947-02-30", "before 1900 to 1910", "08"])
def test_other_dates_are_refused_with_examples(text: str) -> None:
    with pytest.raises(InputError, match="made = "):
        read_span(text, name="made")


def test_the_tops_bound_the_share_so_that_an_old_piano_needs_no_volume() -> None:
    without = ask_ivory(where="uk", plan="sell", on=TODAY, material="elephant", made="1908")
    assert without.decision.outcome is Outcome.CANNOT_TELL
    assert [one.id for one in without.decision.ask] == ["volume"]
    advice = ask_ivory(where="uk", plan="sell", on=TODAY, material="elephant", made="1908", n_tops=50)
    assert advice.decision.outcome is Outcome.WITH_PAPER
    data = advice.to_json()
    assert data["schema"] == "strikeline.ivory/1"
    assert data["is_legal_advice"] is False
    assert data["facts"]["made"] == {"first": "1908-01-01", "last": "1908-12-31"}


def test_rules_read_long_ago_are_said_to_be_old() -> None:
    assert not ask_ivory(where="eu", plan="keep", on=date(2027, 11, 1)).is_stale
    assert ask_ivory(where="eu", plan="keep", on=date(2028, 1, 1)).is_stale


def test_answers_are_yes_or_no_to_known_questions() -> None:
    advice = ask_ivory(where="us", plan="part-exchange", on=TODAY, answers=["main-value=no", "Raw = Y"])
    assert dict(advice.facts.answers) == {"main_value": False, "raw": True}
    for wrong in ("raw", "raw=perhaps", "moon=yes"):
        with pytest.raises(InputError, match=r"answer = .*listed-repair"):
            ask_ivory(where="us", plan="sell", on=TODAY, answers=[wrong])
    with pytest.raises(InputError, match="needs --tops"):
        ask_ivory(where="us", plan="sell", on=TODAY, thickness="1mm")


@given(n=st.integers(1, 35), thick=st.floats(0.4, 1.5))
def test_ivory_grows_with_the_number_and_the_thickness_of_tops(n: int, thick: float) -> None:
    one = key_cover(n, thickness_mm=Measured(thick, 0.05))
    twice = key_cover(2 * n, thickness_mm=Measured(2 * thick, 0.1))
    assert_close(twice.volume_cm3.value, 4 * one.volume_cm3.value, rtol=1e-12, atol=0, why="n·t; rounding only")
    assert_close(one.mass_g.value, 1.85 * one.volume_cm3.value, rtol=1e-12, atol=0, why="density; rounding only")
    assert one.mass_g.se > 1.85 * one.volume_cm3.se, "the density adds its own error"


def test_a_piano_of_the_future_is_a_slip() -> None:
    with pytest.raises(InputError, match="up to 2026-11-25"):
        ask_ivory(where="uk", plan="sell", on=TODAY, made="2040")
