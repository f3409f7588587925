"""A pass judged as a whole: what it becomes as plain data, and that this data changes nothing of the listening."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
from tests.even_pianos import even_piano, listening_of
from tests.reports.fake_listening import BREAK_AFTER, ODD_STRING_KEY, WORN, fake_listening

from strikeline.acoustics.listening import Kind, Listening
from strikeline.acoustics.listening_json import listening_from_json
from strikeline.acoustics.pass_judgement import PassJudgement, judge_pass, judged_listening_json
from strikeline.keyboard import key_name


@pytest.fixture(scope="module")
def worn() -> Listening:
    return fake_listening()


@pytest.fixture(scope="module")
def judgement(worn: Listening) -> PassJudgement:
    judged = judge_pass(worn)
    assert judged is not None
    return judged


def test_areas_steps_and_what_stands_out_are_written_beside_the_notes(
    worn: Listening, judgement: PassJudgement
) -> None:
    data = json.loads(json.dumps(judged_listening_json(worn, judgement), allow_nan=False))
    evenness = data["evenness"]
    (area,) = evenness["areas"]
    assert (area["quantity"], area["word"]) == ("brightness", "brash")
    assert (area["first"], area["last"]) == (key_name(WORN[0]), key_name(WORN[-1]))
    assert area["departure"]["value"] > 3.0 * area["departure"]["se"]
    (change,) = evenness["change_points"]
    assert (change["after"], change["change"]) == (key_name(BREAK_AFTER), "the break")
    assert {step["after"] for step in evenness["steps"]} == {key_name(BREAK_AFTER)}
    odd = [one["first"] for one in evenness["standouts"] if one["quantity"] == "inharmonicity_b"]
    assert odd == [key_name(ODD_STRING_KEY)]
    assert data["toning"] == judgement.toning.to_json()


def test_the_listening_is_read_alike_with_and_without_the_judgement(worn: Listening, judgement: PassJudgement) -> None:
    without = json.loads(json.dumps(worn.to_json()))
    judged = json.loads(json.dumps(judged_listening_json(worn, judgement)))
    assert {name: judged[name] for name in without} == without
    assert listening_from_json(judged) == listening_from_json(without)


@pytest.mark.parametrize("kind", [kind for kind in Kind if kind is not Kind.PASS])
def test_other_kinds_of_playing_have_no_judgement(worn: Listening, kind: Kind) -> None:
    other = replace(worn, recording=replace(worn.recording, kind=kind))
    assert judge_pass(other) is None
    data = judged_listening_json(other, None)
    assert data["evenness"] is None
    assert data["toning"] is None
    assert listening_from_json(json.loads(json.dumps(data))).recording.kind is kind


@pytest.mark.parametrize("n_notes", [0, 1, 5])
def test_too_few_notes_are_judged_without_a_finding(n_notes: int) -> None:
    keys = np.arange(40.0, 40.0 + n_notes)
    listening = listening_of(even_piano(np.random.default_rng(1), keys=keys), keys=keys, compass=None)
    data = judged_listening_json(listening, judge_pass(listening))
    assert data["evenness"] == {"change_points": [], "steps": [], "areas": [], "standouts": []}
    assert data["toning"]["items"] == []
    assert data["toning"]["cannot_tell"]
