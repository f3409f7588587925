"""``strikeline gloss``: readings of a glossmeter in, classes and visible differences out."""

from __future__ import annotations

from pathlib import Path

import click

from strikeline.cli.bench_options import table_argument
from strikeline.cli.results import check_outputs, give, json_option


@click.command()
@table_argument
@click.option("--reference", metavar="PLACE", help="Place that the others are compared with; the first when left out.")
@json_option
def gloss(*, file: Path, reference: str | None, json_path: Path | None) -> int:
    """Say how glossy each place is, at which angle to read it, and whether an eye sees a difference.

    FILE is a table with the columns place, angle (20, 60 or 85; 60 when left out) and gloss: one reading to a line,
    five or so for each place.
    """
    from strikeline.media.text_file import read_text
    from strikeline.workshop.gloss import judge_gloss

    check_outputs(json_path, None, file)
    report = judge_gloss(read_text(file), reference=reference)

    def table() -> str:
        from strikeline.cli.gloss_table import gloss_table
        from strikeline.cli.table import terminal_width

        return gloss_table(report, width=terminal_width())

    return give(report.to_json(), table=table, json_path=json_path)
