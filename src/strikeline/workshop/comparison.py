"""Compare two recordings of one piano: listen to each that was not listened to yet, then compare."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from strikeline.acoustics import comparison
from strikeline.acoustics.comparison_result import Comparison
from strikeline.acoustics.listening import Listening
from strikeline.workshop.listening import Interrupted
from strikeline.workshop.ports import Progress

Hearing = Callable[[Progress | None], Listening]
"""Gives a listening: reads it where it was kept, or listens to the sound and tells how far that is."""


def compare(
    before: Hearing,
    after: Hearing,
    *,
    before_again: Sequence[Hearing] = (),
    after_again: Sequence[Hearing] = (),
    progress: Progress | None = None,
) -> Comparison:
    """Listen to all recordings, one after the other, and compare them.

    Parameters
    ----------
    before, after : callable
        The two that are compared.
    before_again, after_again : sequence of callable
        The same played again without work in between.
    progress : callable, optional
        Called as ``progress(fraction, words)`` over all of them.

    Returns
    -------
    Comparison

    Raises
    ------
    InputError
        If they are of different kinds of playing.
    SignalError
        If one holds nothing to measure.
    KeyboardInterrupt
        If the user stops it: half of the recordings make no comparison, so nothing is kept.
    """
    hearings = [before, after, *before_again, *after_again]
    heard = []
    for number, hearing in enumerate(hearings):
        try:
            heard.append(hearing(_share(progress, number, len(hearings))))
        except Interrupted:
            raise KeyboardInterrupt from None
    first, second, again = heard[0], heard[1], heard[2:]
    split = len(before_again)
    return comparison.compare(first, second, before_again=again[:split], after_again=again[split:])


def _share(progress: Progress | None, number: int, n: int) -> Progress | None:
    """Return the progress of one of `n` recordings as a share of the whole."""
    if progress is None:
        return None
    tell = progress
    return lambda fraction, words: tell((number + fraction) / n, words)
