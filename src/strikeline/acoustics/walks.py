"""How people walk over a keyboard: prices of going from one key to the next, and the cheapest walk through a pass.

The prices (nats) are our own, judged by the passes of the tests and benchmarks. `best_walk` works with gains, so the
cheapest walk is the one with the highest total.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.keyboard import HIGHEST_KEY, LOWEST_KEY, is_white

KEYS: Final = np.arange(LOWEST_KEY, HIGHEST_KEY + 1)
_EXPECTED: Final = 0.1
_AGAIN: Final = 2.5
_DOUBLED: Final = 0.6
_SKIP_FIRST: Final = 2.0
_SKIP_MORE: Final = 0.5
_BACK: Final = 3.0
_JUMP: Final = 5.0
_FREE_STEP: Final = 3.0
_ASIDE: Final = 2.5
"""A wrong strike after which the walk goes on where it was."""
_CHANGE: Final = 4.0
"""Changing from one kind of walk to another."""


@dataclass(frozen=True, slots=True, eq=False)
class Gait:
    """One kind of walk: up by semitones, down the white keys, anyhow."""

    name: str
    step: int
    """Keys per step, 0 for the walk without a rule."""
    whites_only: bool
    start_price: float
    price: NDArray[np.float64]  # shape (keys from, keys to), nats


def _price_by_steps(steps: NDArray[np.float64], *, again: float = _AGAIN) -> NDArray[np.float64]:
    """Price of a move of so many expected steps: 1 as expected, 0 again, 2 and more skips, the rest jumps."""
    price = np.full(steps.shape, _JUMP)
    price = np.where(steps > 1, np.minimum(_SKIP_FIRST + _SKIP_MORE * (steps - 2), _JUMP), price)
    price = np.where((steps < 0) & (steps >= -2), _BACK, price)
    price = np.where(steps == 0, again, price)
    return np.where(steps == 1, _EXPECTED, price)


def even_gait(step: int, *, start_price: float, again: float = _AGAIN) -> Gait:
    """Walk by the same number of keys each time; `again` is the price of the same key once more."""
    moved = (KEYS[None, :] - KEYS[:, None]) / step
    price = _price_by_steps(moved, again=again)
    is_off = moved != np.round(moved)
    slightly_off = np.where(np.abs(KEYS[None, :] - KEYS[:, None]) <= 2, _BACK, _JUMP)
    return Gait(
        f"by {step}", step, whites_only=False, start_price=start_price, price=np.where(is_off, slightly_off, price)
    )


def white_gait(direction: int, *, start_price: float) -> Gait:
    """Walk over the white keys only, up (+1) or down (-1); a black key is an error of the walk."""
    white = np.array([is_white(int(key)) for key in KEYS])
    rank = np.cumsum(white).astype(np.float64)
    price = _price_by_steps(direction * (rank[None, :] - rank[:, None]))
    return Gait(
        f"white keys {direction:+d}",
        direction,
        whites_only=True,
        start_price=start_price,
        price=np.where(white[None, :], price, _JUMP),
    )


def free_gait(*, start_price: float) -> Gait:
    """Walk anyhow: near keys a little likelier than far ones."""
    distance = np.abs(KEYS[None, :] - KEYS[:, None])
    price = np.minimum(_FREE_STEP + 0.05 * distance, _JUMP - 0.5)
    return Gait("free", 0, whites_only=False, start_price=start_price, price=np.where(distance == 0, _AGAIN, price))


def usual_gaits(*, extra_step: int) -> tuple[Gait, ...]:
    """Chromatic and white, up and down, one more step that the pass itself suggests, and the walk without rule."""
    gaits = [
        even_gait(1, start_price=0.0),
        even_gait(-1, start_price=0.7),
        white_gait(1, start_price=0.7),
        white_gait(-1, start_price=1.4),
        even_gait(1, start_price=8.0, again=_DOUBLED),
        even_gait(-1, start_price=8.7, again=_DOUBLED),
        free_gait(start_price=2.0),
    ]
    # Every note struck twice is a walk of its own: "again" is then as usual as "on".
    if abs(extra_step) > 1:
        gaits.append(even_gait(extra_step, start_price=1.5))
    return tuple(gaits)


@dataclass(frozen=True, slots=True, eq=False)
class Walk:
    """The cheapest walk through a pass."""

    gain: float
    """Log-likelihood of the pass with this walk, nats, against a pass without a single note."""
    key: tuple[int | None, ...]
    """Key of every strike; ``None`` where no key was struck."""
    gait: tuple[int, ...]
    """Index of the gait in force at every strike."""


def best_walk(gain: NDArray[np.float64], gaits: tuple[Gait, ...]) -> Walk:
    """Return the walk with the highest total (Viterbi's dynamic programming).

    Parameters
    ----------
    gain : ndarray of float, shape (strikes, keys)
        Log-odds, in nats, that the strike was this key against that it was none. ``-inf`` where it cannot be.
    gaits : tuple of Gait
        Kinds of walk to choose from.

    References
    ----------
    .. [1] A. J. Viterbi, "Error bounds for convolutional codes and an asymptotically optimum decoding algorithm", IEEE
       Trans. Inf. Theory 13, 260-269 (1967) (from memory).
    """
    n_strikes, n_keys = gain.shape
    n_gaits = len(gaits)
    price_to = np.ascontiguousarray(np.stack([gait.price.T for gait in gaits], axis=1))  # by key to, gait, key from
    each_gait = np.arange(n_gaits)
    start = -np.array([gait.start_price for gait in gaits])
    none_yet = start.copy()  # no note so far, gait chosen
    value = np.full((n_gaits, n_keys), -np.inf)
    came_from = np.zeros((n_strikes, n_gaits, n_keys), dtype=np.int32)
    for i in range(n_strikes):
        changed = value - _CHANGE
        best_gait = np.argmax(value, axis=0)
        here = np.arange(n_keys)
        is_changed = changed[best_gait, here] > value
        open_value = np.where(is_changed, changed[best_gait, here], value)
        open_gait = np.where(is_changed, best_gait[None, :], np.arange(n_gaits)[:, None])
        near = np.flatnonzero(gain[i] > -np.inf)  # the other keys were not struck, whatever the walk
        reach = open_value - price_to[near]
        from_key = np.argmax(reach, axis=2)
        moved = np.take_along_axis(reach, from_key[:, :, None], axis=2)[:, :, 0].T
        from_gait, from_key = open_gait[each_gait, from_key].T, from_key.T
        begins = none_yet[:, None] > moved
        struck = np.where(begins, none_yet[:, None], moved) + gain[i, near]
        link = np.where(begins, _BEGINS, from_gait * n_keys + from_key)
        aside = value + float(gain[i].max(initial=-np.inf)) - _ASIDE
        came_from[i] = np.where(aside > value, _ASIDE_STRUCK, _NOT_STRUCK)
        value = np.maximum(aside, value)
        is_note = struck > value[:, near]
        came_from[i][:, near] = np.where(is_note, link, came_from[i][:, near])
        value[:, near] = np.where(is_note, struck, value[:, near])
    return _trace(value, none_yet, came_from, aside_key=KEYS[np.argmax(gain, axis=1)] if n_strikes else KEYS[:0])


_NOT_STRUCK: Final = -1
_BEGINS: Final = -2
_ASIDE_STRUCK: Final = -3


def _trace(
    value: NDArray[np.float64],
    none_yet: NDArray[np.float64],
    came_from: NDArray[np.int32],
    *,
    aside_key: NDArray[np.int64],
) -> Walk:
    """Follow the links back from the best end."""
    n_keys, n_strikes = value.shape[1], came_from.shape[0]
    keys: list[int | None] = [None] * n_strikes
    gaits = [0] * n_strikes
    if value.size == 0 or value.max() <= none_yet.max():
        return Walk(float(none_yet.max()), tuple(keys), tuple(gaits))
    gait, at = divmod(int(np.argmax(value)), n_keys)
    for i in range(n_strikes - 1, -1, -1):
        gaits[i] = gait
        link = int(came_from[i, gait, at])
        if link == _NOT_STRUCK:
            continue
        if link == _ASIDE_STRUCK:
            keys[i] = int(aside_key[i])
            continue
        keys[i] = int(KEYS[at])
        if link == _BEGINS:
            break
        gait, at = divmod(link, n_keys)
    return Walk(float(value.max()), tuple(keys), tuple(gaits))
