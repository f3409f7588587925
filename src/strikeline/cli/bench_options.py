"""The table, the kind of action and the papers that bench commands take."""

from __future__ import annotations

from pathlib import Path
from typing import Final

import click

ACTIONS: Final = ("upright_under_damper", "upright_over_damper", "grand")
"""Kinds of action, as the catalogue names them; written out, so that --help loads no catalogue."""
ACTION_NAMES: Final = {name.replace("_", "-"): name for name in ACTIONS} | {"upright": "upright_under_damper"}
"""As people write them."""

action_option = click.option(
    "--action",
    "action_name",
    type=click.Choice(sorted(ACTION_NAMES)),
    default="upright",
    show_default=True,
    help="Kind of action; 'upright' is one with its dampers below the hammers.",
)
table_argument = click.argument("file", type=click.Path(path_type=Path, dir_okay=False, allow_dash=True))
papers_option = click.option(
    "--papers",
    default="0.08,0.13,0.25,0.5",
    show_default=True,
    metavar="LENGTHS",
    help="Washers and papers at hand, with commas between them.",
)
