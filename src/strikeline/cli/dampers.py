"""``strikeline dampers``: when and how far dampers lift by key and by pedal in, what to bend out."""

from __future__ import annotations

from pathlib import Path

import click

from strikeline.cli.bench_options import ACTION_NAMES, action_option, table_argument
from strikeline.cli.results import chart_option, check_outputs, give, json_option


@click.command()
@table_argument
@action_option
@click.option(
    "--ratio",
    "ratio_text",
    metavar="R",
    help="Hammer travel over key travel (strikeline regulate tells it), such as 5.0±0.2.",
)
@chart_option
@json_option
def dampers(
    file: Path, action_name: str, ratio_text: str | None, chart_path: Path | None, json_path: Path | None
) -> int:
    """Say which dampers lift early or late, by key and by pedal, what to bend first, and how the half-blow stands.

    FILE is a table as for strikeline readings, with any of damper lift (share of the hammer's travel, in per cent),
    pedal travel to damper lift, damper rise (condition: key or pedal), pedal free play, blow and half-blow distance.
    """
    from strikeline.media.text_file import read_text
    from strikeline.reports.damper_bench_chart import damper_charts
    from strikeline.workshop.dampers import judge_dampers, read_ratio

    check_outputs(json_path, chart_path, file)
    advice = judge_dampers(
        read_text(file),
        action=ACTION_NAMES[action_name],
        ratio=None if ratio_text is None else read_ratio(ratio_text),
    )

    def table() -> str:
        from strikeline.cli.dampers_table import dampers_table
        from strikeline.cli.table import terminal_width

        return dampers_table(advice, width=terminal_width())

    return give(
        advice.to_json(), table=table, json_path=json_path, chart_path=chart_path, charts=lambda: damper_charts(advice)
    )
