"""``strikeline bearing``: a table of bends or heights in, downbearing and crown out."""

from __future__ import annotations

from pathlib import Path

import click

from strikeline.cli.results import chart_option, check_outputs, give, json_option

_FILE = click.Path(path_type=Path, dir_okay=False, allow_dash=True)


@click.command()
@click.argument("file", type=_FILE)
@click.option("--crown", "crown_path", type=_FILE, metavar="FILE", help="Table of crown: rib, span, middle, ends.")
@click.option(
    "--tension",
    "tension_text",
    metavar="FORCE",
    help="Tension of one string, the same for all, such as '700N' or '160 lbf'; a column tension comes first.",
)
@click.option(
    "--gauge-span",
    "span_text",
    metavar="LENGTH",
    help="Of a rocking gauge: from its foot on the bridge to where the gap is read, such as 25mm.",
)
@chart_option
@json_option
def bearing(
    file: Path,
    crown_path: Path | None,
    tension_text: str | None,
    span_text: str | None,
    chart_path: Path | None,
    json_path: Path | None,
) -> int:
    """Say how the strings measured in FILE bear on the bridges, front and back, and with what force.

    \b
    Angles:                            Steps, or three heights over one level:
      note,bridge,strings,front angle,   note;strings;speaking length;back length;
      back angle                         front drop;back drop
      C4,treble,3,0.5,0.7                C4;3;640;95;2,1;1,3

    A single column angle has the whole bend, a column gap the reading of a rocking gauge (with --gauge-span). Columns
    bridge, strings, tension, stagger and pin spacing are read where they are there. - reads from standard input.
    """  # noqa: D301  # \b is click's own mark for a paragraph that keeps its lines
    from strikeline.media.text_file import read_text
    from strikeline.reports.bench_charts import bearing_chart
    from strikeline.workshop.bearing import BearingErrors, read_bearing, tension_cell
    from strikeline.workshop.bench_cells import quantity_cell

    check_outputs(json_path, chart_path, file, crown_path)
    errors = BearingErrors()
    span = quantity_cell("gauge span", unit="mm", low=5.0, high=300.0, what="the span of a rocking gauge", se=0.25)
    report = read_bearing(
        read_text(file),
        crown_text=None if crown_path is None else read_text(crown_path),
        tension_n=None if tension_text is None else tension_cell(errors)(tension_text),
        gauge_span_mm=None if span_text is None else span(span_text),
        errors=errors,
    )

    def table() -> str:
        from strikeline.cli.bearing_table import bearing_table
        from strikeline.cli.table import terminal_width

        return bearing_table(report, width=terminal_width())

    return give(
        report.to_json(),
        table=table,
        json_path=json_path,
        chart_path=chart_path,
        charts=lambda: (bearing_chart(report),),
    )
