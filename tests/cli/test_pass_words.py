"""What is printed of a pass as a whole below its table: what stands out, areas, changes of the scale, toning list."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.reports.fake_listening import fake_listening
from tests.reports.test_scale_section import BREAK
from tests.reports.test_toning_section import LIST, NOTHING, item

from strikeline.acoustics.evenness_quantities import BRIGHTNESS
from strikeline.acoustics.evenness_result import ChangeVerdict, StepVerdict
from strikeline.acoustics.pass_judgement import PassJudgement, judge_pass
from strikeline.acoustics.toning_result import Action
from strikeline.cli.pass_words import evenness_sentences, toning_lines
from strikeline.cli.table import listening_table
from strikeline.reports.words import further_standouts

WORN = fake_listening()


@pytest.fixture(scope="module")
def judgement() -> PassJudgement:
    judged = judge_pass(WORN)
    assert judged is not None
    return judged


def test_areas_and_the_break_stand_below_the_table_as_they_would_be_typed(judgement: PassJudgement) -> None:
    text = listening_table(WORN, width=None, judgement=judgement)
    assert "Two things stand out; the surest: F3 to C5 (20 notes) are brighter" in text
    assert "Areas: F3-C5 brash (20 of 20 notes, " in text
    assert "Where the scale changes. The break, between A#2 and B2 (very sure): a listener hears no step there." in text
    assert "\u00a0" not in text
    assert "Toning list" in text
    assert "Toning list" not in listening_table(WORN, width=None)


def test_a_step_that_is_heard_is_told_with_its_measure(judgement: PassJudgement) -> None:
    heard = ChangeVerdict(change=BREAK, verdict=StepVerdict.HEARD, p_value=0.001, heard_in=(BRIGHTNESS,))
    told = evenness_sentences(replace(judgement.evenness, change_verdicts=(heard,)))
    assert told[-1].endswith("between A#2 and B2 (very sure): a listener hears a step in brightness.")
    together = evenness_sentences(replace(judgement.evenness, change_verdicts=(replace(heard, heard_in=()),)))
    assert together[-1].endswith(
        "a listener hears a step, all measures taken together; in which of them cannot be told."
    )


def test_everything_that_stands_out_is_printed_and_a_long_list_is_counted(judgement: PassJudgement) -> None:
    first, second = judgement.evenness.standouts[:2]
    told = evenness_sentences(judgement.evenness)[0]
    assert told.count("than their neighbours") + told.count("than its neighbours") == 2
    assert further_standouts([first, *([second] * 7)], most=4)[-1] == "Three others, on the sheet and in --json."


def test_an_even_piano_has_no_areas_and_too_few_notes_say_nothing() -> None:
    even, few = judge_pass(fake_listening(even=True)), judge_pass(fake_listening(only=range(40, 44)))
    assert even is not None
    assert few is not None
    assert "No area departs from the notes around it." in evenness_sentences(even.evenness)
    assert evenness_sentences(few.evenness) == ()


def test_the_toning_list_is_advice_in_order_with_the_cautions_before_it(judgement: PassJudgement) -> None:
    text = "\n".join(toning_lines(replace(judgement, toning=LIST), None))
    places = [
        text.index(part)
        for part in (
            "Advice, in the order of the work:",
            "Needling cannot be undone",
            "small steps",
            "wear a mask",
            "- D#4-G4: soften by 6 dB in all, 3 dB first (8 ± 2 dB brighter than the neighbours)",
            "- F#6: harden by 4 dB in all, 2 dB first (6 ± 2 dB duller than the neighbours; its inharmonicity",
            "- D3: leave the hammer (5 ± 2 dB duller than the neighbours; other partials are missing",
            "- G#1: listen again (fairly sure) (4 ± 2 dB brighter than the neighbours)",
        )
    ]
    assert places == sorted(places)


def test_where_nothing_is_to_be_worked_on_no_caution_is_given(judgement: PassJudgement) -> None:
    again = "\n".join(toning_lines(replace(judgement, toning=replace(LIST, items=LIST.items[2:])), None))
    assert "cannot be undone" not in again
    (empty, said) = toning_lines(replace(judgement, toning=NOTHING), None)
    assert empty == ""
    assert said.startswith("Toning list: Notes are brighter or duller")


def test_a_long_list_is_cut_with_a_word_and_no_line_leaves_the_terminal(judgement: PassJudgement) -> None:
    many = replace(LIST, items=tuple(item(Action.SOFTEN, range(key, key + 1), 8.0) for key in range(20, 40)))
    lines = toning_lines(replace(judgement, toning=many), 60)
    assert sum(": soften by" in line for line in lines) == 12
    assert lines[-1] == "- and 8 more: --json and the sheet have them"
    assert max(map(len, "\n".join(lines).splitlines())) <= 60


def test_advice_below_half_a_decibel_is_none(judgement: PassJudgement) -> None:
    little = replace(LIST.items[0], advised_db=0.3, first_step_db=0.15)
    text = "\n".join(toning_lines(replace(judgement, toning=replace(LIST, items=(little,))), None))
    assert "- D#4-G4: leave, less than 0.5 dB is sure" in text
