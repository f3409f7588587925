"""Steps where the scale changes, in plain words: where, in which measure, how far, and whether it is heard."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.reports.fake_sounds import fake_pass

from strikeline.acoustics.evenness import judge_evenness
from strikeline.acoustics.evenness_quantities import BRIGHTNESS, INHARMONICITY, LEVEL
from strikeline.acoustics.evenness_result import ChangeVerdict, Evenness, ScaleStep, StepVerdict
from strikeline.acoustics.evenness_scale import ChangeKind, ChangePoint
from strikeline.measured import Measured
from strikeline.reports.figures import NO_BREAK
from strikeline.reports.scale_section import change_sentence, heard_step_sentence, scale_section, step_words

BREAK = ChangePoint(after_key=26, kind=ChangeKind.BREAK, p_false=1e-6)
WINDING = ChangePoint(after_key=32, kind=ChangeKind.WINDING, p_false=0.0, is_given=True)


def step(change: ChangePoint, quantity: object, size: float, verdict: StepVerdict) -> ScaleStep:
    return ScaleStep(
        change=change,
        quantity=quantity,  # type: ignore[arg-type]  # one of the constants
        step=None if verdict is StepVerdict.CANNOT_TELL else Measured(size, 0.01 * abs(size) + 0.2),
        scatter=1.0,
        p_value=0.001,
        p_sheet=0.01,
        verdict=verdict,
    )


@pytest.fixture(scope="module")
def evenness() -> Evenness:
    whole = judge_evenness(fake_pass())
    return replace(
        whole,
        change_points=(BREAK, WINDING),
        steps=(
            step(BREAK, BRIGHTNESS, -2.04, StepVerdict.HEARD),
            step(BREAK, INHARMONICITY, 66.0, StepVerdict.MEASURED),
            step(BREAK, LEVEL, 0.3, StepVerdict.NONE),
            step(WINDING, BRIGHTNESS, 0.5, StepVerdict.TOO_SMALL),
            step(WINDING, LEVEL, 0.0, StepVerdict.CANNOT_TELL),
        ),
        change_verdicts=(
            ChangeVerdict(change=BREAK, verdict=StepVerdict.HEARD, p_value=0.001, heard_in=(BRIGHTNESS,)),
            ChangeVerdict(change=WINDING, verdict=StepVerdict.TOO_SMALL, p_value=0.01, heard_in=()),
        ),
    )


def plain(text: str | None) -> str:
    return (text or "").replace(NO_BREAK, " ")


def test_each_change_is_told_with_its_place_and_whether_it_is_heard(evenness: Evenness) -> None:
    heard, small = (change_sentence(one) for one in evenness.change_verdicts)
    assert heard == "The break, between A♯2 and B2 (very sure): a listener hears a step in brightness."
    assert small.startswith("The end of the wound strings, between E3 and F3 (known beforehand): the tone steps, but")


def test_the_first_page_names_the_step_that_is_heard_and_no_other(evenness: Evenness) -> None:
    said = plain(heard_step_sentence(evenness))
    assert said == "At the break, between A♯2 and B2, the tone steps: brightness down 2.0 ± 0.4 semitones."
    assert heard_step_sentence(replace(evenness, change_verdicts=evenness.change_verdicts[1:])) is None


def test_measures_that_step_are_rows_and_the_others_a_sentence(evenness: Evenness) -> None:
    section = scale_section(evenness)
    assert section is not None
    (table,) = section.tables
    assert [(row[0], row[1]) for row in table.rows] == [
        ("A♯2 and B2", "brightness"),
        ("A♯2 and B2", "inharmonicity"),
        ("E3 and F3", "brightness"),
    ]
    assert section.after == (
        "Between A♯2 and B2: no step beyond scatter in level.",
        "Between E3 and F3: not told: level.",
    )


def test_a_piano_without_a_change_of_scale_has_no_section(evenness: Evenness) -> None:
    assert scale_section(replace(evenness, change_points=(), steps=(), change_verdicts=())) is None


def test_a_step_is_told_with_its_direction_and_its_error() -> None:
    assert plain(step_words(step(BREAK, INHARMONICITY, 66.0, StepVerdict.MEASURED))) == "up 66 ± 2 %"
    assert step_words(step(BREAK, LEVEL, 0.0, StepVerdict.CANNOT_TELL)) == "–"


def test_a_change_without_a_step_says_that_none_is_heard() -> None:
    none = ChangeVerdict(change=BREAK, verdict=StepVerdict.NONE, p_value=0.4, heard_in=())
    assert "a listener hears no step there" in change_sentence(none)
    untold = ChangeVerdict(change=BREAK, verdict=StepVerdict.CANNOT_TELL, p_value=None, heard_in=())
    assert "cannot be told" in change_sentence(untold)
