"""``strikeline readings``: a table of bench readings in, what is within tolerance out."""

from __future__ import annotations

from pathlib import Path
from typing import Final

import click

from strikeline.cli.outputs import keep_inputs

ACTIONS: Final = ("upright_under_damper", "upright_over_damper", "grand")
"""Kinds of action, as the catalogue names them."""
ACTION_NAMES: Final = {name.replace("_", "-"): name for name in ACTIONS} | {"upright": "upright_under_damper"}


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
    "--figure",
    "figure_texts",
    multiple=True,
    metavar="NAME=VALUE",
    help="This piano's own figure, such as 'blow=45mm' from its maker's leaflet. May be given several times.",
)
@click.option("--american", is_flag=True, help="American names, such as let-off, in place of British ones.")
@click.option(
    "--json",
    "json_path",
    type=click.Path(path_type=Path, allow_dash=True),
    metavar="OUT",
    help="Write the whole result as JSON to OUT; - writes it to standard output instead of the table.",
)
def readings(
    file: Path, action_name: str, figure_texts: tuple[str, ...], american: bool, json_path: Path | None
) -> int:
    """Check the readings in FILE, a table with a line of headings, against what each should be.

    \b
    One reading to a line:            One note to a line:
      note,quantity,value               note;blow;set-off;key dip
      A4,blow,46.5                      A4;46,5;3;10,2
      C5,set-off,1/8 in                 C5;47;2,5;10,0

    Separators, decimal commas and units are read as people write them. - reads the table from standard input.
    """  # noqa: D301  # \b is click's own mark for a paragraph that keeps its lines
    from strikeline.cli.readings_table import readings_table
    from strikeline.cli.table import terminal_width
    from strikeline.media.text_file import read_text
    from strikeline.reports.json_text import json_text
    from strikeline.workshop.readings import check_table

    keep_inputs(json_path, file)
    check = check_table(read_text(file), action=ACTION_NAMES[action_name], figures=figure_texts)
    text = json_text(check.to_json()) + "\n"
    if json_path is not None and str(json_path) == "-":
        click.echo(text, nl=False)
        return 0
    click.echo(readings_table(check, usage="us" if american else "gb", width=terminal_width()))
    if json_path is not None:
        from strikeline.media.atomic import write_atomically

        write_atomically(json_path, text.encode())
        click.echo(f"Written: {json_path}", err=True)
    return 0
