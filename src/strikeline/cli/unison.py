"""``strikeline unison``: one note with all its strings, and its strings one by one."""

from __future__ import annotations

from pathlib import Path

import click

from strikeline.cli.options import read_hz, read_note
from strikeline.cli.outputs import keep_inputs
from strikeline.cli.progress import progress_bar
from strikeline.cli.results import json_option

_FILE = click.Path(readable=False, path_type=Path)


@click.command()
@click.argument("together", type=_FILE)
@click.option("--left", type=_FILE, metavar="FILE", help="The left string alone, the others muted.")
@click.option("--middle", type=_FILE, metavar="FILE", help="The middle string of three alone.")
@click.option("--right", type=_FILE, metavar="FILE", help="The right string alone.")
@click.option(
    "--strings",
    "n_strings",
    type=click.IntRange(2, 3),
    metavar="N",
    help="Strings of the note, if not all of them were recorded alone.",
)
@click.option("--note", "note_name", metavar="NOTE", help="Which note it is, such as A4. Found from the sound.")
@click.option(
    "--a4", "a4_hz", type=read_hz, default=440.0, show_default=True, metavar="HZ", help="Pitch of A4 that names go by."
)
@json_option
def unison(
    together: Path,
    left: Path | None,
    middle: Path | None,
    right: Path | None,
    n_strings: int | None,
    note_name: str | None,
    a4_hz: float,
    json_path: Path | None,
) -> int:
    """Tell the strings of one note apart, from TOGETHER and from each string alone.

    TOGETHER is the note struck with all its strings free. Then mute all but one string with felt or wedges, strike the
    note again, and record each string so; give these files as --left, --middle and --right.

    Prints each string with its pitch against the others, strings that beat with themselves, whether the recording of
    all strings tells the same by itself, and how strongly the bridge couples the strings.
    """
    from strikeline import bootstrap

    keep_inputs(json_path, together, left, middle, right)
    with progress_bar(f"Listening to {together.name or together} and its strings") as progress:
        heard = bootstrap.hear_strings(
            together,
            left=left,
            middle=middle,
            right=right,
            n_strings=n_strings,
            note=read_note(note_name),
            a4_hz=a4_hz,
            progress=progress,
        )
    if json_path is not None and str(json_path) == "-":
        click.echo(bootstrap.strings_text(heard), nl=False)
        return 0
    from strikeline.cli.table import terminal_width
    from strikeline.cli.unison_table import unison_table

    click.echo(unison_table(heard, width=terminal_width()))
    if json_path is not None:
        bootstrap.write_strings(heard, json_path)
        click.echo(f"Written: {json_path}", err=True)
    return 0
