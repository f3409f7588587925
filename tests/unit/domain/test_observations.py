"""Observations: what each means, what has still to be looked for, and what is never a verdict alone."""

from __future__ import annotations

from importlib import resources

import pytest
from hypothesis import given
from hypothesis import strategies as st

from strikeline.domain.cautions import the_cautions
from strikeline.domain.observation import Judged, Observation, judge_observation, photograph_hash
from strikeline.domain.observation_kinds import (
    Grade,
    ObservationKind,
    observation_kinds_from_toml,
    the_observation_kinds,
)
from strikeline.errors import InputError
from strikeline.measured import Measured

KINDS = the_observation_kinds()
ALL = list(KINDS.kinds.values())


def judged(
    name: str, *, seen: tuple[str, ...] = (), not_seen: tuple[str, ...] = (), width: Measured | None = None
) -> Judged:
    kind = KINDS.find(name)
    measures = {} if width is None else {"width": width}
    observation = Observation(kind=kind.id, where="", key=None, seen=seen, not_seen=not_seen, measures=measures)
    return judge_observation(observation, kind)


@pytest.mark.parametrize("kind", ALL, ids=lambda one: one.id)
def test_every_kind_says_how_to_look_and_where_it_comes_from(kind: ObservationKind) -> None:
    assert len(kind.how) > 30
    assert kind.source
    assert set(kind.cautions) <= set(the_cautions())
    assert KINDS.find(kind.names["us"]) is kind


def test_a_crack_is_cosmetic_only_once_buzz_and_ribs_were_looked_for() -> None:
    width = Measured(0.3, 0.1)
    open_one = judged("board crack", width=width)
    assert open_one.grade is Grade.COSMETIC
    assert not open_one.is_settled
    assert open_one.could_be is Grade.NEEDS_WORK
    assert len(open_one.to_look_for) == 2
    settled = judged("board crack", not_seen=("buzz", "rib_loose"), width=width)
    assert settled.is_settled
    assert judged("board crack", seen=("buzz",)).grade is Grade.NEEDS_WORK


@pytest.mark.parametrize(
    ("width", "grade", "is_settled"),
    [
        (Measured(0.7, 0.1), Grade.COSMETIC, True),
        (Measured(0.9, 0.1), Grade.COSMETIC, False),
        (Measured(1.1, 0.1), Grade.COSMETIC, False),
        (Measured(1.2, 0.1), Grade.WATCH, True),
        (None, Grade.COSMETIC, False),
    ],
)
def test_a_limit_counts_only_where_the_measure_is_sure_of_it(
    width: Measured | None, grade: Grade, is_settled: bool
) -> None:
    one = judged("board crack", not_seen=("buzz", "rib_loose"), width=width)
    assert one.grade is grade
    assert one.is_settled is is_settled
    assert one.to_measure == (() if is_settled else ("width",))


def test_cracks_of_frame_and_bridge_stop_work_as_the_trade_has_it() -> None:
    assert judged("plate crack").grade is Grade.STOPS_WORK
    assert judged("bridge crack").grade is Grade.STOPS_WORK
    assert judged("bridge crack", seen=("hair",)).grade is Grade.NEEDS_WORK
    assert judged("bridge crack", seen=("hair", "through")).grade is Grade.STOPS_WORK, "a bad sign is not undone"


def test_crown_and_bearing_are_never_more_than_watched() -> None:
    never = [kind for kind in ALL if kind.is_never_alone]
    assert {kind.id for kind in never} == {"board_flat", "bearing_negative"}
    for kind in never:
        one = judge_observation(Observation(kind=kind.id, where="", key=None, seen=(), not_seen=(), measures={}), kind)
        assert one.could_be is Grade.WATCH


@given(data=st.data(), kind=st.sampled_from(ALL))
def test_seeing_more_never_makes_it_milder_and_looking_for_what_is_not_there_never_worse(
    data: st.DataObject, kind: ObservationKind
) -> None:
    bad = [sign.id for sign in kind.signs if not sign.is_instead]
    seen = data.draw(st.sets(st.sampled_from(bad)) if bad else st.just(set[str]()))
    rest = [one for one in bad if one not in seen]
    more = data.draw(st.sampled_from(rest)) if rest else None

    def told(seen: set[str], not_seen: set[str]) -> Judged:
        observation = Observation(
            kind=kind.id, where="", key=None, seen=tuple(seen), not_seen=tuple(not_seen), measures={}
        )
        return judge_observation(observation, kind)

    before = told(seen, set())
    assert before.grade.rank <= before.could_be.rank
    if more is not None:
        assert told(seen | {more}, set()).grade.rank >= before.grade.rank
        assert told(seen | {more}, set()).grade.rank <= max(before.could_be.rank, kind.sign(more).grade.rank)
        looked = told(seen, {more})
        assert looked.grade is before.grade
        assert looked.could_be.rank <= before.could_be.rank


def test_a_photograph_is_kept_by_the_hash_of_its_content() -> None:
    # FIPS 180-4 example: SHA-256 of "abc" (from memory of the published vector).
    abc = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert photograph_hash(f"SHA256:{abc.upper()}") == abc
    with pytest.raises(InputError, match="64 hexadecimal digits"):
        photograph_hash(abc[:-1])


@pytest.mark.parametrize(
    ("old", "new", "match"),
    [
        (
            'alone = "watch"\nreason = "good pianos exist with a flat',
            'alone = "needs work"\nreason = "good',
            "never_alone",
        ),
        ('also = ["moth", "mites"]', 'also = ["moth", "board crack"]', "means both"),
        ('measure = "gap"\n', 'measure = "weight"\n', "rib_separation.limit"),
        ('grade = "watch"', 'grade = "bad"', "grade"),
        ('unit = "mm"', 'unit = "ell"', "unit"),
    ],
)
def test_a_mistake_in_the_kinds_is_named(old: str, new: str, match: str) -> None:
    text = resources.files("strikeline.domain").joinpath("observations.toml").read_text("utf-8")
    assert old in text
    with pytest.raises(InputError, match=match):
        observation_kinds_from_toml(text.replace(old, new, 1))


def test_a_name_nearly_right_is_answered_with_the_nearest() -> None:
    with pytest.raises(InputError, match=r"did you mean.*castor broken"):
        KINDS.find("castor brokn")
