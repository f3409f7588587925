"""``strikeline readings``: a table of bench readings in, what is within tolerance out."""

from __future__ import annotations

from pathlib import Path

import click

from strikeline.cli.bench_options import ACTION_NAMES, action_option, table_argument
from strikeline.cli.results import chart_option, check_outputs, give, json_option


@click.command()
@table_argument
@action_option
@click.option(
    "--figure",
    "figure_texts",
    multiple=True,
    metavar="NAME=VALUE",
    help="This piano's own figure, such as 'blow=45mm' from its maker's leaflet. May be given several times.",
)
@click.option("--american", is_flag=True, help="American names, such as let-off, in place of British ones.")
@chart_option
@json_option
def readings(
    file: Path,
    action_name: str,
    figure_texts: tuple[str, ...],
    american: bool,
    chart_path: Path | None,
    json_path: Path | None,
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
    from strikeline.reports.action_charts import readings_charts
    from strikeline.workshop.readings import check_table

    check_outputs(json_path, chart_path, file)
    check = check_table(read_text(file), action=ACTION_NAMES[action_name], figures=figure_texts)
    usage = "us" if american else "gb"
    return give(
        check.to_json(),
        table=lambda: readings_table(check, usage=usage, width=terminal_width()),
        json_path=json_path,
        chart_path=chart_path,
        charts=lambda: readings_charts(check, usage=usage),
    )
