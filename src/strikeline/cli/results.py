"""What commands do with a result: JSON to standard output or a file, else a table; charts on request."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from strikeline.cli.outputs import keep_inputs, refuse_input

if TYPE_CHECKING:
    from strikeline.reports.keyboard_chart import KeyboardChart

json_option = click.option(
    "--json",
    "json_path",
    type=click.Path(path_type=Path, allow_dash=True),
    metavar="OUT",
    help="Write the whole result as JSON to OUT; - writes it to standard output instead of the table.",
)
chart_option = click.option(
    "--chart",
    "chart_path",
    type=click.Path(path_type=Path),
    metavar="OUT",
    help="Draw it over the keyboard into OUT: .svg, .png or .html, by its name.",
)


def check_outputs(json_path: Path | None, chart_path: Path | None, *inputs: Path | None) -> None:
    """Refuse outputs that would overwrite an input or cannot be written, before any work is done.

    Parameters
    ----------
    json_path, chart_path : Path or None
        Where results are to go.
    *inputs : Path or None
        What is read.
    """
    keep_inputs(json_path, *inputs)
    if chart_path is not None:
        from strikeline.reports.chart_files import chart_suffix

        chart_suffix(chart_path)
        refuse_input("--chart", chart_path, *inputs)


_TITLES: Final = {
    "bearing": "How the strings bear on the bridges",
    "centres": "Friction of the centres",
    "climate": "Drift of pitch between two visits",
    "dampers": "Dampers: when and how far they rise",
    "hammers": "Hammers: the felt that refacing leaves",
    "keys": "Keys: level, dip and play",
    "pins": "Torque of the wrest pins",
    "readings": "Bench readings against their figures",
    "scale": "The string scale",
    "touch": "Touch: weight and friction of the keys",
}
"""Heading of each command's charts."""


def _title() -> str:
    """Return the heading for the charts of the command that runs; its name where it has none of its own."""
    context = click.get_current_context(silent=True)
    name = "" if context is None else context.info_name or ""
    return _TITLES.get(name, name.capitalize())


def give(
    data: dict[str, Any],
    *,
    table: Callable[[], str],
    json_path: Path | None,
    chart_path: Path | None = None,
    charts: Callable[[], Sequence[KeyboardChart]] = tuple,
    title: str | None = None,
) -> int:
    """Print a result and write what was asked for; returns the exit code.

    Parameters
    ----------
    data : dict
        The published JSON.
    table : callable
        Gives the table; called only where it is printed.
    json_path, chart_path : Path or None
        Where the JSON and the charts go.
    charts : callable
        Gives the charts.
    title : str or None
        Heading of the charts; the command's own when left out.
    """
    from strikeline.reports.json_text import json_text

    text = json_text(data) + "\n"
    if json_path is not None and str(json_path) == "-":
        click.echo(text, nl=False)
    else:
        click.echo(table())
        if json_path is not None:
            from strikeline.media.atomic import write_atomically

            write_atomically(json_path, text.encode())
            click.echo(f"Written: {json_path}", err=True)
    if chart_path is not None:
        from strikeline.bootstrap.chart_files import write_chart

        write_chart(charts(), chart_path, title=title or _title())
        click.echo(f"Drawn:   {chart_path}", err=True)
    return 0
