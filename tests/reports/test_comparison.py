"""The sheet of a comparison as a reader gets it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from tests.closeness import assert_close
from tests.passes import InventedPiano, play_pass, tilted
from tests.reports.test_sheet import HOSTILE, Outline, text_of

from strikeline.acoustics.comparison import compare
from strikeline.acoustics.comparison_result import Comparison, WordChange
from strikeline.measured import Measured
from strikeline.reports.comparison import comparison_content, render_sheet_html, render_sheet_pdf
from strikeline.reports.comparison_words import how_much, verdict_sentences
from strikeline.reports.content import SheetContent

MADE_ON = date(2026, 11, 25)


@pytest.fixture(scope="module")
def changed() -> Comparison:
    worked_on = InventedPiano(
        toned=dict.fromkeys(range(45, 60), -2.0), all_cents=12.0, spread_cents={64: 6.0}, cents={30: 5.0}
    )
    return compare(
        play_pass(InventedPiano(), hand=1),
        play_pass(worked_on, hand=2, colour_db=tilted(1.0)),
        before_again=[play_pass(InventedPiano(), hand=3)],
    )


@pytest.fixture(scope="module")
def unchanged() -> Comparison:
    return compare(play_pass(InventedPiano(), hand=1), play_pass(InventedPiano(), hand=2, gain_db=-4.0))


@pytest.fixture(scope="module")
def content(changed: Comparison) -> SheetContent:
    return comparison_content(changed, title="Invented grand", made_on=MADE_ON)


def test_the_verdict_names_the_whole_first_and_then_what_stands_out(changed: Comparison) -> None:
    first = verdict_sentences(changed)[0].replace("\u00a0", " ")
    assert first.startswith("Changed, in the 56 keys heard in both recordings: pitch as a whole +12.0 ± ")
    assert "D3 sharper by 5." in first
    assert "C6 wider in the unison from 0." in first
    assert "weaker in the upper partials by 2" in first or "weaker in the upper partials by 1" in first


def test_no_change_is_said_plainly_with_what_it_was_judged_by(unchanged: Comparison) -> None:
    said = verdict_sentences(unchanged)
    assert said[0] == "No change beyond repeatability in the 56 keys heard in both recordings."
    assert "Repeatability was not measured" in said[-1]


def test_of_plucked_strings_no_pitch_is_said_to_have_been_judged(unchanged: Comparison) -> None:
    said = verdict_sentences(replace(unchanged, quantities=()))
    assert said[-1] == "Compared: the verdicts in words alone, note by note."


def test_the_page_is_whole_and_in_order(content: SheetContent) -> None:
    page = render_sheet_html(content)
    outline = Outline(page)
    assert outline.headings[0] == 1
    assert outline.headings.count(1) == 1
    text = " ".join(outline.text)
    for heading in ("In short", "What changed", "Over the keyboard", "What all notes share", "All notes"):
        assert heading in text
    pictures = [one for one in outline.all("svg") if one.get("role") == "img"]
    assert len(pictures) == len(content.charts)
    assert len(pictures) >= 6
    assert all(len((one["aria-label"] or "").split()) >= 8 for one in pictures)
    identifiers = [attributes["id"] for _, attributes in outline.tags if attributes.get("id")]
    assert len(identifiers) == len(set(identifiers))
    assert "http://" not in page.replace("http://www.w3.org", "")


def test_the_sheet_tells_what_each_recording_was_warned_of_and_how_much_quieter_the_second_is() -> None:
    warned = play_pass(InventedPiano(), hand=1, place=1, gain_db=-12.0, warnings=["hum: 50 Hz and its harmonics"])
    comparison = compare(play_pass(InventedPiano(), hand=1), warned)
    page = render_sheet_html(comparison_content(comparison, title=None, made_on=MADE_ON))
    text = " ".join(" ".join(Outline(page).text).replace("\u00a0", " ").split())
    assert "After: hum: 50 Hz and its harmonics." in text.partition("About the two recordings")[2]
    assert "The second is 12 dB quieter throughout: taken off." in text


def test_every_chart_draws_the_band_of_what_repeats_and_lists_before_and_after(content: SheetContent) -> None:
    for chart in content.charts:
        assert chart.svg is not None
        assert chart.svg.count("mark-area") >= 1, chart.title
        assert chart.table.head[1].startswith("Before")
        assert chart.table.head[2].startswith("After")


def test_the_axis_of_changes_holds_the_band_of_what_repeats_though_all_notes_lie_near_0(unchanged: Comparison) -> None:
    from strikeline.reports.comparison_charts import _keyboard_chart

    one = next(one for one in unchanged.quantities if len(one.notes) > 10)
    small = replace(
        one, notes=tuple(replace(n, change=Measured(0.01 * n.change.value, n.change.se)) for n in one.notes)
    )
    low, high = _keyboard_chart(small, unchanged).at_least
    middle_se = float(np.median([note.change.se for note in small.notes]))
    assert_close([low, high], [-1.96 * middle_se, 1.96 * middle_se], rtol=1e-3, atol=0, why="95 of 100 normal values")
    assert max(abs(note.change.value) for note in small.notes) < high


def test_the_print_opens_and_carries_the_numbers(content: SheetContent, tmp_path: Path) -> None:
    pdf = render_sheet_pdf(content)
    text = text_of(pdf, tmp_path)
    assert "Before and after: two recordings of one piano compared" in text
    assert "weaker in the upper partials than before" in text
    assert b"comparison.json" in pdf or "comparison.json" in text
    assert render_sheet_pdf(content) == pdf


def test_a_hostile_title_stays_text(changed: Comparison, tmp_path: Path) -> None:
    content = comparison_content(changed, title=HOSTILE, made_on=MADE_ON)
    assert "<script>" not in render_sheet_html(content).replace("</script>", "")
    assert "alert" in text_of(render_sheet_pdf(content), tmp_path)


def test_recordings_that_cannot_be_compared_make_a_sheet_that_says_why(tmp_path: Path) -> None:
    comparison = compare(play_pass(InventedPiano(seed=1), hand=1), play_pass(InventedPiano(seed=2), hand=1))
    content = comparison_content(comparison, title=None, made_on=MADE_ON)
    assert content.in_short[0].startswith("These two recordings cannot be compared: not the same strings")
    assert [chart.title for chart in content.charts] == ["inharmonicity"]
    assert "Nothing else is compared" in text_of(render_sheet_pdf(content), tmp_path)


def test_nothing_in_common_makes_a_sheet_too() -> None:
    low, high = (play_pass(InventedPiano(keys=keys), hand=1) for keys in (range(20, 22), range(60, 62)))
    content = comparison_content(compare(low, high), title="x", made_on=MADE_ON)
    assert content.charts == ()
    assert "A♯2" not in render_sheet_html(content)
    assert any(row[1] == "E2, F2" for row in content.untold.rows)


def test_verdicts_that_read_otherwise_are_told_apart_by_how_certain_they_are(unchanged: Comparison) -> None:
    sure = WordChange(key=41, what="damper", before="leaks", after="stops", is_certain=True)
    unsure = WordChange(key=52, what="unison", before="locked", after="uneven", is_certain=False)
    silent = WordChange(key=80, what="damper", before="no damper", after="stops", is_certain=True)
    beating = WordChange(key=82, what="unison", before="locked", after="beating", is_certain=True)
    words = (sure, unsure, silent, beating)
    content = comparison_content(replace(unchanged, words=words), title="x", made_on=MADE_ON)
    section = content.section("changed")
    assert section.tables[0].rows == (
        ("C♯4", "damper leaks, then stops", "", "sure"),
        ("E7", "damper rings on, then stops", "", "sure"),
        ("F♯7", "unison no beat, then beating", "", "sure"),
    ), "in the words of the other sheets, not those of the JSON"
    assert section.after == ("The unison of C5 reads otherwise than before, as it may when nothing was changed.",)


def test_sizes_have_as_many_digits_as_their_errors_deserve(changed: Comparison) -> None:
    sizes = {change.quantity.name: how_much(change).replace("\u00a0", " ") for change in changed.changes}
    assert sizes["pitch"].endswith(" cents")
    assert " ± " in sizes["pitch"]
    assert " to " in sizes["unison width"]
