"""Keys from tables: evenness, papers, bushings, compass."""

import numpy as np
import pytest
from tests.closeness import assert_close

from strikeline.domain.catalogue import Place
from strikeline.errors import InputError
from strikeline.keyboard import SHORT_COMPASS, is_white, key_name
from strikeline.workshop.bushings import BushingWork
from strikeline.workshop.keys import Arms, KeysAdvice, judge_keys, read_arms, read_papers

ARMS = Arms(front_mm=220.0, back_mm=200.0, capstan_mm=110.0)
PAPERS = (0.08, 0.13, 0.25, 0.5)


def judged(text: str | None, *, goal: str = "run", arms: Arms | None = ARMS, n_keys: int | None = None) -> KeysAdvice:
    return judge_keys(
        text,
        action="upright_under_damper",
        goal=goal,
        arms=arms,
        papers_mm=PAPERS,
        n_keys=n_keys,
        n_naturals=None,
        lowest_letter=None,
    )


def level_table(away: dict[int, float], dip: float = 10.25) -> str:
    rows = [f"{key_name(key)};{away.get(key, 0.0):.3f};{dip}" for key in SHORT_COMPASS if is_white(key)]
    return "\n".join(["note;key level;key dip", *rows])


def test_a_sunken_key_gets_papers_that_bring_it_into_the_run_and_front_papers_for_the_dip_it_gains() -> None:
    level, dip = judged(level_table({40: -1.0})).runs
    low = next(one for one in level.keys if one.key == 40)
    assert [one.key for one in level.keys if one.place is not Place.WITHIN] == [40]
    assert low.papers_are_added
    assert low.left_mm is not None
    raised = sum(low.papers_mm) * (1 + 220 / 200)
    assert_close(low.away.value + raised, low.left_mm, rtol=0, atol=1e-9, why="what is left follows from the papers")
    assert abs(low.left_mm) <= 0.08 * (1 + 220 / 200) / 2 + 1e-9
    assert low.capstan_rise_mm == pytest.approx(sum(low.papers_mm) * (1 - 110 / 200))
    deeper = next(one for one in dip.keys if one.key == 40)
    assert deeper.place is Place.HIGH, "the dip was right and is too deep once the key stands higher"
    assert_close(deeper.away.value, raised, rtol=0, atol=0.02, why="the run through the dips is flat to rounding")
    assert deeper.papers_are_added


def test_a_bend_of_the_whole_keyboard_is_told_and_no_key_in_it_is_papered() -> None:
    keys = np.array([key for key in SHORT_COMPASS if is_white(key)])
    bend = {int(key): -0.6 * (1 - ((key - 43) / 42) ** 2) for key in keys}
    level, _dip = judged(level_table(bend)).runs
    assert level.sag is not None
    assert_close(level.sag.value, 0.6, rtol=0, atol=0.01, why="rounding of the table to 0.001 mm")
    assert not [one for one in level.keys if one.papers_mm]
    to_figure = judged(level_table(bend), goal="figure").runs[0]
    assert [one for one in to_figure.keys if one.papers_mm], "towards the straightedge the middle is papered"


def test_depressed_sharps_rise_with_front_papers_and_sink_against_raised_naturals() -> None:
    sharp = "note,quantity,value\n" + "\n".join(f"{note},sharp dip,0.9" for note in ("C#4", "D#4"))
    (run,) = judged(sharp).runs
    assert [one.place for one in run.keys] == [Place.LOW, Place.LOW]
    assert all(one.papers_are_added for one in run.keys)
    naturals = "\n".join(
        line.replace(";", ",key level,", 1).partition(";")[0] for line in level_table({}).split("\n")[1:]
    )
    text = f"note,quantity,value\n{naturals}\nC#4,sharp dip,2\n".replace("C4,key level,0.000", "C4,key level,-1.5")
    *_rest, sharps = judged(text).runs
    beside = next(one for one in sharps.keys if one.key == 41)
    assert_close(beside.away.value, -0.75, rtol=0, atol=0.1, why="half of what C4 rises, to a paper's half thickness")


def test_without_arms_no_paper_at_the_balance_rail_is_told() -> None:
    level = judged(level_table({40: -1.0}), arms=None).runs[0]
    assert next(one for one in level.keys if one.key == 40).place is Place.LOW
    assert not any(one.papers_mm for one in level.keys)


def test_the_dip_of_a_key_that_must_be_levelled_waits_where_the_arms_are_not_known() -> None:
    table = level_table({40: -1.0}).replace("C4;-1.000;10.25", "C4;-1.000;9.25")
    dip = next(run for run in judged(table, arms=None).runs if run.quantity == "key_dip")
    waiting = [one.key for one in dip.keys if one.waits_for_level]
    assert waiting == [40]
    assert not any(one.papers_mm for one in dip.keys)
    known = next(run for run in judged(table).runs if run.quantity == "key_dip")
    assert not any(one.waits_for_level for one in known.keys)


@pytest.mark.parametrize(
    ("plays", "work"),
    [
        (["0.6"] * 12 + ["0.1"] * 4, BushingWork.SET),
        (["0.1"] * 40, BushingWork.NONE),
        (["0.6"] + ["0.1"] * 39, BushingWork.SINGLE),
        (["0.6", "0.1", "0.1"], BushingWork.MORE),
    ],
)
def test_bushings_are_renewed_as_a_set_only_where_the_sample_is_sure_of_it(plays: list[str], work: BushingWork) -> None:
    rows = [f"{key_name(key)},{play},front" for key, play in enumerate(plays, start=20)]
    (advice,) = judged("note,key bushing play,place\n" + "\n".join(rows), n_keys=85).bushings
    assert advice.work is work
    assert advice.to_rebush[0] <= advice.to_rebush[1] <= advice.to_rebush[2] <= 85
    assert advice.hours[0] <= advice.hours[1] <= advice.hours[2]


def test_two_whole_rails_take_the_four_hours_of_the_source() -> None:
    rows = [f"{key_name(key)},0.8,{rail}" for key in range(1, 89) for rail in ("front", "balance")]
    rails = judged("note,key bushing play,place\n" + "\n".join(rows)).bushings
    assert [one.rail for one in rails] == ["balance", "front"]
    assert sum(one.hours[1] for one in rails) == pytest.approx(4.0)


def test_moth_counts_as_worn_whatever_the_play() -> None:
    (advice,) = judged("note,key bushing play,condition\nC4,0.1,balance; moth holes\n").bushings
    assert advice.worn_keys == (40,)
    assert advice.is_eaten


def test_keys_counted_tell_the_compass() -> None:
    assert judged(None, n_keys=85).usual_compass == "A0-A7"
    assert judged(None, n_keys=73).usual_compass is None
    with pytest.raises(InputError, match="counts that go together"):
        judge_keys(
            None,
            action="grand",
            goal="run",
            arms=None,
            papers_mm=PAPERS,
            n_keys=88,
            n_naturals=40,
            lowest_letter=None,
        )
    with pytest.raises(InputError, match="no reading of a key"):
        judged("note,blow\nC4,46\n")


def test_arms_and_papers_are_read_as_written() -> None:
    assert read_arms("22 cm", "190mm", None) == Arms(front_mm=220.0, back_mm=190.0, capstan_mm=None)
    assert read_arms(None, None, None) is None
    assert read_papers("0.08, .25") == (0.08, 0.25)
    with pytest.raises(InputError, match="both --front-arm and --back-arm"):
        read_arms("22 cm", None, None)


def test_bushings_that_cannot_be_told_widen_the_count() -> None:
    rows = "".join(f"{key_name(key)},{play},front\n" for key, play in enumerate(["0.1"] * 12 + ["0.25"] * 8, start=20))
    (advice,) = judged("note,key bushing play,place\n" + rows, n_keys=88).bushings
    assert len(advice.unsure_keys) == 8
    # Were all of the eight worn, 40 % of the set would be.
    assert advice.to_rebush[0] == 0.0
    assert advice.to_rebush[2] > 0.4 * 88
