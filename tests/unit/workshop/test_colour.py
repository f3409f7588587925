"""Colours from whole photographs: places as people write them, cards from tables, what is told and what is not."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.closeness import assert_close
from tests.photographs import Shot, chart, lab, wood

from strikeline.domain.photograph import Photograph
from strikeline.errors import InputError
from strikeline.physics.colour import (
    WHITE_D50,
    WHITE_D65,
    adapted_xyz,
    difference_ciede2000,
    lab_from_xyz,
    srgb_from_linear,
    xyz_from_lab,
)
from strikeline.workshop.colour import ColourReport, PhotographAsked, read_colours
from strikeline.workshop.colour_places import WHITES, place_card, read_card_values, read_place
from strikeline.workshop.entry_table import EntryError

HIDDEN, FADED, REPAIR = wood(0.2), wood(0.28, yellowing=0.8), wood(0.205)
PATCHES = ("hidden@0.48,0.35,0.54,0.55", "faded@0.63,0.35,0.69,0.55", "repair@0.78,0.35,0.84,0.55")
GREY = "grey18@0.06,0.75,0.14,0.9"
CHART = "chart@0.05,0.1,0.41,0.58"


def picture(shot: Shot, woods: tuple[NDArray[np.float64], ...] = (HIDDEN, FADED, REPAIR), seed: int = 1) -> Photograph:
    """Return a photograph of three patches of wood, a chart and a grey card."""
    height, width = 800, 1200
    linear = np.empty((height, width, 3))
    linear[:] = shot.recorded(HIDDEN)

    def paint(left: float, top: float, right: float, bottom: float, reflectance: NDArray[np.float64]) -> None:
        rows, columns = (
            slice(round(top * height), round(bottom * height)),
            slice(round(left * width), round(right * width)),
        )
        linear[rows, columns] = shot.recorded(reflectance)

    for place, one in enumerate(chart().values()):
        row, column = divmod(place, 6)
        paint(0.05 + 0.06 * column, 0.1 + 0.12 * row, 0.11 + 0.06 * column, 0.22 + 0.12 * row, one)
    paint(0.05, 0.7, 0.15, 0.95, np.full(31, 0.18))
    for place, one in enumerate(woods):
        paint(0.46 + 0.15 * place, 0.3, 0.56 + 0.15 * place, 0.6, one)
    rng = np.random.default_rng(seed)
    noisy = linear + shot.noise * np.sqrt(linear + 0.04) * rng.normal(size=linear.shape)
    codes = np.round(255.0 * srgb_from_linear(np.clip(noisy, 0.0, 1.0))).astype(np.uint8)
    return Photograph(name="lid.jpg", codes=codes)


def card_table(white: str = "D65") -> str:
    """Return the chart's values as somebody would type them."""
    lines = ["patch,L,a,b,row,column"]
    for place, (name, one) in enumerate(chart().items()):
        told = lab(one)
        if white == "D50":
            xyz = adapted_xyz(xyz_from_lab(told), from_white=WHITE_D65, to_white=WHITE_D50)
            told = lab_from_xyz(xyz, white=WHITE_D50)
        lines.append(f"{name},{told[0]:.2f},{told[1]:.2f},{told[2]:.2f},{place // 6 + 1},{place % 6 + 1}")
    return "\n".join(lines)


SHOT = Shot(illuminant="A", balance=(1.1, 1.0, 0.85))
PHOTO = picture(SHOT)


def told(*cards: str, photograph: Photograph = PHOTO, **more: Any) -> ColourReport:
    return read_colours([PhotographAsked(photograph=photograph, cards=cards, patches=PATCHES)], **more)


def test_a_chart_marked_at_its_corners_tells_colours_and_differences() -> None:
    report = told(CHART, card_values=card_table(), card_white="D65")
    (photo,) = report.photographs
    assert photo.card == "chart"
    assert photo.cannot_tell == ()
    for patch, reflectance in zip(photo.patches, (HIDDEN, FADED, REPAIR), strict=True):
        assert patch.lightness is not None
        assert patch.redness is not None
        assert patch.yellowness is not None
        found = [patch.lightness.value, patch.redness.value, patch.yellowness.value]
        assert difference_ciede2000(found, lab(reflectance)) < 1.0
    faded, repair = report.compared
    true = float(difference_ciede2000(lab(HIDDEN), lab(FADED)))
    assert faded.difference.de00 is not None
    assert abs(faded.difference.de00.value - true) < 1.0
    assert faded.difference.lightness.value > 0
    assert faded.is_repair_passed is False
    assert repair.difference.de00 is None
    assert repair.is_repair_passed is not False


def test_a_grey_card_tells_differences_and_says_what_it_leaves_open() -> None:
    report = told(GREY)
    (photo,) = report.photographs
    assert photo.card == "greys"
    assert "contrast, saturation and hue" in photo.notices[0]
    true = float(difference_ciede2000(lab(HIDDEN), lab(FADED)))
    found = report.compared[0].difference
    assert found.de00 is not None
    assert abs(found.de00.value - true) < 1.96 * found.de00.se
    assert found.de00.se < 0.25 * true


def test_values_for_another_white_are_adapted() -> None:
    found = [told(CHART, card_values=card_table(white), card_white=white).photographs[0].patches[1] for white in WHITES]
    for name in ("lightness", "redness", "yellowness"):
        one, other = (getattr(each, name).value for each in found)
        assert_close(one, other, rtol=0, atol=0.05, why="values typed with two decimals")


def test_a_chart_may_be_marked_by_its_four_corners_or_by_two() -> None:
    two, four = (
        told(text, card_values=card_table(), card_white="D65").photographs[0].patches[0].lightness
        for text in (CHART, "chart@0.05,0.1,0.41,0.1,0.41,0.58,0.05,0.58")
    )
    assert two == four


def test_single_patches_of_a_table_may_be_marked() -> None:
    rows = read_card_values("patch,R,G,B\nmiddle,119,119,119", white="D65")
    (placed,) = place_card(["middle@0,0,0.5,0.5"], rows)
    expected = srgb_from_linear(placed[1].xyz[1])
    assert_close(float(expected), 119 / 255, rtol=1e-9, atol=0, why="a grey has the luminance of its code")


@pytest.mark.parametrize(
    ("cards", "reason"),
    [
        ((), "there is no card"),
        (("grey18@0.06,0.75,0.08,0.78",), "pixels across"),
        (("grey18@0.58,0.35,0.64,0.55",), "unevenly"),
    ],
)
def test_without_a_card_that_can_be_used_nothing_is_told(cards: tuple[str, ...], reason: str) -> None:
    report = told(*cards)
    assert reason in report.photographs[0].cannot_tell[0]
    assert report.photographs[0].card == "none"
    assert all(one.lightness is None for one in report.photographs[0].patches)
    assert report.compared == ()
    assert len(report.cannot_tell) == 2


def test_a_clipped_card_tells_nothing() -> None:
    bright = picture(dataclasses.replace(SHOT, exposure=5.0))
    assert "clipped" in told(GREY, photograph=bright).photographs[0].cannot_tell[0]


def test_patches_of_a_chart_that_are_clipped_are_left_out_and_named() -> None:
    bright = picture(dataclasses.replace(SHOT, exposure=1.05, balance=(1.0, 1.0, 1.0)))
    (photo,) = told(CHART, photograph=bright, card_values=card_table(), card_white="D65").photographs
    assert photo.card == "chart"
    assert any(one.startswith("Left out: card patch") and "clipped" in one for one in photo.notices)


def test_the_wrong_place_marked_as_the_card_is_asked_about() -> None:
    report = told("grey18@0.48,0.35,0.54,0.55")
    assert any("far from grey" in one for one in report.photographs[0].notices)


def test_before_and_after_are_compared_by_name() -> None:
    after = picture(SHOT, (HIDDEN, HIDDEN, REPAIR), seed=2)
    asked = [PhotographAsked(photograph=one, cards=(CHART,), patches=PATCHES) for one in (PHOTO, after)]
    values = card_table()
    apart, same = (
        read_colours(asked, card_values=values, card_white="D65", is_same_setup=is_same) for is_same in (False, True)
    )
    assert [one.difference.one for one in same.compared] == ["hidden before", "faded before", "repair before"]
    faded = same.compared[1].difference
    assert faded.de00 is not None
    true = float(difference_ciede2000(lab(FADED), lab(HIDDEN)))
    assert abs(faded.de00.value - true) < 1.96 * faded.de00.se
    assert faded.lightness.value < 0
    assert same.compared[0].difference.at_most_de00 < apart.compared[0].difference.at_most_de00


def test_two_photographs_need_a_patch_in_common() -> None:
    asked = [
        PhotographAsked(photograph=PHOTO, cards=(GREY,), patches=(PATCHES[0],)),
        PhotographAsked(photograph=PHOTO, cards=(GREY,), patches=(PATCHES[1],)),
    ]
    with pytest.raises(InputError, match="no patch of the same name"):
        read_colours(asked)


@pytest.mark.parametrize(
    "text", ["faded", "faded@", "@0,0,1,1", "faded@0,0,1", "faded@0.2,0,0.1,1", "faded@10,10,60,60", "faded@a,b,c,d"]
)
def test_places_written_wrongly_are_refused(text: str) -> None:
    with pytest.raises(InputError, match="patch"):
        read_place(text)


@pytest.mark.parametrize("name", ["grey", "grey0", "gray18%", "blue", "grey100"])
def test_cards_that_nobody_knows_are_refused(name: str) -> None:
    with pytest.raises(InputError, match="such as grey18"):
        place_card([f"{name}@0,0,1,1"], {})


def test_tables_of_cards_written_wrongly_are_refused_with_their_line() -> None:
    with pytest.raises(EntryError, match="L, a, b or the columns R, G, B"):
        read_card_values("patch,x,y\na,1,2", white="D65")
    with pytest.raises(EntryError, match=r"(?i)line 2, l: .*0 to 100"):
        read_card_values("patch,L,a,b\na,120,0,0", white="D65")
    with pytest.raises(EntryError, match="line 3: the patch a stands there twice"):
        read_card_values("patch,L,a,b\na,20,0,0\na,30,0,0", white="D65")
    with pytest.raises(InputError, match="row and column"):
        place_card([CHART], read_card_values("patch,L,a,b\na,20,0,0", white="D65"))


def test_a_name_twice_or_no_patch_is_refused() -> None:
    for patches in ((), (PATCHES[0], PATCHES[0])):
        with pytest.raises(InputError, match="each name once"):
            read_colours([PhotographAsked(photograph=PHOTO, cards=(GREY,), patches=patches)])


def test_the_json_names_its_schema_and_is_plain() -> None:
    data = told(GREY).to_json()
    assert data["schema"] == "strikeline.colour/1"
    assert set(data["compared"][0]["difference"]["de00"]) == {"value", "se"}
