"""Results as plain data, ready for JSON: the same fields, in the same order, under the same names."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping
from enum import Enum
from typing import Any, Final

import numpy as np

from strikeline.keyboard import Compass


def plain_data(result: object) -> Any:
    """Return a result as dicts, lists, numbers, words and ``None``.

    A record becomes a dict of its fields, a `Measured` ``{"value": …, "se": …}``, a word of an enumeration its text, an
    array a list. A record that says differently how it is published has a ``to_json`` method, which is asked instead.

    Examples
    --------
    >>> from strikeline.measured import Measured
    >>> plain_data({"tension_n": Measured(700.0, 5.0), "keys": (1, 2)})
    {'tension_n': {'value': 700.0, 'se': 5.0}, 'keys': [1, 2]}
    """
    for kind, as_plain in _KINDS:
        if isinstance(result, kind):
            return as_plain(result)
    if hasattr(result, "to_json"):
        return result.to_json()
    if dataclasses.is_dataclass(result):
        return {field.name: plain_data(getattr(result, field.name)) for field in dataclasses.fields(result)}
    raise TypeError(f"{type(result).__name__} cannot be published as plain data")


_KINDS: Final[tuple[tuple[Any, Callable[[Any], Any]], ...]] = (
    (Enum, lambda word: word.value),
    (bool | int | float | str | None, lambda one: one),
    (Compass, str),
    (Mapping, lambda fields: {str(plain_data(name)): plain_data(value) for name, value in fields.items()}),
    (np.ndarray | np.generic, lambda array: array.tolist()),
    (list | tuple | frozenset | set, lambda items: [plain_data(one) for one in items]),
)
