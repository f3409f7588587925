"""The toning list on the sheet: what to do in order, the caution first, and what the string makes left alone."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.reports.fake_listening import fake_listening

from strikeline.acoustics.evenness import judge_evenness
from strikeline.acoustics.evenness_result import Evenness
from strikeline.acoustics.toning_result import Action, Cause, HammerAdvice, Sign, ToningItem, ToningList
from strikeline.measured import Measured
from strikeline.reports.figures import NO_BREAK
from strikeline.reports.toning_section import SAFETY, toning_section


def item(action: Action, keys: range, db: float, cause: Cause = Cause.HAMMER, *signs: Sign) -> ToningItem:
    balance = Measured(db, 1.0)
    return ToningItem(
        first_key=keys[0],
        last_key=keys[-1],
        action=action,
        cause=cause,
        signs=signs,
        balance_db=balance,
        advised_db=abs(db) - 2.0,
        first_step_db=(abs(db) - 2.0) / 2.0,
        hammers=tuple(
            HammerAdvice(key=key, balance_db=balance, advised_db=abs(db) - 2.0 + i) for i, key in enumerate(keys)
        ),
        level_db=1.0,
        p_false=0.02,
    )


LIST = ToningList(
    items=(
        item(Action.SOFTEN, range(43, 48), 8.0),
        item(Action.HARDEN, range(70, 71), -6.0, Cause.BOTH, Sign.INHARMONICITY),
        item(Action.LEAVE, range(30, 31), -5.0, Cause.STRING, Sign.STRIKE_POINT),
        item(Action.LISTEN_AGAIN, range(12, 13), 4.0),
    ),
    n_judged=80,
    scatter_db=3.6,
)
NOTHING = ToningList(items=(), n_judged=80, scatter_db=3.6)


@pytest.fixture(scope="module")
def worn() -> Evenness:
    return judge_evenness(fake_listening())


def test_the_list_keeps_its_order_and_says_how_far_to_go_and_what_speaks_for_the_string(worn: Evenness) -> None:
    lines, _ = toning_section(LIST, worn).tables
    rows = [[cell.replace(NO_BREAK, " ") for cell in row] for row in lines.rows]
    assert rows[0] == ["D♯4–G4", "soften", "6 dB", "3 dB", "8 ± 2 dB brighter", "nothing"]
    assert rows[1][:5] == ["F♯6", "harden", "4 dB", "2 dB", "6 ± 2 dB duller"]
    assert rows[1][5].startswith("its inharmonicity")
    assert rows[2][:4] == ["D3", "leave the hammer", "–", "–"]
    assert rows[3][1] == "listen again (fairly sure)"


def test_runs_are_listed_hammer_by_hammer(worn: Evenness) -> None:
    _, hammers = toning_section(LIST, worn).tables
    assert [row[0] for row in hammers.rows] == ["D♯4", "E4", "F4", "F♯4", "G4"]


def test_the_caution_comes_before_any_advice_to_work_and_only_then(worn: Evenness) -> None:
    assert toning_section(LIST, worn).paragraphs == (LIST.caution, SAFETY)
    again = replace(LIST, items=LIST.items[2:])
    assert toning_section(again, worn).paragraphs == ()


def test_nothing_to_tone_is_said_only_where_nothing_sounds_brighter(worn: Evenness) -> None:
    (said,) = toning_section(NOTHING, worn).paragraphs
    assert "listen again before touching one" in said
    (said,) = toning_section(NOTHING, judge_evenness(fake_listening(even=True))).paragraphs
    assert said.startswith("No hammer leaves its neighbours")


def test_too_few_notes_are_told_as_that(worn: Evenness) -> None:
    few = ToningList(
        items=(), n_judged=2, scatter_db=None, cannot_tell=("toning: the balance is known for 2 notes, 12 are needed",)
    )
    assert toning_section(few, worn).paragraphs == ("The balance is known for 2 notes, 12 are needed.",)
