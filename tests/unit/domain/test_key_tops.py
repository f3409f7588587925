"""Key tops told apart by what can safely be seen."""

from __future__ import annotations

import itertools
import math
from importlib import resources

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.closeness import assert_close

from strikeline.domain.cautions import the_cautions
from strikeline.domain.key_tops import Sureness, TopMaterial, judge_tops, key_tops_from_toml, the_key_tops
from strikeline.errors import InputError
from strikeline.workshop.key_tops import tell_tops

TOPS = the_key_tops()
ANSWERS = [st.sampled_from([None, *(answer.say for answer in clue.answers)]) for clue in TOPS.clues]
some_answers = st.tuples(*ANSWERS).map(lambda saw: [say for say in saw if say is not None])


def test_no_clue_asks_for_anything_that_harms_a_key() -> None:
    for clue in TOPS.clues:
        said = f"{clue.ask} {clue.how}".casefold()
        assert not [
            word for word in ("hot", "flame", "solvent", "acetone", "alcohol", "scrape", "needle") if word in said
        ]
        assert set(clue.cautions) <= set(the_cautions())
    assert next(clue for clue in TOPS.clues if clue.id == "fluorescence").cautions == ("ultraviolet",)


@pytest.mark.parametrize(
    ("saw", "sureness", "best"),
    [
        ([], Sureness.CANNOT_TELL, None),
        (["seam"], Sureness.CANNOT_TELL, None),
        (["seam", "cross-grain"], Sureness.LIKELY, TopMaterial.IVORY),
        (["seam", "flecks"], Sureness.LIKELY, TopMaterial.BONE),
        (["no-seam", "striae"], Sureness.CANNOT_TELL, None),
        (["no-seam", "no-grain", "dull", "moulded-front"], Sureness.LIKELY, TopMaterial.PLASTIC),
    ],
)
def test_what_was_seen_is_named_only_as_far_as_it_tells(
    saw: list[str], sureness: Sureness, best: TopMaterial | None
) -> None:
    verdict = judge_tops(saw, TOPS)
    assert verdict.sureness is sureness
    assert verdict.material is best


def test_shares_are_bayes_rule_with_even_odds() -> None:
    share = judge_tops(["seam", "glows"], TOPS).share
    seen = {one: math.prod(TOPS.find(say)[1].share[one] for say in ("seam", "glows")) for one in TopMaterial}
    for one in TopMaterial:
        assert_close(share[one], seen[one] / sum(seen.values()), rtol=1e-12, atol=0, why="Bayes; rounding only")


@given(saw=some_answers)
def test_no_material_is_ruled_out_at_less_than_nineteen_to_one(saw: list[str]) -> None:
    verdict = judge_tops(saw, TOPS)
    assert_close(sum(verdict.share.values()), 1.0, rtol=0, atol=1e-12, why="shares of one; rounding only")
    best = verdict.possible[0]
    for ruled_out in set(TopMaterial) - set(verdict.possible):
        assert verdict.share[best] > 19 * verdict.share[ruled_out]
    if verdict.sureness is Sureness.SURE:
        assert verdict.share[best] > 0.95
    order = list(reversed(saw))
    assert judge_tops(order, TOPS).possible == verdict.possible, "the order of the answers does not matter"


@given(saw=some_answers)
def test_no_care_is_told_that_could_harm_what_it_still_may_be(saw: list[str]) -> None:
    advice = tell_tops(saw)
    possible = set(advice.verdict.possible)
    told = {one.id for one in advice.care}
    if possible & {TopMaterial.CELLULOID, TopMaterial.CASEIN, TopMaterial.PLASTIC}:
        assert not told & {"whiten", "buff"}
    if TopMaterial.CELLULOID in possible:
        assert "celluloid" in advice.cautions
    if TopMaterial.IVORY in possible:
        assert "ivory_law" in advice.cautions
        assert "clean_plastic" not in told
    assert set(advice.cautions) <= set(the_cautions())


def test_the_next_question_is_the_one_that_parts_what_is_left() -> None:
    first = judge_tops(["seam"], TOPS).next_clue
    assert first is not None
    assert first.id == "grain", "bone and ivory both have seams; only the grain parts them"


def test_answers_that_hardly_go_together_are_worth_a_second_look() -> None:
    assert judge_tops(["seam", "cross-grain", "moulded-front"], TOPS).odd
    with pytest.raises(InputError, match="one answer to a question"):
        judge_tops(["seam", "no-seam"], TOPS)
    with pytest.raises(InputError, match=r"saw = 'shiny'.*cross-grain"):
        judge_tops(["shiny"], TOPS)


@pytest.mark.parametrize(
    ("old", "new", "match"),
    [
        ("ivory = 95, bone = 90", "ivory = 94, bone = 90", "seam: shares of ivory.*100 over all answers"),
        ('say = "no-seam"', 'say = "seam"', "each word once"),
        ("off_by = 5.0", "off_by = 0.5", "off_by"),
        (", plastic = 1 }", " }", "plastic is missing"),
    ],
)
def test_a_mistake_in_the_clues_is_named(old: str, new: str, match: str) -> None:
    text = resources.files("strikeline.domain").joinpath("key_tops.toml").read_text("utf-8")
    assert old in text
    with pytest.raises(InputError, match=match):
        key_tops_from_toml(text.replace(old, new, 1))


def test_tops_drawn_from_counts_that_are_off_by_the_stated_factor_are_rarely_ruled_out() -> None:
    rng = np.random.default_rng(3)
    materials, n_trials = list(TopMaterial), 1500
    likely, right, ruled_out = 0, 0, 0
    for _trial in range(n_trials):
        truth = materials[rng.integers(len(materials))]
        saw = []
        for clue in TOPS.clues:
            if rng.random() < 0.3:
                continue
            off = math.log(clue.off_by) / 1.96 / math.sqrt(2)
            share = np.array([answer.share[truth] for answer in clue.answers])
            share = share * np.exp(rng.normal(0, off, len(share)))
            saw.append(clue.answers[rng.choice(len(share), p=share / share.sum())].say)
        verdict = judge_tops(saw, TOPS)
        ruled_out += truth not in verdict.possible
        if verdict.material is not None:
            likely += 1
            right += verdict.material is truth
    assert ruled_out / n_trials < 0.05, "95 of 100"
    assert right / likely > 0.8, "what is named as likely has a share above 80 %"
    assert likely > 300


def test_by_eye_alone_no_material_is_ever_sure() -> None:
    # Bone looks like ivory and casein like celluloid: the others can be ruled out, the one cannot be proved.
    choices = [[None, *(answer.say for answer in clue.answers)] for clue in TOPS.clues]
    for combination in itertools.product(*choices):
        verdict = judge_tops([say for say in combination if say is not None], TOPS)
        assert verdict.sureness is not Sureness.SURE
