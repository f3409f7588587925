"""Quantities as people write them: ``0.925mm``, ``14½``, ``36 5/8 in``, ``160 lbf``, ``3' 2¼"``, ``0,925 ± 0,01``.

A text becomes a number in the one unit that strikeline works in. What cannot be meant is refused with the likely
meaning; what can be read in two ways (``1,200``) is refused too, for a wrong guess would go unnoticed.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from strikeline.errors import InputError
from strikeline.measured import HALF_WIDTHS_PER_SE, Measured
from strikeline.units import UNITS, Unit

_VULGAR: Final = {
    "½": "1/2", "⅓": "1/3", "⅔": "2/3", "¼": "1/4", "¾": "3/4", "⅕": "1/5", "⅖": "2/5", "⅗": "3/5", "⅘": "4/5",
    "⅙": "1/6", "⅚": "5/6", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8",
}  # fmt: skip
_SAME: Final = {
    "\u00a0": " ", "\u2009": " ", "\u202f": " ", "\t": " ", "−": "-", "⁄": "/", "+/-": "±", "+-": "±",
    "''": '"', "″": '"', "”": '"', "′": "'", "’": "'",
}  # fmt: skip
_FRACTION: Final = r"(?P<above>\d+)\s*/\s*(?P<below>\d+)"
_PART: Final = re.compile(
    rf"\s*(?:(?:(?P<whole>\d+)[\s-]+)?{_FRACTION}|(?P<number>\d+(?:[.,]\d+)?(?:[eE][+-]?\d+)?|[.,]\d+))"
    r"\s*(?P<unit>[^\d\s.,+-][^\d]*)?"
)
_EITHER: Final = re.compile(r"[1-9]\d{0,2},\d{3}")
_SPAN: Final = re.compile(
    r"(?P<low>\d+(?:[.,]\d+)?)\s*(?:-|–|—|to|\.\.)\s*(?P<high>\d+(?:[.,]\d+)?)\s*(?P<unit>[^\d\s.,?]*)"
)
_DOUBT: Final = re.compile(r"[?~≈<>≤≥]|^\s*(?:ca|circa|about|approx)\b", re.IGNORECASE)
_FINE: Final = frozenset({"thou", "µm", "gf·mm"})
"""Units that nobody means where a decimal mark may have been left out."""
_THOUSANDS: Final = re.compile(r"(?<=\d) (?=\d{3}(?!\d)(?!\s*/))")


def read_quantity(
    text: str, *, name: str, unit: str, low: float | None = None, high: float | None = None, what: str = ""
) -> Measured:
    r"""Return a quantity written by hand, in the unit asked for; its standard error is 0 where no ± was written.

    Parameters
    ----------
    text : str
        A number with decimal point or comma or fractions, with or without unit, with or without ``± …``; several parts
        such as ``3 ft 2 1/4 in`` are added.
    name : str
        Name of the quantity, for the message.
    unit : str
        Unit of the result and of a number without unit; one of `units.UNITS`, such as ``"mm"`` or ``"N"``.
    low, high : float, optional
        What can be meant, in `unit`. A value outside is refused, with the unit under which it would fit.
    what : str
        What the limits are of, for the message, such as ``"the speaking length of a string"``.

    Returns
    -------
    Measured
        Value and standard error in `unit`; the ± is read as strikeline prints it: the half-width that holds the truth
        in 95 cases of 100.

    Raises
    ------
    InputError
        If the text is no quantity, can be read in two ways, has a unit of another kind, or leaves the limits.

    Examples
    --------
    >>> [read_quantity(text, name="length", unit="mm").value for text in ("0,925", "14½", "36 5/8 in", "3' 2\"")]
    [0.925, 14.5, 930.275, 965.2]
    >>> round(read_quantity("160 lbf", name="tension", unit="N").value, 3)
    711.715
    """
    target = UNITS[unit]
    plain = text
    for one, other in (_SAME | {sign: f" {fraction}" for sign, fraction in _VULGAR.items()}).items():
        plain = plain.replace(one, other)
    value_text, plus_minus, error_text = _THOUSANDS.sub("", plain).strip().partition("±")
    minus, value_text = value_text.startswith("-"), value_text.lstrip("+-")
    reader = _Reader(text, name, target)
    parts = reader.parts(value_text)
    error_parts = reader.parts(error_text) if plus_minus else []
    written = next((part.unit for part in [*parts[::-1], *error_parts] if part.unit is not None), target)
    figure = sum((part.number * (part.unit or written).factor for part in parts), 0.0) * (-1 if minus else 1)
    value = _rounded((figure + written.offset - target.offset) / target.factor)
    reader.refuse_outside(value, figure / written.factor, written, low=low, high=high, what=what)
    half = sum((part.number * (part.unit or written).factor for part in error_parts), 0.0) / target.factor
    return Measured(value, _rounded(half) / HALF_WIDTHS_PER_SE)


def _rounded(value: float) -> float:
    """Drop what the conversion itself adds, so that 36 5/8 in is 930.275 mm and not 930.2749999999999."""
    return float(f"{value:.12g}")


@dataclass(frozen=True, slots=True)
class _Part:
    number: float
    unit: Unit | None


@dataclass(frozen=True, slots=True)
class _Reader:
    """What a refusal has to name: the text as it was written, the quantity, and the unit wanted."""

    text: str
    name: str
    target: Unit

    def parts(self, text: str) -> list[_Part]:
        """Return the parts of a sum such as ``3 ft 2 in``; only a single part may lack its unit."""
        found, position, text = list[_Part](), 0, text.rstrip()
        while (match := _PART.match(text, position)) is not None:
            found.append(_Part(self._number(match), self._unit(match["unit"])))
            position = match.end()
        if not found or position < len(text) or (len(found) > 1 and any(part.unit is None for part in found)):
            expected = f"a number with or without unit, such as {self.target.example}"
            raise InputError.of(self.name, self.text, expected, advice=self._likely_form())
        return found

    def _likely_form(self) -> str:
        """Return how a range, or a reading in doubt, is written so that it can be kept; empty where it is neither."""
        span = _SPAN.fullmatch(self.text.strip())
        if span is not None:
            low, high = (float(span[side].replace(",", ".")) for side in ("low", "high"))
            if low < high:
                unit = f" {span['unit']}" if span["unit"] else ""
                return (
                    f"write a range as its middle and half its width: {(low + high) / 2:g} ± {(high - low) / 2:g}{unit}"
                )
        if _DOUBT.search(self.text):
            return "write the figure alone, and how far it may be off behind ±, such as 46 ± 1"
        return ""

    def _number(self, match: re.Match[str]) -> float:
        figure = match["number"]
        if figure is None:
            if int(match["below"]) == 0:
                raise InputError.of(self.name, self.text, "a fraction with something other than 0 below the line")
            return int(match["whole"] or 0) + int(match["above"]) / int(match["below"])
        if _EITHER.fullmatch(figure):
            choice = f"{figure.replace(',', '')} or {figure.replace(',', '.')}"
            raise InputError.of(self.name, self.text, choice, advice="the comma can be read in both ways")
        return float(figure.replace(",", "."))

    def _unit(self, written: str | None) -> Unit | None:
        if written is None:
            return None
        asked = written.strip().rstrip(".").casefold()
        same_kind = [unit for unit in UNITS.values() if unit.kind == self.target.kind]
        for unit in same_kind:
            if asked in unit.spellings:
                return unit
        if _DOUBT.search(self.text) or _SPAN.fullmatch(self.text.strip()):
            raise InputError.of(self.name, self.text, f"{self.target.kind}", advice=self._likely_form())
        known = ", ".join(unit.name for unit in same_kind)
        raise InputError.of(
            self.name, self.text, f"{self.target.kind} in {known}", advice=f"{written.strip()!r} is none of them"
        )

    def refuse_outside(
        self, value: float, figure: float, written: Unit, *, low: float | None, high: float | None, what: str
    ) -> None:
        """Refuse a value outside its limits, and name the unit under which the same figure would fit."""

        def fits(one: float) -> bool:
            return (low is None or one >= low) and (high is None or one <= high)

        if fits(value):
            return
        others = {
            unit.name: _rounded((figure * unit.factor + unit.offset - self.target.offset) / self.target.factor)
            for unit in UNITS.values()
            if unit.kind == self.target.kind and unit is not written
        }
        others = {unit: meant for unit, meant in others.items() if fits(meant)}
        meant = [f"{figure:g} {unit}" for unit in others]
        # A decimal mark left out, or one too early: far likelier than a unit nobody reads this in.
        is_high = high is not None and value > high
        moved = figure / 10.0 if is_high else figure * 10.0
        there = _rounded((moved * written.factor + written.offset - self.target.offset) / self.target.factor)
        if self.target.offset == 0.0 and fits(there) and there not in others.values():
            kept = [f"{figure:g} {unit}" for unit in others if unit not in _FINE]
            plain = f"{moved:g}" if written is self.target else f"{moved:g} {written.name}"
            meant = [plain, *kept] if is_high else [*kept, plain]
        side = f"{low:g} {self.target.name} or more" if high is None else f"{high:g} {self.target.name} or less"
        limits = side if low is None or high is None else f"{low:g} to {high:g} {self.target.name}"
        advice = f"did you mean {' or '.join(meant)}?" if meant else ""
        raise InputError.of(self.name, self.text, f"{limits}{f' for {what}' if what else ''}", advice=advice)
