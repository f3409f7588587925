"""``strikeline pins``: a torque survey of the wrest pins in, how the plank holds out."""

from __future__ import annotations

from pathlib import Path

import click

from strikeline.cli.results import chart_option, check_outputs, give, json_option

_FILE = click.Path(path_type=Path, dir_okay=False, allow_dash=True)


@click.command()
@click.argument("file", type=_FILE)
@click.option("--after", "after_path", type=_FILE, metavar="FILE", help="The same pins, read again after treatment.")
@click.option(
    "--direction",
    type=click.Choice(["sharp", "flat"]),
    default="sharp",
    show_default=True,
    help="Which way the pins were turned; a column 'torque flat' beside 'torque' has both.",
)
@click.option("--pins", "n_pins", type=click.IntRange(1, 400), metavar="N", help="Wrest pins the piano has in all.")
@click.option("--rh", "rh_text", metavar="RH", help="Relative humidity at the survey, such as 45%.")
@click.option("--rh-after", "rh_after_text", metavar="RH", help="The same at the second survey.")
@chart_option
@json_option
def pins(
    file: Path,
    after_path: Path | None,
    direction: str,
    n_pins: int | None,
    rh_text: str | None,
    rh_after_text: str | None,
    chart_path: Path | None,
    json_path: Path | None,
) -> int:
    """Say how firmly the wrest pins read in FILE sit, and whether the weak ones stand together.

    \b
      note,string,torque,row,place
      C4,left,65 in-lb,1,frame
      C4,middle,58 in-lb,2,field

    Torque is in N·m or has its unit. Row, place (frame, for the row along its flange, or field), torque flat and
    diameter are read where they are there. - reads from standard input.
    """  # noqa: D301  # \b is click's own mark for a paragraph that keeps its lines
    from strikeline.media.text_file import read_text
    from strikeline.physics.wrest_pins import Direction
    from strikeline.reports.bench_charts import pins_chart
    from strikeline.workshop.climate import read_humidity
    from strikeline.workshop.pins import read_pins

    check_outputs(json_path, chart_path, file, after_path)
    report = read_pins(
        read_text(file),
        after_text=None if after_path is None else read_text(after_path),
        direction=Direction(direction),
        n_in_piano=n_pins,
        rh_pct=None if rh_text is None else read_humidity(rh_text, name="rh").value,
        rh_after_pct=None if rh_after_text is None else read_humidity(rh_after_text, name="rh-after").value,
    )

    def table() -> str:
        from strikeline.cli.pins_table import pins_table
        from strikeline.cli.table import terminal_width

        return pins_table(report, width=terminal_width())

    return give(
        report.to_json(), table=table, json_path=json_path, chart_path=chart_path, charts=lambda: (pins_chart(report),)
    )
