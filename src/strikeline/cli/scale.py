"""``strikeline scale``: a typed table of lengths and wire in, what the whole scale does out."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from strikeline.cli.scale_options import scale_options

if TYPE_CHECKING:
    from strikeline.workshop.scale import ScaleChoices

_FILE: Final = click.Path(readable=False, path_type=Path, allow_dash=True)
_OUT: Final = click.Path(path_type=Path)


@click.command()
@click.argument("table", type=_FILE)
@scale_options
@click.option(
    "--listening", type=_FILE, metavar="JSON", help="A pass of this piano: its pitch is used, its B compared."
)
@click.option(
    "--order",
    "order_text",
    metavar="NOTES",
    help="Order these strings: C5, F4-A4, C6:1 (one of its strings), all, wound, or changed (those of the proposal).",
)
@click.option("--order-to", type=_OUT, metavar="FILE", help="Write the order: .txt, .csv or .json, by its name.")
@click.option("--allowance", metavar="MM", help="Wire added at the wrest pin of each string; 100 mm if left out.")
@click.option("--chart", "chart_path", type=_OUT, metavar="FILE", help="Draw it: .svg, .png or .html, by its name.")
@click.option(
    "--json",
    "json_path",
    type=click.Path(path_type=Path, allow_dash=True),
    metavar="OUT",
    help="Write the whole result as JSON to OUT; - writes it to standard output instead of the table.",
)
def scale(
    table: Path,
    *,
    choices: ScaleChoices,
    listening: Path | None,
    order_text: str | None,
    order_to: Path | None,
    allowance: str | None,
    chart_path: Path | None,
    json_path: Path | None,
) -> int:
    """Say what the strings in TABLE do: tension, load, inharmonicity, weak points, and what would smooth the scale.

    TABLE is a CSV with a line of headings: note, length, and diameter or gauge for plain wire, core and wrap (or
    outside) for wound; section, strings, bare top, bare bottom, dead top, dead bottom, end, remark where known. Notes
    that are not in it are filled from their section, and marked. With --order the order sheet is printed instead.
    """
    from strikeline.bootstrap import scale as wired
    from strikeline.cli.outputs import keep_inputs
    from strikeline.reports.chart_files import chart_suffix

    keep_inputs(json_path, table, listening)
    if chart_path is not None:
        chart_suffix(chart_path)
    if order_to is not None:
        wired.order_suffix(order_to)
        wired.keep_table(order_to, table)
    report = wired.assess_scale(table, choices=choices, listening=listening)
    order = None
    if order_text is not None or order_to is not None:
        order = wired.order_sheet(report, order_text or "all", allowance_text=allowance)
    if str(json_path) == "-":
        click.echo(wired.scale_text(report), nl=False)
    elif order is not None and order_to is None:
        click.echo(wired.order_as(order, ".txt"), nl=False)
    else:
        from strikeline.cli.scale_table import scale_table
        from strikeline.cli.table import terminal_width

        click.echo(scale_table(report, width=terminal_width()))
    if json_path is not None and str(json_path) != "-":
        wired.write_scale(report, json_path)
        click.echo(f"Written: {json_path}", err=True)
    if order is not None and order_to is not None:
        wired.write_order(order, order_to)
        click.echo(f"Ordered: {order_to}", err=True)
    if chart_path is not None:
        wired.draw_scale(report, chart_path)
        click.echo(f"Drawn:   {chart_path}", err=True)
    return 0
