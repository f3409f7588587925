"""Data files read field by field; what is wrong is named with the entry and the field it stands in."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum
from typing import Any, TypeVar, overload

from strikeline.errors import InputError

_Word = TypeVar("_Word", bound=StrEnum)
_MISSING: Any = object()


@dataclass(slots=True)
class Fields:
    """One table of a data file, and which of its fields were asked for."""

    data: Mapping[str, Any]
    where: str
    asked: set[str] = field(default_factory=set)

    def named(self, name: str) -> Fields:
        """Return the same table under a name that says more in messages."""
        return Fields(self.data, name, self.asked)

    def wrong(self, name: str, expected: str) -> InputError:
        """Return the error that a field holds something else than expected."""
        return InputError.of(f"{self.where}.{name}", self.data.get(name), expected)

    def finish(self) -> None:
        """Refuse fields that nobody asked for: most likely their names are misspelt."""
        unknown = sorted(set(self.data) - self.asked)
        if unknown:
            raise InputError(
                f"{self.where}: unknown field {', '.join(unknown)}; known are {', '.join(sorted(self.asked))}"
            )

    def _get(self, name: str, default: Any = _MISSING) -> Any:
        self.asked.add(name)
        value = self.data.get(name, default)
        if value is _MISSING:
            raise InputError(f"{self.where}: the field {name} is missing", name=name)
        return value

    def text(self, name: str, *, default: str = _MISSING) -> str:
        """Return a text, which may be empty only by default."""
        value = self._get(name, default)
        if not isinstance(value, str) or (not value.strip() and value is not default):
            raise self.wrong(name, "a text")
        return value

    def texts(self, name: str) -> tuple[str, ...]:
        """Return a list of texts, empty if the field is not there."""
        value = self._get(name, [])
        if not isinstance(value, list) or not all(isinstance(one, str) and one.strip() for one in value):
            raise self.wrong(name, "a list of texts")
        return tuple(value)

    @overload
    def number(self, name: str, *, low: float = ..., high: float = ...) -> float: ...
    @overload
    def number(self, name: str, *, low: float = ..., high: float = ..., default: None) -> float | None: ...

    def number(
        self, name: str, *, low: float = -math.inf, high: float = math.inf, default: Any = _MISSING
    ) -> float | None:
        """Return a number within limits, or the default where it is not there.

        Parameters
        ----------
        name : str
            The field.
        low, high : float
            What it can be, limits included.
        default : None, optional
            Given if the field may be missing.
        """
        value = self._get(name, default)
        if value is default and default is not _MISSING:
            return None
        if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
            raise self.wrong(name, f"a number from {low:g} to {high:g}")
        return float(value)

    def day(self, name: str) -> date | None:
        """Return a day, ``None`` where the field is not there."""
        value = self._get(name, None)
        if value is not None and (not isinstance(value, date) or isinstance(value, datetime)):
            raise self.wrong(name, "a day such as 2022-06-06")
        return value

    def days(self, name: str) -> tuple[date, ...]:
        """Return one or two days in order, none where the field is not there."""
        value = self._get(name, [])
        are_days = isinstance(value, list) and all(
            isinstance(one, date) and not isinstance(one, datetime) for one in value
        )
        if not are_days or len(value) > 2 or value != sorted(value):
            raise self.wrong(name, "a list of one or two days, the earlier first")
        return tuple(value)

    def flag(self, name: str) -> bool | None:
        """Return true or false, ``None`` where the field is not there."""
        value = self._get(name, None)
        if value is not None and not isinstance(value, bool):
            raise self.wrong(name, "true or false")
        return value

    def part(self, name: str) -> Fields:
        """Return the table of a field."""
        value = self._get(name)
        if not isinstance(value, Mapping):
            raise self.wrong(name, "a table")
        return Fields(value, f"{self.where}.{name}")

    def pair(self, name: str) -> tuple[float, float]:
        """Return two numbers, the smaller first."""
        value = self._get(name)
        numbers = isinstance(value, list) and all(isinstance(one, int | float) for one in value)
        if not numbers or len(value) != 2 or not value[0] < value[1]:
            raise self.wrong(name, "two numbers, the smaller first")
        return float(value[0]), float(value[1])

    def word(self, name: str, words: type[_Word]) -> _Word:
        """Return one word of an enumeration."""
        value = self._get(name)
        if value not in set(words):
            raise self.wrong(name, " or ".join(repr(word.value) for word in words))
        return words(value)

    def words(self, name: str, words: type[_Word]) -> list[_Word]:
        """Return one or more words of an enumeration."""
        value = self._get(name)
        if not isinstance(value, list) or not value or any(one not in set(words) for one in value):
            raise self.wrong(name, f"a list of {' or '.join(repr(word.value) for word in words)}")
        return [words(one) for one in value]

    def parts(self, name: str, *, is_needed: bool = True) -> list[Fields]:
        """Return the tables of a list of tables."""
        value = self._get(name, _MISSING if is_needed else [])
        if not isinstance(value, list) or not all(isinstance(one, Mapping) for one in value):
            raise self.wrong(name, "tables, each under its own [[heading]]")
        return [Fields(one, f"{self.where}.{name} {place}") for place, one in enumerate(value, start=1)]
