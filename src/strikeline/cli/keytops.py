"""``strikeline keytops``: what was seen on the key tops in, what they are made of out."""

from __future__ import annotations

from pathlib import Path

import click

from strikeline.cli.results import check_outputs, give, json_option


@click.command()
@click.option(
    "--saw",
    "saw",
    multiple=True,
    metavar="WORD",
    help="What you saw, in the words of the list. May be given several times.",
)
@json_option
def keytops(saw: tuple[str, ...], json_path: Path | None) -> int:
    """Tell ivory, bone, celluloid, casein and plastic key tops apart by what can safely be seen.

    Without --saw it lists the questions and the words for the answers. Nothing in it harms a key: no hot pin, no
    flame, no solvent, no scraping.
    """
    from strikeline.workshop.key_tops import tell_tops

    check_outputs(json_path, None)
    advice = tell_tops(saw)

    def table() -> str:
        from strikeline.cli.keytops_table import keytops_table, questions
        from strikeline.cli.table import terminal_width

        return keytops_table(advice, width=terminal_width()) if saw else questions(width=terminal_width())

    return give(advice.to_json(), table=table, json_path=json_path)
