"""``strikeline wire``: a wire number or a diameter in, what it is in both systems and how strong out."""

from __future__ import annotations

from pathlib import Path

import click

from strikeline.cli.one_string import GRADE_OPTION, YEAR_OPTION, chosen_grade
from strikeline.cli.results import check_outputs, give, json_option


@click.command()
@click.argument("size")
@YEAR_OPTION
@GRADE_OPTION
@json_option
def wire(size: str, year: int | None, grade: str | None, json_path: Path | None) -> int:
    """Say what a wire is: its number, its diameter, the nearest size that is sold, and at what load it breaks.

    \b
      strikeline wire 14½          a wire number, in both systems
      strikeline wire 0.875mm      a diameter, also as '0.036 in' or '33 thou'
    """  # noqa: D301  # \b is click's own mark for a paragraph that keeps its lines
    from strikeline.cli.table import terminal_width
    from strikeline.cli.wire_table import wire_table
    from strikeline.physics.wire_strength import grade_for_year
    from strikeline.workshop.wire import find_wire

    check_outputs(json_path, None)
    found = find_wire(size, grade=chosen_grade(grade) or grade_for_year(year))
    return give(found.to_json(), table=lambda: wire_table(found, width=terminal_width()), json_path=json_path)
