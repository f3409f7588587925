"""Simulated photographs: what a card corrects, what it leaves, and when it is refused."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.closeness import assert_close
from tests.photographs import Shot, chart, colour_science, lab, things, wood

from strikeline.physics.colour import XYZ_FROM_LINEAR, difference_ciede2000
from strikeline.physics.colour_card import CardPatch, CardRead, Correction, read_card
from strikeline.physics.colour_difference import Seen, colour_difference
from strikeline.physics.colour_seen import SeenColours, joined, seen_colours

LIGHTS = ("D65", "A", "FL2")
WOODS = [wood(light, yellowing=yellow) for light in (0.08, 0.15, 0.25, 0.4) for yellow in (0.7, 1.0, 1.4)]
TRUE_LAB = np.array([lab(one) for one in WOODS])
GREY = np.full(31, 0.18)


def correction_of(read: CardRead) -> Correction:
    assert read.correction is not None, read.cannot_tell
    return read.correction


def seen_woods(shot: Shot, correction: Correction, rng: np.random.Generator) -> SeenColours:
    return seen_colours(correction, [shot.patch(str(i), one, 0.5, rng) for i, one in enumerate(WOODS)])


def errors_in_se(seen: SeenColours, truth: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray((seen.lab - truth) / np.sqrt(np.einsum("ijij->ij", seen.covariance)))


@pytest.mark.parametrize("contrast", [1.0, 1.2])
@pytest.mark.parametrize(("illuminant", "most"), [("D65", 1.0), ("D50", 1.0), ("A", 1.0), ("FL7", 1.0), ("FL2", 2.0)])
def test_a_chart_recovers_wood_under_each_light(illuminant: str, most: float, contrast: float) -> None:
    # 1 is the target. The old halophosphate tube leaves 1.2 in the mean, for it has too little red: told, not hidden.
    rng = np.random.default_rng(23)
    shot = Shot(illuminant=illuminant, contrast=contrast, balance=(1.1, 1.0, 0.85))
    seen = seen_woods(shot, correction_of(read_card(shot.chart(rng))), rng)
    assert difference_ciede2000(seen.lab, TRUE_LAB).max() < most
    assert (np.abs(errors_in_se(seen, TRUE_LAB)) < 1.96).all()


@pytest.mark.parametrize("illuminant", LIGHTS)
@pytest.mark.parametrize("is_chart", [True, False])
def test_differences_between_woods_are_told_within_1_under_each_light(illuminant: str, is_chart: bool) -> None:
    rng = np.random.default_rng(29)
    shot = Shot(illuminant=illuminant, balance=(1.1, 1.0, 0.85))
    card = shot.chart(rng) if is_chart else [shot.card_patch("grey", GREY, 0.4, rng)]
    seen = seen_woods(shot, correction_of(read_card(card)), rng)
    near = [(i, i + 1) for i in range(0, 12, 3)] + [(i, i + 3) for i in range(9)]
    n_told = 0
    for i, j in near:
        told = colour_difference(seen, str(i), str(j))
        true = float(difference_ciede2000(TRUE_LAB[i], TRUE_LAB[j]))
        assert true <= told.at_most_de00
        if told.de00 is not None:
            n_told += 1
            assert abs(told.de00.value - true) < max(1.0, 0.1 * true)
            assert abs(told.de00.value - true) < 1.96 * told.de00.se
    assert n_told >= 9


@pytest.mark.parametrize("illuminant", ["D65", "A", "FL7", "FL11", "LED-B3"])
def test_of_99_things_the_errors_hold_the_truth_in_about_95_of_100(illuminant: str) -> None:
    rng = np.random.default_rng(31)
    shot = Shot(illuminant=illuminant)
    correction = correction_of(read_card(shot.chart(rng)))
    patches = [shot.patch(str(i), one, 0.5, rng) for i, one in enumerate(things())]
    fit = [one for one in patches if not one.light.unfit]
    truth = np.array([lab(things()[int(one.name)]) for one in fit])
    assert len(fit) > 60
    assert (np.abs(errors_in_se(seen_colours(correction, fit), truth)) < 1.96).mean() > 0.88


@pytest.mark.parametrize("illuminant", ["D50", "A", "LED-B4"])
def test_by_one_grey_differences_between_like_things_are_within_their_errors(illuminant: str) -> None:
    rng = np.random.default_rng(33)
    shot = Shot(illuminant=illuminant)
    correction = correction_of(read_card([shot.card_patch("grey", GREY, 0.4, rng)]))
    patches = [shot.patch(str(i), one, 0.5, rng) for i, one in enumerate(things())]
    fit = [one for one in patches if not one.light.unfit]
    seen = seen_colours(correction, fit)
    true = [lab(things()[int(one.name)]) for one in fit]
    inside = []
    for i, one in enumerate(fit):
        for j in range(i):
            apart = float(difference_ciede2000(true[j], true[i]))
            told = colour_difference(seen, fit[j].name, one.name).de00 if apart < 8.0 else None
            if told is not None:
                inside.append(abs(told.value - apart) < 1.96 * told.se)
    assert len(inside) > 40
    assert np.mean(inside) > 0.85


def test_a_cast_does_not_change_what_is_told() -> None:
    told = []
    for balance in ((1.0, 1.0, 1.0), (1.2, 1.0, 0.6)):
        rng = np.random.default_rng(37)
        shot = Shot(balance=balance, noise=0.003)
        told.append(seen_woods(shot, correction_of(read_card(shot.chart(rng))), rng).lab)
    assert_close(told[1], told[0], rtol=0, atol=0.3, why="noise and rounding; a matrix takes any gains")


def test_the_cast_of_light_is_told() -> None:
    rng = np.random.default_rng(41)
    yellow, none = Shot(balance=(1.1, 1.0, 0.7)), Shot()
    read = read_card([yellow.card_patch("grey", GREY, 0.4, rng)])
    assert read.cast is not None
    assert read.cct_k is not None
    assert read.cast[1] > 10
    xyz = XYZ_FROM_LINEAR @ np.array([1.1, 1.0, 0.7])
    expected = colour_science().temperature.xy_to_CCT_McCamy1992(xyz[:2] / xyz.sum())
    assert_close(read.cct_k, expected, rtol=0.01, atol=0, why="noise; the same formula")
    plain = read_card([none.card_patch("grey", GREY, 0.4, rng)])
    assert plain.cast is not None
    assert np.abs(plain.cast).max() < 0.5


def test_contrast_of_the_camera_is_told_by_a_grey_scale() -> None:
    rng = np.random.default_rng(43)
    shot = Shot(contrast=1.3)
    greys = [one for one in shot.chart(rng) if one.is_neutral]
    by_scale, by_one = (correction_of(read_card(card)) for card in (greys, greys[2:3]))
    assert by_scale.is_contrast_told
    assert not by_one.is_contrast_told
    seen = [seen_woods(shot, correction, np.random.default_rng(44)) for correction in (by_scale, by_one)]
    scale, one = (np.abs(each.lab - TRUE_LAB)[:, 0].max() for each in seen)
    assert scale < 0.5
    assert one > 3.0
    assert (np.abs(errors_in_se(seen[1], TRUE_LAB))[:, 0] < 2.2).all(), "an exponent of 1.3 is two standard errors"


def test_without_a_card_nothing_is_told() -> None:
    read = read_card([])
    assert read.correction is None
    assert "there is no card" in read.cannot_tell[0]


def reasons(card: list[CardPatch]) -> str:
    read = read_card(card)
    assert read.correction is None
    return "; ".join(read.cannot_tell)


def test_a_clipped_card_is_refused() -> None:
    rng = np.random.default_rng(47)
    assert "clipped" in reasons([Shot(exposure=1.2).card_patch("white", np.full(31, 0.9), 0.4, rng)])


def test_a_card_in_uneven_light_is_refused() -> None:
    rng = np.random.default_rng(53)
    assert "lit unevenly" in reasons([Shot(falls_off=3.0, noise=0.003).card_patch("grey", GREY, 0.2, rng)])


def test_two_greys_in_light_of_two_kinds_are_refused() -> None:
    rng = np.random.default_rng(59)
    window, lamp = Shot(balance=(1.0, 1.0, 1.0)), Shot(balance=(1.15, 1.0, 0.8))
    greys = [window.card_patch("grey18 left", GREY, 0.1, rng), lamp.card_patch("grey18 right", GREY, 0.9, rng)]
    assert "do not agree" in reasons(greys)


def test_a_chart_marked_the_wrong_way_round_is_refused() -> None:
    rng = np.random.default_rng(61)
    right = Shot().chart(rng)
    turned = [dataclasses.replace(one, light=other.light) for one, other in zip(right, right[::-1], strict=True)]
    assert "the right way round" in reasons(turned) or "do not agree" in reasons(turned)


def test_a_chart_in_uneven_light_is_refused() -> None:
    rng = np.random.default_rng(67)
    assert "unevenly" in reasons(Shot(falls_off=0.9).chart(rng))


def test_colours_alone_are_no_card() -> None:
    rng = np.random.default_rng(71)
    assert "no grey" in reasons([Shot().card_patch("red", chart()["red"], 0.4, rng)])


def test_light_that_changes_over_the_picture_widens_the_errors_with_the_distance_from_the_card() -> None:
    rng = np.random.default_rng(73)
    shot = Shot()
    correction = correction_of(read_card(shot.chart(rng)))
    near, far = (shot.patch(name, WOODS[3], at, rng) for name, at in (("near", 0.3), ("far", 0.95)))
    lightness = [
        float(one) for one in np.sqrt(np.einsum("ijij->ij", seen_colours(correction, [near, far]).covariance))[:, 0]
    ]
    assert lightness[1] > lightness[0]


def test_the_same_setup_makes_before_and_after_surer() -> None:
    rng = np.random.default_rng(79)
    shot = Shot(illuminant="A")
    two = [correction_of(read_card(shot.chart(rng))) for _ in range(2)]
    one, other = (
        seen_colours(correction, [shot.patch(name, WOODS[place], 0.5, rng)])
        for correction, name, place in ((two[0], "before", 3), (two[1], "after", 4))
    )
    apart = colour_difference(joined(one, other), "before", "after")
    same = colour_difference(joined(one, other, same_setup=(two[0], two[1])), "before", "after")
    assert apart.de00 is None
    assert apart.seen is Seen.CANNOT_TELL
    assert same.de00 is not None
    true = float(difference_ciede2000(TRUE_LAB[3], TRUE_LAB[4]))
    assert abs(same.de00.value - true) < 1.96 * same.de00.se
