"""``strikeline touch`` and ``strikeline centres``: weights and frictions in, what to mend out."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from strikeline.cli.bench_options import ACTION_NAMES, action_option, table_argument
from strikeline.cli.results import chart_option, check_outputs, give, json_option

if TYPE_CHECKING:
    from strikeline.reports.keyboard_chart import KeyboardChart


@click.command()
@table_argument
@action_option
@click.option("--balance", "balance_g", type=float, metavar="GRAMS", help="Balance weight wanted; grands only.")
@chart_option
@json_option
def touch(
    file: Path, action_name: str, balance_g: float | None, chart_path: Path | None, json_path: Path | None
) -> int:
    """Tell balance weight and friction of each key, what stands out, and what to mend first.

    FILE is a table as for strikeline readings: note, down weight, up weight, and if wanted friction of the key alone.
    """
    from strikeline.cli.touch_table import touch_table
    from strikeline.reports.action_charts import touch_charts
    from strikeline.workshop.touch import judge_touch

    return _told(
        file,
        json_path,
        chart_path,
        lambda text: judge_touch(text, action=ACTION_NAMES[action_name], wanted_balance_g=balance_g),
        touch_table,
        touch_charts,
    )


@click.command()
@table_argument
@action_option
@click.option("--of", "n_all", type=click.IntRange(1, 400), default=88, show_default=True, help="Centres in the set.")
@click.option("--weight", "hammer_weight", metavar="MASS", help="Mass of shank and hammer, for swings.")
@click.option("--arm", metavar="LENGTH", help="Centre pin to their centre of mass, for swings.")
@click.option(
    "--ratio",
    type=click.FloatRange(3.0, 8.0),
    help="Hammer travel over key travel: with --reach, what hammer centres weigh at the key.",
)
@click.option("--reach", metavar="LENGTH", help="Centre pin to the crown of the hammer, for the same.")
@chart_option
@json_option
def centres(
    file: Path,
    action_name: str,
    n_all: int,
    hammer_weight: str | None,
    arm: str | None,
    ratio: float | None,
    reach: str | None,
    chart_path: Path | None,
    json_path: Path | None,
) -> int:
    """Tell tight, loose and worn centres from a sample, and how many of the set to repin.

    FILE is a table as for strikeline readings: note, friction of a centre (gf·mm) or swings of a hammer, sideways play
    of a centre, centre pin diameter.
    """
    from strikeline.cli.touch_table import centres_table
    from strikeline.reports.action_charts import centres_chart
    from strikeline.workshop.centres import judge_centres

    return _told(
        file,
        json_path,
        chart_path,
        lambda text: judge_centres(
            text,
            action=ACTION_NAMES[action_name],
            n_all=n_all,
            hammer_weight=hammer_weight,
            arm=arm,
            ratio=ratio,
            reach=reach,
        ),
        centres_table,
        lambda advice: (centres_chart(advice, action=ACTION_NAMES[action_name]),),
    )


def _told(
    file: Path,
    json_path: Path | None,
    chart_path: Path | None,
    judge: Callable[[str], Any],
    as_table: Callable[..., str],
    as_charts: Callable[[Any], Sequence[KeyboardChart]],
) -> int:
    from strikeline.cli.table import terminal_width
    from strikeline.media.text_file import read_text

    check_outputs(json_path, chart_path, file)
    advice = judge(read_text(file))
    return give(
        advice.to_json(),
        table=lambda: as_table(advice, width=terminal_width()),
        json_path=json_path,
        chart_path=chart_path,
        charts=lambda: as_charts(advice),
    )
