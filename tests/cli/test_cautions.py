"""Cautions stand below whatever involves what they are about."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from tests.cli.conftest import Answer

from strikeline.domain.catalogue import Quantity, the_catalogue
from strikeline.domain.cautions import the_cautions

EXAMPLES = Path(__file__).parents[2] / "docs" / "examples"
CAUTIONED = [one for one in the_catalogue().quantities.values() if one.cautions]


def test_a_good_part_of_the_catalogue_carries_cautions() -> None:
    attached = {caution for one in CAUTIONED for caution in one.cautions}
    assert {"string_tension", "lifting", "lead", "dust", "sharp_tools"} <= attached
    assert the_catalogue().cautions_of(("crown", "key_level", "crown")) == ("lifting", "dust", "lead")
    assert the_catalogue().cautions_of(("relative_humidity",)) == ()


@pytest.mark.parametrize("quantity", CAUTIONED, ids=lambda one: one.id)
def test_a_reading_is_shown_with_its_cautions(
    strikeline: Callable[..., Answer], tmp_path: Path, quantity: Quantity
) -> None:
    table = tmp_path / "one.csv"
    middle = sum(quantity.possible) / 2
    table.write_text(f"note,quantity,value\nC4,{quantity.id},{middle}\n", encoding="utf-8")
    told = strikeline("readings", table).out
    for caution in quantity.cautions:
        assert the_cautions()[caution].may_happen in told
    (found,) = json.loads(strikeline("readings", table, "--json", "-").out)["quantities"]
    assert found["cautions"] == list(quantity.cautions)


@pytest.mark.parametrize(
    ("arguments", "cautions"),
    [
        (("regulate", EXAMPLES / "readings.csv", "--capstan-pitch", "0.8mm"), ["dust"]),
        (("touch", EXAMPLES / "touch.csv", "--action", "grand", "--balance", "38"), ["dust", "lead"]),
        (("keys", EXAMPLES / "keys.csv"), ["dust", "lead"]),
        (("look", EXAMPLES / "look.csv"), ["lifting", "string_tension"]),
        (("keytops", "--saw", "seam"), ["celluloid", "ivory_law"]),
        (("ivory", "--where", "eu", "--plan", "keep"), ["ivory_law"]),
        (("seat", "--keys", "74cm", "--elbow", "24cm", "--cups", "2cm"), ["lifting"]),
    ],
)
def test_commands_show_and_publish_the_cautions_of_what_they_read(
    strikeline: Callable[..., Answer], arguments: tuple[object, ...], cautions: list[str]
) -> None:
    published = json.loads(strikeline(*arguments, "--json", "-").out)["cautions"]
    assert set(cautions) <= set(published)
    told = strikeline(*arguments).out
    for caution in published:
        assert the_cautions()[caution].may_happen in told
