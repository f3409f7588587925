"""``strikeline hammers``: marks and felt of the hammers in, reface or replace out."""

from __future__ import annotations

from pathlib import Path

import click

from strikeline.cli.bench_options import table_argument
from strikeline.cli.results import chart_option, check_outputs, give, json_option


@click.command()
@table_argument
@click.option(
    "--sections",
    "sections_text",
    default="A0-E2,F2-B4,C5-C8",
    show_default=True,
    metavar="RANGES",
    help="Sections to be judged as wholes, with commas between them: give this piano's own breaks.",
)
@click.option("--width", metavar="LENGTH", help="Width of the hammers: then the felt that comes off is weighed.")
@click.option(
    "--shank",
    "shank_length",
    metavar="LENGTH",
    help="Centre pin to the middle of the hammer: then, with hammer lengths read, the strike point's move is told.",
)
@chart_option
@json_option
def hammers(
    file: Path,
    sections_text: str,
    width: str | None,
    shank_length: str | None,
    chart_path: Path | None,
    json_path: Path | None,
) -> int:
    """Say which hammers to reface and which to replace, how much felt to take, and what is left.

    FILE is a table as for strikeline readings: note, length of the string cut, radius of the crown, felt over the
    moulding; and if wanted depth of the string cut, outside of the winding, hammer length, and under condition what
    you saw (moth, brittle, open glue, loose felt, wood visible).
    """
    from strikeline.cli.hammers_table import hammers_table
    from strikeline.cli.table import terminal_width
    from strikeline.media.text_file import read_text
    from strikeline.reports.action_charts import hammers_chart
    from strikeline.workshop.hammers import judge_hammers

    check_outputs(json_path, chart_path, file)
    sections = [one for one in sections_text.split(",") if one.strip()]
    advice = judge_hammers(read_text(file), sections=sections, width=width, shank_length=shank_length)
    return give(
        advice.to_json(),
        table=lambda: hammers_table(advice, width=terminal_width()),
        json_path=json_path,
        chart_path=chart_path,
        charts=lambda: (hammers_chart(advice),),
    )
