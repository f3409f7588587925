"""``strikeline climate``: the air of one visit or two in, what it does to wood and pitch out."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from strikeline.cli.options import read_note
from strikeline.cli.results import chart_option, check_outputs, give, json_option

if TYPE_CHECKING:
    from strikeline.acoustics.listening import Listening
    from strikeline.reports.keyboard_chart import KeyboardChart

_FILE = click.Path(path_type=Path, dir_okay=False)


@click.command()
@click.option("--rh", "rh_text", required=True, metavar="RH", help="Relative humidity now, such as 45% or '45 ± 2 %'.")
@click.option(
    "--temperature", "temperature_text", required=True, metavar="T", help="Temperature now, such as 20C or '68 °F'."
)
@click.option("--rh-before", "rh_before_text", metavar="RH", help="Relative humidity at the first visit.")
@click.option("--temperature-before", "temperature_before_text", metavar="T", help="Temperature at the first visit.")
@click.option("--panel", "panel_text", metavar="WIDTH", help="Width of a spruce panel across the grain, such as 900mm.")
@click.option("--before", "before_path", type=_FILE, metavar="FILE", help="Listening of the first visit, as JSON.")
@click.option("--after", "after_path", type=_FILE, metavar="FILE", help="Listening of the second visit, as JSON.")
@click.option("--break", "break_name", metavar="NOTE", help="Highest note on the bass bridge.")
@click.option(
    "--repeats",
    "repeats_text",
    metavar="CENTS",
    help="How well one note repeats from one recording to the next, standard deviation; 0.5 cents when left out.",
)
@chart_option
@json_option
def climate(
    *,
    rh_text: str,
    temperature_text: str,
    rh_before_text: str | None,
    temperature_before_text: str | None,
    panel_text: str | None,
    before_path: Path | None,
    after_path: Path | None,
    break_name: str | None,
    repeats_text: str | None,
    chart_path: Path | None,
    json_path: Path | None,
) -> int:
    """Say what humidity and temperature do to wood and pitch, and whether a drift between two visits is climate.

    The listenings are what strikeline listen --json wrote of a pass at each visit, with no tuning between.
    """
    from strikeline.errors import InputError
    from strikeline.workshop import climate as workshop
    from strikeline.workshop.bench_cells import quantity_cell

    check_outputs(json_path, chart_path, before_path, after_path)
    if chart_path is not None and (before_path is None or after_path is None):
        raise InputError("a chart shows the drift of pitch; give --before and --after, too", name="chart")
    panel = quantity_cell("panel", unit="mm", low=10.0, high=3000.0, what="the width of a panel", se=0.5)
    repeats = quantity_cell("repeats", unit="cents", low=0.0, high=20.0, what="how well a note repeats")
    break_after = read_note(break_name)
    before, after = (None if path is None else _heard(path) for path in (before_path, after_path))
    report = workshop.judge_climate(
        rh_pct=workshop.read_humidity(rh_text, name="rh"),
        temperature_degc=workshop.read_temperature(temperature_text, name="temperature"),
        rh_before_pct=None if rh_before_text is None else workshop.read_humidity(rh_before_text, name="rh-before"),
        temperature_before_degc=None
        if temperature_before_text is None
        else workshop.read_temperature(temperature_before_text, name="temperature-before"),
        panel_mm=None if panel_text is None else panel(panel_text),
        heard_before=before,
        heard_after=after,
        break_after=break_after,
        **({} if repeats_text is None else {"repeats_cents": repeats(repeats_text).value}),
    )

    def table() -> str:
        from strikeline.cli.climate_table import climate_table
        from strikeline.cli.table import terminal_width

        return climate_table(report, width=terminal_width())

    def charts() -> tuple[KeyboardChart, ...]:
        from strikeline.reports.bench_charts import drift_chart

        if report.drift is None or report.drift.shape is None:
            return ()
        return (drift_chart(report.changes_cents, report.drift.shape, break_after=break_after),)

    return give(report.to_json(), table=table, json_path=json_path, chart_path=chart_path, charts=charts)


def _heard(path: Path) -> Listening:
    from strikeline import bootstrap

    return bootstrap.read_listening(path)
