"""``strikeline scale``: a typed table of lengths and wire in, what the whole scale does out."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from strikeline.cli.outputs import refuse_input
from strikeline.cli.results import chart_option, check_outputs, give, json_option
from strikeline.cli.scale_options import scale_options

if TYPE_CHECKING:
    from strikeline.reports.keyboard_chart import KeyboardChart
    from strikeline.workshop.scale import ScaleChoices, ScaleReport

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
@chart_option
@json_option
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
    from strikeline.cli.order_table import order_table
    from strikeline.cli.scale_table import scale_table
    from strikeline.cli.table import terminal_width

    check_outputs(json_path, chart_path, table, listening)
    if order_to is not None:
        wired.order_suffix(order_to)
        refuse_input("--order-to", order_to, table)
    report = wired.assess_scale(table, choices=choices, listening=listening)
    order = None
    if order_text is not None or order_to is not None:
        order = wired.order_sheet(report, order_text or "all", allowance_text=allowance)
    is_order_printed = order is not None and order_text is not None
    give(
        report.to_json(),
        table=lambda: (
            order_table(order, width=terminal_width())
            if order is not None and is_order_printed
            else scale_table(report, width=terminal_width())
        ),
        json_path=json_path,
        chart_path=chart_path,
        charts=lambda: _charts(report),
    )
    if order is not None and order_to is not None:
        wired.write_order(order, order_to)
        click.echo(f"Written: {order_to}", err=True)
    return 0


def _charts(report: ScaleReport) -> tuple[KeyboardChart, ...]:
    from strikeline.reports.scale_charts import scale_charts  # loads what draws

    return scale_charts(report)
