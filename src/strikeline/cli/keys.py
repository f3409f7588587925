"""``strikeline keys``: level, dip and bushings of the keys in, what to paper and what to re-bush out."""

from __future__ import annotations

from pathlib import Path

import click

from strikeline.cli.bench_options import ACTION_NAMES, action_option, papers_option
from strikeline.cli.results import chart_option, check_outputs, give, json_option


@click.command()
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False, allow_dash=True), required=False)
@action_option
@click.option(
    "--to",
    "goal",
    type=click.Choice(["run", "figure"]),
    default="run",
    show_default=True,
    help="Even the keys to the straight run through them, with fewest papers, or to the figure of the catalogue.",
)
@click.option("--front-arm", metavar="LENGTH", help="Balance pin to the key front; with --back-arm, papers are told.")
@click.option("--back-arm", metavar="LENGTH", help="Balance pin to where the key rests on the back rail.")
@click.option("--capstan-arm", metavar="LENGTH", help="Balance pin to the capstan: then its move is told.")
@papers_option
@click.option("--count", "n_keys", type=click.IntRange(13, 106), metavar="N", help="Keys counted: tells the compass.")
@click.option("--naturals", "n_naturals", type=click.IntRange(1, 64), metavar="N", help="Naturals among them.")
@click.option("--lowest", "lowest_letter", metavar="LETTER", help="Name of the lowest key, such as A or F.")
@chart_option
@json_option
def keys(
    *,
    file: Path | None,
    action_name: str,
    goal: str,
    front_arm: str | None,
    back_arm: str | None,
    capstan_arm: str | None,
    papers: str,
    n_keys: int | None,
    n_naturals: int | None,
    lowest_letter: str | None,
    chart_path: Path | None,
    json_path: Path | None,
) -> int:
    """Say how even the keys read in FILE lie and go down, what to paper, and how many bushings to renew.

    FILE is a table as for strikeline readings, with any of key level, key height, key dip, depressed sharp above
    naturals, sharps above naturals and key bushing play (place: front or balance). Without FILE, --count alone tells
    the compass.
    """
    from strikeline.media.text_file import read_text
    from strikeline.reports.key_charts import key_charts
    from strikeline.workshop.keys import judge_keys, read_arms, read_papers

    check_outputs(json_path, chart_path, file)
    advice = judge_keys(
        None if file is None else read_text(file),
        action=ACTION_NAMES[action_name],
        goal=goal,
        arms=read_arms(front_arm, back_arm, capstan_arm),
        papers_mm=read_papers(papers),
        n_keys=n_keys,
        n_naturals=n_naturals,
        lowest_letter=lowest_letter,
    )

    def table() -> str:
        from strikeline.cli.keys_table import keys_table
        from strikeline.cli.table import terminal_width

        return keys_table(advice, width=terminal_width())

    return give(
        advice.to_json(), table=table, json_path=json_path, chart_path=chart_path, charts=lambda: key_charts(advice)
    )
