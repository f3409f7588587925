"""``strikeline regulate``: readings of an action in, what they mean together and what to turn on each note out."""

from __future__ import annotations

from pathlib import Path

import click

from strikeline.cli.outputs import keep_inputs
from strikeline.cli.readings import ACTION_NAMES


@click.command()
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False, allow_dash=True))
@click.option(
    "--action",
    "action_name",
    type=click.Choice(sorted(ACTION_NAMES)),
    default="upright",
    show_default=True,
    help="Kind of action; 'upright' is one with its dampers below the hammers.",
)
@click.option(
    "--float",
    "floats",
    type=click.Choice(["blow", "dip", "aftertouch"]),
    default="dip",
    show_default=True,
    help="Blow, dip and aftertouch are tied together: this one follows from the other two.",
)
@click.option(
    "--want",
    "wanted",
    multiple=True,
    metavar="NAME=VALUE",
    help="What to regulate to, such as 'blow=45mm'; the usual figures hold for the rest. May be given several times.",
)
@click.option(
    "--capstan-pitch", required=True, metavar="LENGTH", help="How far a capstan rises for one turn: its thread's pitch."
)
@click.option(
    "--capstan-ratio",
    type=click.FloatRange(0.2, 1.0),
    default=0.5,
    show_default=True,
    help="Rise of the capstan over travel of the key front; the key lever is near 2 to 1.",
)
@click.option(
    "--set-off-per-turn",
    metavar="LENGTH",
    help="How far one turn of a set-off button moves set-off: turn one and measure. Without it no turns are given.",
)
@click.option(
    "--papers",
    default="0.08,0.13,0.25,0.5",
    show_default=True,
    metavar="LENGTHS",
    help="Washers and papers at hand, with commas between them.",
)
@click.option(
    "--json",
    "json_path",
    type=click.Path(path_type=Path, allow_dash=True),
    metavar="OUT",
    help="Write the whole result as JSON to OUT; - writes it to standard output instead of the table.",
)
def regulate(
    file: Path,
    action_name: str,
    floats: str,
    wanted: tuple[str, ...],
    capstan_pitch: str,
    capstan_ratio: float,
    set_off_per_turn: str | None,
    papers: str,
    json_path: Path | None,
) -> int:
    """Say what the readings in FILE mean together, and what to turn on each note.

    FILE is a table as for strikeline readings, with any of blow, set-off, key dip, lost motion, checking and
    aftertouch, and on two or three notes the hammer's rise for 6 mm of key. Measure before anything is moved.
    """
    from strikeline.cli.regulation_table import regulation_table
    from strikeline.cli.table import terminal_width
    from strikeline.media.atomic import write_atomically
    from strikeline.media.text_file import read_text
    from strikeline.reports.json_text import json_text
    from strikeline.workshop.regulation import advise

    keep_inputs(json_path, file)
    advice = advise(
        read_text(file),
        action=ACTION_NAMES[action_name],
        floats=floats,
        wanted=wanted,
        capstan_pitch=capstan_pitch,
        capstan_ratio=capstan_ratio,
        set_off_per_turn=set_off_per_turn,
        papers=[one for one in papers.split(",") if one.strip()],
    )
    text = json_text(advice.to_json()) + "\n"
    if json_path is not None and str(json_path) == "-":
        click.echo(text, nl=False)
        return 0
    click.echo(regulation_table(advice, width=terminal_width()))
    if json_path is not None:
        write_atomically(json_path, text.encode())
        click.echo(f"Written: {json_path}", err=True)
    return 0
