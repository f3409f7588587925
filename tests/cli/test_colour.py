"""``strikeline colour``, ``gloss`` and ``finish`` on the command line."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
import skimage
from PIL import Image
from tests.cli.conftest import Answer
from tests.photographs import Shot, wood
from tests.unit.workshop.test_colour import CHART, GREY, PATCHES, card_table, picture

Run = Callable[..., Answer]
SHIPPED = Path(skimage.__file__).parent / "data"
MARKS = [argument for patch in PATCHES for argument in ("--patch", patch)]
EXAMPLES = Path(__file__).parents[2] / "docs" / "examples"


@pytest.fixture(scope="module")
def photo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("photo") / "lid.jpg"
    Image.fromarray(picture(Shot(illuminant="A", balance=(1.1, 1.0, 0.85))).codes).save(path, quality=92)
    return path


def test_a_grey_card_tells_what_is_faded(strikeline: Run, photo: Path, tmp_path: Path) -> None:
    out = tmp_path / "colour.json"
    answer = strikeline("colour", photo, "--card", GREY, *MARKS, "--json", out)
    assert answer.code == 0, answer.err
    assert "lid.jpg: corrected by greys" in answer.out
    assert "faded against hidden:" in answer.out
    assert "lighter" in answer.out
    assert "above what half of observers accept" in answer.out
    assert "It does not pass for a repair" in answer.out
    assert json.loads(out.read_text(encoding="utf-8"))["schema"] == "strikeline.colour/1"


def test_before_and_after_by_a_chart(strikeline: Run, photo: Path, tmp_path: Path) -> None:
    card, after = tmp_path / "card.csv", tmp_path / "after.png"
    card.write_text(card_table(), encoding="utf-8")
    shot = Shot(illuminant="A", balance=(1.1, 1.0, 0.85))
    Image.fromarray(picture(shot, (wood(0.2), wood(0.2), wood(0.205)), seed=3).codes).save(after)
    options = ["--card-values", card, "--card-white", "D65", "--against", after, "--same-setup"]
    answer = strikeline("colour", photo, "--card", CHART, *MARKS, *options)
    assert answer.code == 0, answer.err
    assert "corrected by a chart of colours" in answer.out
    assert "faded after against faded before" in answer.out
    assert "darker" in answer.out


def test_marks_may_come_from_a_table(strikeline: Run, photo: Path, tmp_path: Path) -> None:
    rows = ["what;name;x0;y0;x1;y1"]
    for what, text in (("card", GREY), ("patch", PATCHES[0]), ("patch", PATCHES[1])):
        name, _, numbers = text.partition("@")
        rows.append(";".join([what, name, *numbers.split(",")]))
    table = tmp_path / "places.csv"
    table.write_text("\n".join(rows), encoding="utf-8")
    answer = strikeline("colour", photo, "--places", table, "--json", "-")
    written = strikeline("colour", photo, "--card", GREY, *MARKS[:4], "--json", "-")
    assert answer.code == 0, answer.err
    assert answer.out == written.out
    table.write_text("what,name,x0,y0,x1,y1\nlid,a,0,0,1,1\npatch,a,0,0,40,1", encoding="utf-8")
    wrong = strikeline("colour", photo, "--places", table)
    assert wrong.code == 2
    assert "line 2, what" in wrong.err
    assert "line 3, x1" in wrong.err


@pytest.mark.parametrize("name", ["astronaut.png", "chelsea.png", "coffee.png", "retina.jpg", "rocket.jpg"])
def test_real_photographs_without_a_card_are_refused_politely(strikeline: Run, name: str) -> None:
    answer = strikeline("colour", SHIPPED / name, "--patch", "a@0.2,0.2,0.4,0.4", "--patch", "b@0.5,0.5,0.7,0.7")
    assert answer.code == 0, answer.err
    assert "cannot tell any colour. there is no card" in answer.out
    assert "CIEDE2000" not in answer.out


def test_what_does_not_belong_together_is_told(strikeline: Run, photo: Path) -> None:
    answer = strikeline("colour", photo, *MARKS, "--same-setup")
    assert answer.code == 2
    assert "give --against" in answer.err
    assert strikeline("colour", photo).code == 2


def test_gloss_is_compared_in_sentences(strikeline: Run) -> None:
    answer = strikeline("gloss", EXAMPLES / "gloss.csv")
    assert answer.code == 0, answer.err
    assert "lid by the window against lid under the desk at 20°" in answer.out
    assert "duller: an eye sees it" in answer.out
    assert "on polished veneer" in answer.out


def test_a_finish_is_judged_and_planned(strikeline: Run) -> None:
    answer = strikeline(
        "finish", "--sees", "crackle", "--sees", "worn-through=4%", "--finish", "shellac", "--area", "1400mm x 600mm",
        "--start", "2026-12-01", "--temperature", "64F", "--rh", "55 %",
    )  # fmt: skip
    assert answer.code == 0, answer.err
    assert answer.out.startswith("Advised: reamalgamate. Mend in its place: worn through.")
    assert "2026-12-01" in answer.out
    assert "No flame, spark" in answer.out
    assert "waits from memory" in answer.out


def test_an_untested_finish_is_tested_first(strikeline: Run) -> None:
    answer = strikeline("finish", "--sees", "crackle")
    assert answer.code == 0, answer.err
    assert answer.out.startswith("Cannot tell before the finish is tested.")
    assert "one drop of methylated spirit" in answer.out


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["--sees", "ghosts"], "expected one of dirt"),
        (["--treatment", "strip", "--area", "1m2", "--start", "soon"], "a day such as"),
        (["--treatment", "strip", "--area", "1m2", "--temperature", "5C"], "10 to 32 °C"),
        (["--treatment", "strip", "--area", "1m2", "--cut", "12"], "6 lb"),
        (["--treatment", "strip", "--area", "1m2", "--grams-per-litre", "0"], "above 0"),
        (["--treatment", "strip", "--area", "1m2", "--waste", "much"], "waste"),
    ],
)
def test_mistakes_are_told(strikeline: Run, arguments: list[str], message: str) -> None:
    answer = strikeline("finish", *arguments)
    assert answer.code == 2
    assert message in answer.err


def test_pictures_and_colours_load_only_for_their_command() -> None:
    program = (
        "import sys, strikeline.workshop.listening, strikeline.bootstrap.hearing\n"
        "heavy = {'PIL', 'skimage', 'colour'} & sys.modules.keys()\n"
        "sys.exit(f'loaded: {sorted(heavy)}' if heavy else 0)"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
