"""``strikeline pitch``: a listening in, what it takes to bring that piano to pitch out."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from strikeline.cli.options import read_hz, read_note
from strikeline.cli.results import check_outputs, give, json_option

if TYPE_CHECKING:
    from strikeline.reports.keyboard_chart import KeyboardChart
    from strikeline.workshop.pitch_result import Pitch

_FILE = click.Path(readable=False, path_type=Path)


@click.command()
@click.argument("listening", type=_FILE)
@click.option("--a4", "a4_hz", type=read_hz, default=440.0, show_default=True, metavar="HZ", help="Where A4 is to be.")
@click.option("--year", type=click.IntRange(1700, 2100), help="When the strings were put on, or the piano was built.")
@click.option(
    "--rust",
    "rust_grade",
    type=click.IntRange(0, 4),
    help="Rust of the strings: 0 bright, 1 dull, 2 a film that wipes off, 3 pitted where they bend, 4 scaling.",
)
@click.option("--broken", "n_broken", type=click.IntRange(0), help="Strings that broke or were spliced before.")
@click.option(
    "--scale", "scale_path", type=_FILE, metavar="FILE", help="Lengths and diameters, as for strikeline scale."
)
@click.option(
    "--order",
    type=click.Choice(["up", "down"]),
    help="Whether notes are tuned from the bass up, as taken when left out, or from the treble down.",
)
@click.option(
    "--after", type=_FILE, metavar="PASS", help="A listening to the piano after the first pass: fits how it gives."
)
@click.option(
    "--plan",
    type=_FILE,
    metavar="PLAN",
    help="The plan of that first pass, from --json: what it was made with need not be said again. Without it, the plan "
    "printed by default is taken as followed.",
)
@click.option("--break", "break_name", metavar="NOTE", help="Highest note on the bass bridge. Found from the pass.")
@click.option(
    "--last-wound", "wound_name", metavar="NOTE", help="Highest note with wound strings. Found from the pass."
)
@click.option("--notes", "with_notes", is_flag=True, help="Print every note of the next pass.")
@click.option(
    "--chart",
    "chart_path",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Draw where the notes stand and where to put them; FILE ends in .svg, .png or .html.",
)
@json_option
def pitch(
    *,
    listening: Path,
    a4_hz: float,
    year: int | None,
    rust_grade: int | None,
    n_broken: int | None,
    scale_path: Path | None,
    order: str | None,
    after: Path | None,
    plan: Path | None,
    break_name: str | None,
    wound_name: str | None,
    with_notes: bool,
    chart_path: Path | None,
    json_path: Path | None,
) -> int:
    """Say what it takes to bring the piano heard in LISTENING to pitch, and whether to.

    LISTENING is what strikeline listen --json wrote of a pass. Prints how far each section is off, what going to 440,
    to 435 and staying would each cost, and the next pass by section. Tune the first pass, record another pass up the
    keyboard, and give it as --after: then the second pass goes by how this piano gives, not by common practice.
    """
    from strikeline.bootstrap import pitch as wired
    from strikeline.cli.pitch_table import pitch_table
    from strikeline.cli.table import terminal_width
    from strikeline.errors import InputError
    from strikeline.media.text_file import read_text
    from strikeline.workshop.pitch_job import WireStory

    if plan is not None and after is None:
        raise InputError(
            "--plan says how the first pass was set; it goes with --after, a listening after it", name="plan"
        )
    check_outputs(json_path, chart_path, listening, after, plan, scale_path)
    scale_table = None if scale_path is None else read_text(scale_path)
    result = wired.plan_pitch(
        listening,
        a4_hz=a4_hz,
        wire=WireStory(year=year, rust_grade=rust_grade, n_broken=n_broken, scale_table=scale_table),
        order=order,
        after=after,
        plan=plan,
        break_after=read_note(break_name),
        last_wound_key=read_note(wound_name),
    )
    return give(
        result.to_json(),
        table=lambda: pitch_table(result, width=terminal_width(), with_notes=with_notes),
        json_path=json_path,
        chart_path=chart_path,
        charts=lambda: _charts(result),
        title=f"The next pass to A4 = {result.a4_hz:g} Hz",
    )


def _charts(result: Pitch) -> Sequence[KeyboardChart]:
    from strikeline.reports.pitch_charts import pitch_charts  # loads what draws

    return pitch_charts(result)
