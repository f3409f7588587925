"""Which command a table is meant for."""

from pathlib import Path

import pytest

from strikeline.domain.catalogue import the_catalogue
from strikeline.domain.observation_kinds import the_observation_kinds
from strikeline.workshop import bearing, gloss, observations, pins, scale_table
from strikeline.workshop.entry_table import Column, headings, without_unit
from strikeline.workshop.table_kinds import HEADINGS, QUANTITIES, likely_command

EXAMPLES = Path(__file__).parents[3] / "docs" / "examples"
READ: dict[str, tuple[Column, ...]] = {
    "strikeline pins": tuple(pins._columns(0.6)),
    "strikeline bearing": tuple(bearing._columns(bearing.BearingErrors())),
    "strikeline bearing --crown": tuple(bearing._rib_columns(bearing.BearingErrors())),
    "strikeline scale": scale_table._COLUMNS,
    "strikeline look": observations._columns(the_observation_kinds()),
    "strikeline gloss": gloss._COLUMNS,
}


@pytest.mark.parametrize("command", sorted(HEADINGS))
def test_the_headings_are_those_that_the_command_reads(command: str) -> None:
    read = {
        " ".join(word.casefold().replace("_", " ").split()) for one in READ[command] for word in (one.name, *one.also)
    }
    assert HEADINGS[command] <= read
    assert {one.name for one in READ[command]} <= HEADINGS[command]


def test_the_quantities_are_those_of_the_catalogue() -> None:
    assert frozenset[str]().union(*QUANTITIES.values()) <= set(the_catalogue().quantities)


@pytest.mark.parametrize(
    ("file", "command"),
    [
        ("pins.csv", "strikeline pins"),
        ("bearing.csv", "strikeline bearing"),
        ("crown.csv", "strikeline bearing --crown"),
        ("upright-scale.csv", "strikeline scale"),
        ("look.csv", "strikeline look"),
        ("gloss.csv", "strikeline gloss"),
        ("touch.csv", "strikeline touch"),
        ("centres.csv", "strikeline centres"),
        ("hammers.csv", "strikeline hammers"),
        ("keys.csv", "strikeline keys"),
        ("readings.csv", "strikeline readings"),
    ],
)
def test_each_example_is_sent_to_its_command(file: str, command: str) -> None:
    heads = [without_unit(head)[0] for head in headings((EXAMPLES / file).read_text("utf-8"))]
    assert likely_command(heads, n_known=0) == command


def test_a_table_of_which_nobody_knows_enough_is_sent_nowhere() -> None:
    assert likely_command(["note", "foo", "bar"], n_known=1) is None
