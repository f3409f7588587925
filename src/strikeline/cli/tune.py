"""``strikeline tune``: a listening in, tuning targets for that piano out."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from strikeline.cli.options import read_hz, read_note
from strikeline.cli.results import check_outputs, give, json_option

if TYPE_CHECKING:
    from strikeline.reports.keyboard_chart import KeyboardChart
    from strikeline.workshop.tuning import Tuning

TEMPERAMENT_NAMES: Final = (
    "equal",
    "werckmeister-3",
    "kirnberger-3",
    "vallotti",
    "young-1",
    "young-2",
    "meantone",
)
LEANING_NAMES: Final = ("close", "middle", "wide")


@click.command()
@click.argument("listening", type=click.Path(readable=False, path_type=Path))
@click.option(
    "--temperament",
    type=click.Choice(TEMPERAMENT_NAMES),
    default="equal",
    show_default=True,
    help="How to divide the octave.",
)
@click.option("--a4", "a4_hz", type=read_hz, default=440.0, show_default=True, metavar="HZ", help="Where A4 is to be.")
@click.option(
    "--leaning",
    type=click.Choice(LEANING_NAMES),
    default="middle",
    show_default=True,
    help="How far to stretch: which octaves are to be clean, and where. The table shows what each costs.",
)
@click.option("--break", "break_name", metavar="NOTE", help="Highest note on the bass bridge. Found from the pass.")
@click.option(
    "--last-wound", "wound_name", metavar="NOTE", help="Highest note with wound strings. Found from the pass."
)
@click.option(
    "--chart",
    "chart_path",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Draw the targets, B and the octaves; FILE ends in .svg, .png or .html.",
)
@json_option
def tune(
    listening: Path,
    temperament: str,
    a4_hz: float,
    leaning: str,
    break_name: str | None,
    wound_name: str | None,
    chart_path: Path | None,
    json_path: Path | None,
) -> int:
    """Say where each note of the piano heard in LISTENING is to be tuned.

    LISTENING is what strikeline listen --json wrote of a pass. The stretch follows from this piano's own inharmonicity;
    what there is to do stands first, then the table and what other leanings would make of the octaves, and the
    criterion last.
    """
    from strikeline.bootstrap import tuning as wired
    from strikeline.cli.table import terminal_width
    from strikeline.cli.tuning_table import tuning_table

    check_outputs(json_path, chart_path, listening)
    result = wired.tune(
        listening,
        temperament=temperament,
        a4_hz=a4_hz,
        leaning=leaning,
        break_after=read_note(break_name),
        last_wound_key=read_note(wound_name),
    )
    return give(
        result.to_json(),
        table=lambda: tuning_table(result, width=terminal_width()),
        json_path=json_path,
        chart_path=chart_path,
        charts=lambda: _charts(result),
        title=f"Tuning targets, A4 = {result.a4_hz:g} Hz",
    )


def _charts(result: Tuning) -> Sequence[KeyboardChart]:
    from strikeline.reports.tuning_charts import tuning_charts  # loads what draws

    return tuning_charts(result)
