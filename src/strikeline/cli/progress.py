"""A progress bar on standard error: one line that grows on a terminal, one line of words anywhere else."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Final

import click

if TYPE_CHECKING:
    from strikeline.workshop.ports import Progress

_STEPS: Final = 1000


@contextmanager
def progress_bar(label: str) -> Iterator[Progress]:
    """Yield a `Progress` that is shown as a bar; `label` says what is worked on."""
    if not sys.stderr.isatty():
        click.echo(f"{label} …", err=True)
        yield lambda _fraction, _words: None
        return
    with click.progressbar(
        length=_STEPS, label=label, file=sys.stderr, show_eta=False, item_show_func=lambda words: words
    ) as bar:

        def tell(fraction: float, words: str) -> None:
            bar.update(round(fraction * _STEPS) - bar.pos, words)

        yield tell
