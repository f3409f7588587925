"""How well colours and differences are told from simulated photographs whose spectra are known.

Widths of errors that one grey leaves open were taken from D65, D50, A, FL2, FL11, LED-B1 and LED-B3; no other number
was set by these lights, and none by these seeds.
"""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial

import numpy as np
from tests.photographs import CAMERAS, Shot, lab, things, wood

from strikeline.physics.colour import difference_ciede2000
from strikeline.physics.colour_card import read_card
from strikeline.physics.colour_difference import colour_difference
from strikeline.physics.colour_seen import seen_colours

LIGHTS = ("D65", "D50", "A", "FL2", "FL4", "FL7", "FL11", "FL12", "LED-B1", "LED-B3", "LED-B4")
"""Of the CIE: daylight, filament lamp, fluorescent tubes old and new, white LEDs."""
WOODS = [wood(light, yellowing=yellow) for light in (0.08, 0.15, 0.25, 0.4) for yellow in (0.7, 1.0, 1.4)]
NEAR_DE00 = 8.0
Row = tuple[str, str, str, bool | None, str]


@dataclass(frozen=True)
class Trial:
    """What one photograph told."""

    errors_de00: tuple[float, ...]
    """Of the woods' colours."""
    is_within: tuple[bool, ...]
    """Coordinates of woods and things within 1.96 se."""
    differences: tuple[float, ...]
    """Errors of differences between woods below 8."""
    is_difference_within: tuple[bool, ...]
    """Differences between things below 8 within 1.96 se."""


def rows(pool: ProcessPoolExecutor, *, quick: bool) -> Iterator[Row]:
    """Return the rows of the table of benchmarks."""
    seeds = range(1 if quick else 2)
    for place, camera in enumerate(CAMERAS, start=1):
        for illuminant in LIGHTS:
            for is_chart in (True, False):
                trials = list(pool.map(partial(_trial, camera, illuminant, is_chart), seeds))
                name = f"wood, camera {place}, {illuminant}, by {'a chart' if is_chart else 'one grey'}: greatest ΔE00"
                yield _row(name, [one for one in trials if one is not None], is_target=place == 1 and is_chart)


def _row(name: str, trials: list[Trial], *, is_target: bool) -> Row:
    if not trials:
        return name, "refused", "", None, "the chart's own colours come out too wrong"
    errors = [error for one in trials for error in one.errors_de00]
    apart = [error for one in trials for error in one.differences]
    within = 100.0 * np.mean([one for trial in trials for one in trial.is_within])
    pairs = 100.0 * np.mean([one for trial in trials for one in trial.is_difference_within])
    remark = (
        f"mean {np.mean(errors):.2f}; differences below 8: rms error {np.sqrt(np.mean(np.square(apart))):.2f}; "
        f"within 1.96 se: {within:.0f} % of coordinates, {pairs:.0f} % of differences between 99 things"
    )
    worst = max(errors)
    return name, f"{worst:.2f}", "<= 1" if is_target else "", worst <= 1.0 if is_target else None, remark


def _trial(camera: str, illuminant: str, is_chart: bool, seed: int) -> Trial | None:
    rng = np.random.default_rng([2026, seed])
    shot = Shot(illuminant=illuminant, balance=(1.1, 1.0, 0.85), camera=camera)
    card = shot.chart(rng) if is_chart else [shot.card_patch("grey", np.full(31, 0.18), 0.4, rng)]
    correction = read_card(card).correction
    if correction is None:
        return None
    reflectances = [*WOODS, *things()]
    patches = [shot.patch(str(i), one, 0.5, rng) for i, one in enumerate(reflectances)]
    fit = [one for one in patches if not one.light.unfit]
    truth = np.array([lab(reflectances[int(one.name)]) for one in fit])
    seen = seen_colours(correction, fit)
    within = np.abs(seen.lab - truth) < 1.96 * np.sqrt(np.einsum("ijij->ij", seen.covariance))
    differences, is_difference_within = list[float](), list[bool]()
    for i, one in enumerate(fit):
        for j in range(i):
            apart = float(difference_ciede2000(truth[j], truth[i]))
            are_woods = int(one.name) < len(WOODS)
            if apart >= NEAR_DE00 or are_woods != (int(fit[j].name) < len(WOODS)):
                continue
            told = colour_difference(seen, fit[j].name, one.name).de00
            if told is not None and are_woods:
                differences.append(told.value - apart)
            elif told is not None:
                is_difference_within.append(abs(told.value - apart) < 1.96 * told.se)
    woods = [i for i, one in enumerate(fit) if int(one.name) < len(WOODS)]
    return Trial(
        errors_de00=tuple(float(one) for one in difference_ciede2000(seen.lab[woods], truth[woods])),
        is_within=tuple(bool(one) for one in within.ravel()),
        differences=tuple(differences),
        is_difference_within=tuple(is_difference_within),
    )
