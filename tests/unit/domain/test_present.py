from __future__ import annotations

from dataclasses import replace
from itertools import permutations
from uuid import UUID

import pytest
from tests.workshop_records import changed, dip, sound, stated, withdrawn

from strikeline.domain.evidence import Event, Note, OtherEvidence
from strikeline.domain.evidence_data import evidence_data, evidence_from_data
from strikeline.domain.present import Present, fold, history
from strikeline.errors import InputError, StoreError

FIRST = stated(1, dip(10.0), second=5)


def _same_in_every_order(*events: Event) -> Present:
    states = [fold(order) for order in permutations(events)]
    assert all(state == states[0] for state in states)
    return states[0]


def _shown(present: Present) -> list[object]:
    return [item.evidence for item in present.items]


def test_a_change_replaces_what_it_names_also_when_its_clock_is_behind() -> None:
    second = changed(2, FIRST, dip(9.0), second=-1000)
    third = changed(3, second, dip(8.0), second=-2000)
    assert _shown(_same_in_every_order(FIRST, second, third)) == [dip(8.0)]
    assert history([third, second, FIRST], FIRST.id) == (FIRST, second, third)


def test_a_withdrawn_change_gives_way_to_what_it_replaced() -> None:
    second = changed(2, FIRST, dip(9.0), second=6)
    present = _same_in_every_order(FIRST, second, withdrawn(3, second, second=7))
    assert _shown(present) == [dip(10.0)]
    assert present.items[0].rivals == ()


def test_a_change_of_a_withdrawn_change_stands_alone() -> None:
    second = changed(2, FIRST, dip(9.0), second=6)
    third = changed(3, second, dip(8.0), second=7)
    present = _same_in_every_order(FIRST, second, third, withdrawn(4, second, second=8))
    assert _shown(present) == [dip(8.0)]
    assert present.items[0].rivals == ()


def test_a_withdrawal_that_is_withdrawn_counts_no_more_however_long_the_chain() -> None:
    chain = [FIRST]
    for number in range(2, 2002):
        chain.append(withdrawn(number, chain[-1], second=number))
    assert _shown(fold(chain)) == [dip(10.0)]
    assert fold(chain[:-1]).withdrawn == (FIRST,)


def test_changes_by_two_who_did_not_know_of_each_other_are_rivals_and_the_latest_is_shown() -> None:
    left = changed(2, FIRST, dip(9.0), second=6)
    right = changed(3, FIRST, dip(8.0), second=7, author="right")
    (item,) = _same_in_every_order(FIRST, left, right).items
    assert (item.evidence, item.rivals) == (dip(8.0), (left,))
    both = replace(changed(4, right, dip(8.5), second=8), over=frozenset({left.id, right.id}))
    (item,) = _same_in_every_order(FIRST, left, right, both).items
    assert (item.evidence, item.rivals) == (dip(8.5), ())


def test_a_change_does_not_bring_a_withdrawn_statement_back() -> None:
    present = _same_in_every_order(FIRST, withdrawn(2, FIRST, second=6), changed(3, FIRST, dip(9.0), second=7))
    assert (present.items, present.withdrawn) == ((), (FIRST,))


def test_what_is_about_a_statement_that_has_not_arrived_waits_for_it() -> None:
    second = changed(2, FIRST, dip(9.0), second=6)
    assert _same_in_every_order(second).waiting == (second,)
    assert _same_in_every_order(second, FIRST).waiting == ()


def test_withdrawals_in_a_ring_hide_nothing() -> None:
    one = replace(withdrawn(2, FIRST), over=frozenset({UUID(int=3)}))
    other = replace(withdrawn(3, FIRST), over=frozenset({UUID(int=2)}))
    assert _shown(_same_in_every_order(FIRST, one, other)) == [dip(10.0)]


def test_a_withdrawal_cannot_reach_into_another_item() -> None:
    other = stated(9, Note(text="not yours"))
    stray = replace(withdrawn(2, FIRST), over=frozenset({other.id}))
    assert _shown(_same_in_every_order(FIRST, other, stray)) == [Note(text="not yours"), dip(10.0)]


def test_events_of_no_sense_are_refused() -> None:
    with pytest.raises(InputError, match="evidence of its own"):
        replace(FIRST, evidence=None)
    with pytest.raises(InputError, match="evidence of its own"):
        replace(FIRST, item_id=UUID(int=2))
    with pytest.raises(InputError, match="that it replaces"):
        replace(changed(2, FIRST, dip(9.0)), over=frozenset())
    with pytest.raises(InputError, match="reason"):
        replace(changed(2, FIRST, dip(9.0)), reason="")
    with pytest.raises(InputError, match="other events than itself"):
        replace(withdrawn(2, FIRST), over=frozenset({UUID(int=2)}))
    with pytest.raises(InputError, match="author"):
        replace(FIRST, author=" ")
    with pytest.raises(InputError, match="quantity"):
        replace(FIRST, evidence=replace(dip(1.0), quantity="a\0"))
    with pytest.raises(InputError, match="SHA-256"):
        sound("A" * 64)
    with pytest.raises(InputError, match="at most"):
        Note(text="x" * 100_001)


@pytest.mark.parametrize("data", [{"a": float("nan")}, {"a": object()}, {"a": "\0"}])
def test_other_evidence_must_be_plain_data(data: dict[str, object]) -> None:
    with pytest.raises(InputError, match="data"):
        OtherEvidence(schema="strikeline.marks/1", data=data)


def test_another_form_cannot_pass_for_one_of_ours() -> None:
    with pytest.raises(InputError, match="another form"):
        evidence_data(OtherEvidence(schema="strikeline.note/1", data={}))


def test_other_evidence_is_a_copy_of_its_own() -> None:
    data = {"where": ["lid"]}
    seen = OtherEvidence(schema="strikeline.marks/1", data=data)
    data["where"].append("key bed")
    assert seen.data == {"where": ["lid"]}


def test_evidence_of_a_form_that_is_not_ours_comes_back_as_it_was() -> None:
    seen = OtherEvidence(schema="strikeline.from_the_future/3", data={"x": 1}, photographs=("b" * 64,))
    assert evidence_from_data(*evidence_data(seen)) == seen


@pytest.mark.parametrize("data", [{}, {"text": 3}, {"text": "ok", "more": 1}])
def test_damaged_evidence_is_said_to_be_damaged(data: dict[str, object]) -> None:
    with pytest.raises(StoreError, match="damaged"):
        evidence_from_data("strikeline.note/1", data)
