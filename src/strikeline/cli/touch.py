"""``strikeline touch`` and ``strikeline centres``: weights and frictions in, what to mend out."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from strikeline.cli.outputs import keep_inputs
from strikeline.cli.readings import ACTION_NAMES

_ACTION = click.option(
    "--action",
    "action_name",
    type=click.Choice(sorted(ACTION_NAMES)),
    default="upright",
    show_default=True,
    help="Kind of action; 'upright' is one with its dampers below the hammers.",
)
_JSON = click.option(
    "--json",
    "json_path",
    type=click.Path(path_type=Path, allow_dash=True),
    metavar="OUT",
    help="Write the whole result as JSON to OUT; - writes it to standard output instead of the table.",
)
_TABLE = click.argument("file", type=click.Path(path_type=Path, dir_okay=False, allow_dash=True))


@click.command()
@_TABLE
@_ACTION
@click.option("--balance", "balance_g", type=float, metavar="GRAMS", help="Balance weight wanted; grands only.")
@_JSON
def touch(file: Path, action_name: str, balance_g: float | None, json_path: Path | None) -> int:
    """Tell balance weight and friction of each key, what stands out, and what to mend first.

    FILE is a table as for strikeline readings: note, down weight, up weight, and if wanted friction of the key alone.
    """
    from strikeline.cli.touch_table import touch_table
    from strikeline.workshop.touch import judge_touch

    return _told(
        file,
        json_path,
        lambda text: judge_touch(text, action=ACTION_NAMES[action_name], wanted_balance_g=balance_g),
        touch_table,
    )


@click.command()
@_TABLE
@_ACTION
@click.option("--of", "n_all", type=click.IntRange(1, 400), default=88, show_default=True, help="Centres in the set.")
@click.option("--weight", "hammer_weight", metavar="MASS", help="Mass of shank and hammer, for swings.")
@click.option("--arm", metavar="LENGTH", help="Centre pin to their centre of mass, for swings.")
@_JSON
def centres(
    file: Path, action_name: str, n_all: int, hammer_weight: str | None, arm: str | None, json_path: Path | None
) -> int:
    """Tell tight, loose and worn centres from a sample, and how many of the set to repin.

    FILE is a table as for strikeline readings: note, friction of a centre (gf·mm) or swings of a hammer, sideways play
    of a centre, centre pin diameter.
    """
    from strikeline.cli.touch_table import centres_table
    from strikeline.workshop.centres import judge_centres

    return _told(
        file,
        json_path,
        lambda text: judge_centres(
            text, action=ACTION_NAMES[action_name], n_all=n_all, hammer_weight=hammer_weight, arm=arm
        ),
        centres_table,
    )


def _told(file: Path, json_path: Path | None, judge: Callable[[str], Any], as_table: Callable[..., str]) -> int:
    from strikeline.cli.table import terminal_width
    from strikeline.media.atomic import write_atomically
    from strikeline.media.text_file import read_text
    from strikeline.reports.json_text import json_text

    keep_inputs(json_path, file)
    advice = judge(read_text(file))
    text = json_text(advice.to_json()) + "\n"
    if json_path is not None and str(json_path) == "-":
        click.echo(text, nl=False)
        return 0
    click.echo(as_table(advice, width=terminal_width()))
    if json_path is not None:
        write_atomically(json_path, text.encode())
        click.echo(f"Written: {json_path}", err=True)
    return 0
