"""Numbers as they are printed on a sheet: real minus, as many digits as the error deserves, ranges, note names."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Final

from strikeline.keyboard import key_name
from strikeline.measured import Measured

MINUS: Final = "−"
NO_BREAK: Final = "\u00a0"
ABSENT: Final = "–"
"""What stands in a table for a number that cannot be told."""
_MAX_PLACES: Final = 6


def number(value: float, *, places: int, plus: bool = False) -> str:
    """Return a number with a fixed count of decimals and a real minus sign.

    Examples
    --------
    >>> number(-3.14159, places=1), number(0.02, places=1, plus=True), number(-0.04, places=1)
    ('−3.1', '0.0', '0.0')
    """
    text = f"{value:.{places}f}"
    if float(text) == 0.0:
        return text.lstrip("-")
    return f"{'+' if plus and value > 0 else ''}{text}".replace("-", MINUS)


def places_for(error: float) -> int:
    """Return how many decimals a value with this error deserves: one digit of the error, two if it begins with 1.

    Examples
    --------
    >>> [places_for(error) for error in (0.0042, 0.012, 0.3, 4.0, 120.0, 0.0)]
    [3, 3, 1, 0, 0, 6]
    """
    if error <= 0.0:
        return _MAX_PLACES
    exponent = math.floor(math.log10(error))
    if round(error / 10.0**exponent, 1) < 2.0:
        exponent -= 1
    return min(_MAX_PLACES, max(0, -exponent))


def with_error(measured: Measured | None, *, factor: float = 1.0, plus: bool = False, max_places: int = 6) -> str:
    """Return value ± the half-width that holds the truth in 95 cases of 100.

    Examples
    --------
    >>> [with_error(one).replace(NO_BREAK, " ") for one in (Measured(-3.14, 0.12), Measured(7.61, 0.04), None)]
    ['−3.14 ± 0.24', '7.61 ± 0.08', '–']
    """
    if measured is None:
        return ABSENT
    # An error is never printed as 0: it is at least one of the last decimal.
    half = max(measured.half_width * factor, 10.0**-max_places)
    places = min(max_places, places_for(half))
    # Two digits of an error that begins with 2 are kept when the place before would round the error itself away.
    if places < max_places and 0.5 * 10.0**-places > 0.2 * half:
        places += 1
    return plus_minus(number(measured.value * factor, places=places, plus=plus), number(half, places=places))


def plus_minus(value: str, half: str, unit: str = "") -> str:
    """Return ``value ± half unit``, which no line break parts.

    Examples
    --------
    >>> plus_minus("16", "3", "cents").replace(NO_BREAK, "_")
    '16_±_3_cents'
    """
    return NO_BREAK.join([value, "±", half, *([unit] if unit else [])])


def note_name(key: int) -> str:
    """Return the name of a key with a real sharp sign."""
    return key_name(key, typographic=True)


def key_range(first: int, last: int) -> str:
    """Return one note, or the first and last of a run.

    Examples
    --------
    >>> key_range(40, 40), key_range(40, 50)
    ('C4', 'C4–A♯4')
    """
    return note_name(first) if first == last else f"{note_name(first)}–{note_name(last)}"


def key_ranges(keys: Iterable[int]) -> str:
    """Return keys as note names, neighbours gathered into runs.

    Examples
    --------
    >>> key_ranges([1, 2, 3, 40, 49, 50])
    'A0–B0, C4, A4, A♯4'
    """
    runs: list[list[int]] = []
    for key in sorted(keys):
        if runs and key == runs[-1][-1] + 1:
            runs[-1].append(key)
        else:
            runs.append([key])
    parts = [", ".join(note_name(key) for key in run) if len(run) < 3 else key_range(run[0], run[-1]) for run in runs]
    return ", ".join(parts)


def count(n: int, singular: str, plural: str | None = None) -> str:
    """Return a count with its noun, small numbers in words.

    Examples
    --------
    >>> count(1, "note"), count(3, "note"), count(21, "note"), count(0, "key")
    ('one note', 'three notes', '21 notes', 'no keys')
    """
    words = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
    noun = singular if n == 1 else plural or f"{singular}s"
    return f"{words[n] if n < len(words) else n} {noun}"


def listed(items: Sequence[str]) -> str:
    """Return items joined as in a sentence.

    Examples
    --------
    >>> listed(["C4"]), listed(["C4", "D4"]), listed(["C4", "D4", "E4"])
    ('C4', 'C4 and D4', 'C4, D4 and E4')
    """
    return items[0] if len(items) == 1 else f"{', '.join(items[:-1])} and {items[-1]}" if items else ""


def sentence(text: str) -> str:
    """Return a text with a capital at its start and a full stop at its end."""
    if not text:
        return text
    return text[0].upper() + text[1:] + ("" if text[-1] in ".!?" else ".")


def minutes(duration_s: float) -> str:
    """Return a duration in minutes and seconds.

    Examples
    --------
    >>> minutes(312.4), minutes(8.2)
    ('5 min 12 s', '8 s')
    """
    whole, seconds = divmod(round(duration_s), 60)
    return f"{whole} min {seconds:02d} s" if whole else f"{seconds} s"
