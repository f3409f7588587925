"""A row of plucked notes found by ear that leaps back down the keyboard."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, cast

import pytest

from strikeline.acoustics.pluck_result import Pluck, StringPlace
from strikeline.acoustics.plucks import ToldNote, ToldPlucks
from strikeline.acoustics.plucks_fit import leap_back


def told(keys: Sequence[int], *, is_listed: bool = False, unheard: Sequence[int] = ()) -> ToldPlucks:
    notes = tuple(
        ToldNote(
            key=key,
            onset_s=0.0 if key in unheard else 1.0 + 3.0 * i,
            end_s=0.0,
            plucks=(
                Pluck(
                    string=StringPlace.ONLY,
                    at_s=None if key in unheard else 1.0 + 3.0 * i,
                    is_touched=None,
                    confidence=0.5,
                ),
            ),
            n_plucks=1.0,
            n_heard=1.0,
            cannot_tell=(),
        )
        for i, key in enumerate(keys)
    )
    return ToldPlucks(notes=notes, alignment=cast("Any", None), is_listed=is_listed, holds_plucks=True)


def test_a_leap_back_is_told_with_both_names() -> None:
    warning = leap_back(told([50, 51, 52, 36, 37, 38]))
    assert warning is not None
    assert "leaps from C5 back to G♯3" in warning
    assert "--notes" in warning


@pytest.mark.parametrize(
    ("keys", "others"),
    [
        ([33, 34, 35, 36], {}),
        ([33, 34, 33, 35], {}),
        ([13, 14, 15, 52, 53], {}),
        ([50, 51, 52, 36, 37], {"is_listed": True}),
        ([33, 34, 60, 35, 36], {"unheard": [60]}),
    ],
    ids=["up", "back by one", "two sections up", "as listed", "an unheard note"],
)
def test_rows_as_hands_pluck_them_do_not_leap(keys: list[int], others: dict[str, Any]) -> None:
    assert leap_back(told(keys, **others)) is None
