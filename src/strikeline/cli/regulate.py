"""``strikeline regulate``: readings of an action in, what they mean together and what to turn on each note out."""

from __future__ import annotations

from pathlib import Path

import click

from strikeline.cli.bench_options import ACTION_NAMES, action_option, papers_option, table_argument
from strikeline.cli.results import check_outputs, give, json_option


@click.command()
@table_argument
@action_option
@click.option(
    "--float",
    "floats",
    type=click.Choice(["blow", "dip", "aftertouch", "shared"]),
    default="shared",
    show_default=True,
    help="Blow, dip and aftertouch are tied together: this one follows from the others; shared lets all three give.",
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
@papers_option
@json_option
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
    from strikeline.media.text_file import read_text
    from strikeline.workshop.regulation import advise

    check_outputs(json_path, None, file)
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
    return give(advice.to_json(), table=lambda: regulation_table(advice, width=terminal_width()), json_path=json_path)
