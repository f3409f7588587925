"""Brightness on the open three-strength recordings: it rises with the blow, and levelling takes the rise out."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from tests.real.lone_strikes import layered_note
from tests.recordings import LAYERED_KEYS, LAYERED_VELOCITIES

from strikeline.acoustics.brightness import levelled
from strikeline.keyboard import key_from_name
from strikeline.measured import Measured

pytestmark = pytest.mark.real


def brightness_and_level(key: int) -> tuple[list[Measured], list[float]]:
    notes = [layered_note(key, velocity) for velocity in LAYERED_VELOCITIES]
    brightness = [note.brightness for note in notes if note.brightness is not None]
    level_db = [note.level_db.value for note in notes if note.level_db is not None]
    assert len(brightness) == len(level_db) == len(LAYERED_VELOCITIES), key
    return brightness, level_db


def test_a_harder_blow_is_louder() -> None:
    assert all(np.all(np.diff(brightness_and_level(key)[1]) > 0.0) for key in LAYERED_KEYS)


def test_a_harder_blow_is_brighter() -> None:
    keys = [key for key in LAYERED_KEYS if key <= key_from_name("C6")]
    brighter = [brightness_and_level(key)[0][0].value < brightness_and_level(key)[0][2].value for key in keys]
    assert np.mean(brighter) >= 0.95, "hardest against softest; towards the top hardly any partials can show it"


def test_levelled_the_three_strengths_agree_within_their_errors() -> None:
    agree = []
    for key in LAYERED_KEYS:
        brightness, level_db = brightness_and_level(key)
        even = [
            levelled(one, key=key, louder_db=level - float(np.mean(level_db)))
            for one, level in zip(brightness, level_db, strict=True)
        ]
        agree.append(not any(one.differs_from(other) for one, other in combinations(even, 2)))
    assert np.mean(agree) >= 0.9, f"{sum(agree)} of {len(agree)} notes"


def test_levelling_removes_most_of_what_the_blow_adds() -> None:
    before, after = [], []
    for key in LAYERED_KEYS:
        brightness, level_db = brightness_and_level(key)
        louder_db = level_db[2] - level_db[0]
        before.append(brightness[2].value - brightness[0].value)
        after.append(levelled(brightness[2], key=key, louder_db=louder_db).value - brightness[0].value)
    assert np.mean(before) > 0.5
    assert abs(np.mean(after)) < 0.3 * np.mean(before), "no slope left over the compass"
