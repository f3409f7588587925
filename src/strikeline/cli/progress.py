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
_LONGEST_LABEL: Final = 32
_LONGEST_WORDS: Final = len("measuring note 888 of 888")


@contextmanager
def progress_bar(label: str) -> Iterator[Progress]:
    """Yield a `Progress` that is shown as a bar; `label` says what is worked on."""
    if not sys.stderr.isatty():
        click.echo(f"{label} …", err=True)
        yield lambda _fraction, _words: None
        return
    short = label if len(label) <= _LONGEST_LABEL else f"{label[: _LONGEST_LABEL - 1]}…"
    now = ""

    def current_words(_step: int | None) -> str:
        return now.ljust(_LONGEST_WORDS)

    # Width 0 gives the bar what the words leave of the terminal's line.
    with click.progressbar(
        length=_STEPS, label=short, file=sys.stderr, show_eta=False, width=0, item_show_func=current_words
    ) as bar:

        def tell(fraction: float, words: str) -> None:
            nonlocal now
            now = words
            bar.update(round(fraction * _STEPS) - bar.pos)

        yield tell
