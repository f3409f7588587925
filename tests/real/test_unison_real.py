"""Unisons of real pianos: no truth is known of them, but the same strings were struck at three strengths."""

from __future__ import annotations

from collections import Counter

import pytest
from tests.real.lone_strikes import chromatic_note, layered_note
from tests.recordings import LAYERED_KEYS, LAYERED_VELOCITIES

from strikeline.acoustics.unison_result import Unison, UnisonVerdict

pytestmark = pytest.mark.real


def three(key: int) -> list[Unison]:
    unisons = [layered_note(key, velocity).unison for velocity in LAYERED_VELOCITIES]
    return [unison for unison in unisons if unison is not None]


def test_verdicts_told_at_three_strengths_of_blow_seldom_contradict_each_other() -> None:
    told = [{unison.verdict for unison in three(key)} - {UnisonVerdict.CANNOT_TELL} for key in LAYERED_KEYS]
    assert sum(bool(verdicts) for verdicts in told) >= 0.8 * len(told), "the others lie near a limit at every strength"
    contradictory = sum(len(verdicts) > 1 for verdicts in told)
    assert contradictory <= 0.2 * len(told), f"{contradictory} of {len(told)} keys"


def test_beats_told_at_two_strengths_have_one_rate() -> None:
    apart = []
    for key in LAYERED_KEYS:
        loud, soft = ({b.partial: b.rate_hz.value for b in unison.beats} for unison in three(key)[:2])
        apart += [abs(loud[n] - soft[n]) / loud[n] for n in loud.keys() & soft.keys()]
    within = sum(one < 0.15 for one in apart) / len(apart)
    assert len(apart) >= 30
    assert within >= 0.6, f"{100 * within:.0f} % of {len(apart)} rates within 15 %"


def test_no_key_of_a_concert_grand_is_given_strings_farther_apart_than_a_tuner_leaves_them() -> None:
    spreads = [
        unison.spread_cents.value
        for key in range(4, 85)
        if (unison := chromatic_note(key).unison) is not None and unison.spread_cents is not None
    ]
    assert spreads, "real strings have more modes than strings; few notes are clear enough"
    assert max(spreads) < 5.0, "Kirk 1959, quoted by Nakamura 1989: 1 to 2 cents are liked best"


def test_most_notes_of_a_concert_grand_get_a_verdict() -> None:
    verdicts = Counter(unison.verdict for key in range(4, 85) if (unison := chromatic_note(key).unison) is not None)
    assert verdicts[UnisonVerdict.CANNOT_TELL] <= 0.25 * verdicts.total(), "its unisons lie near the limits"
    assert verdicts[UnisonVerdict.BEATING] <= 60
