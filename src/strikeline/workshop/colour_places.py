"""Where patches and cards lie in a photograph, as people write it, and the values of a card from a table."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.domain.photograph import Photograph
from strikeline.errors import InputError
from strikeline.physics.colour import (
    WHITE_D50,
    WHITE_D65,
    XYZ_FROM_LINEAR,
    adapted_xyz,
    linear_from_srgb,
    xyz_from_lab,
)
from strikeline.physics.colour_patch import PatchLight, read_patch
from strikeline.workshop.entry_table import Column, EntryError, headings, read_rows

CHART: Final = "chart"
"""Name under which a whole chart is marked at once."""
WHITES: Final = {"D50": WHITE_D50, "D65": WHITE_D65}
_GREY: Final = re.compile(r"gr[ea]y(\d{1,2}(?:\.\d+)?)")
_FORM: Final = "NAME@x0,y0,x1,y1 in shares of the picture, such as faded@0.10,0.25,0.18,0.40"
_MIDDLE_RATIO: Final = 0.5
"""Share of a chart's cell, each way, that is read: its borders and shadows stay out (our reasoning)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A rectangle of a photograph, in shares of its width and height from the upper left corner."""

    name: str
    left: float
    top: float
    right: float
    bottom: float

    def light(self, photograph: Photograph) -> PatchLight:
        """Return what is recorded there.

        Raises
        ------
        InputError
            If hardly a pixel lies in it.
        """
        height, width = photograph.codes.shape[:2]
        rows = slice(round(self.top * height), round(self.bottom * height))
        columns = slice(round(self.left * width), round(self.right * width))
        codes = photograph.codes[rows, columns]
        if min(codes.shape[:2]) < 5:
            size = f"{codes.shape[1]} × {codes.shape[0]} pixels"
            raise InputError(f"patch {self.name} is {size} of {photograph.name}; mark more of it", name=self.name)
        return read_patch(codes)

    def centre(self, photograph: Photograph) -> NDArray[np.float64]:
        """Return its middle in widths of the picture, shape (2,)."""
        down = (self.top + self.bottom) / 2.0 * photograph.height_ratio
        return np.array([(self.left + self.right) / 2.0, down])

    def size(self, photograph: Photograph) -> NDArray[np.float64]:
        """Return its width and height in widths of the picture, shape (2,)."""
        return np.array([self.right - self.left, (self.bottom - self.top) * photograph.height_ratio])


@dataclass(frozen=True, slots=True, kw_only=True)
class CardValue:
    """What a patch of a card is known to be."""

    name: str
    xyz: tuple[float, float, float]
    """Under D65, white 1."""
    row: int | None
    column: int | None


def read_place(text: str) -> Place:
    """Return a rectangle written as ``NAME@x0,y0,x1,y1``.

    Raises
    ------
    InputError
        If it is written otherwise, leaves the picture, or its corners are the wrong way round.
    """
    name, numbers = _named(text, counts=(4,))
    left, top, right, bottom = numbers
    if left >= right or top >= bottom:
        raise InputError.of("patch", text, "the upper left corner first, then the lower right one")
    return Place(name=name, left=left, top=top, right=right, bottom=bottom)


def _named(text: str, *, counts: tuple[int, ...]) -> tuple[str, list[float]]:
    name, at, rest = text.strip().partition("@")
    try:
        numbers = [float(one) for one in rest.split(",")]
    except ValueError:
        numbers = []
    if not at or not name.strip() or len(numbers) not in counts:
        raise InputError.of("patch", text, _FORM)
    if min(numbers) < 0.0 or max(numbers) > 1.0:
        raise InputError.of("patch", text, "numbers from 0 to 1: shares of the picture's width and height, not pixels")
    return name.strip(), numbers


@dataclass(frozen=True, slots=True, kw_only=True)
class Marks:
    """What is marked in a photograph, as it would be written on the command line."""

    cards: tuple[str, ...]
    patches: tuple[str, ...]


def read_marks(text: str) -> tuple[Marks, Marks]:
    """Return what is marked in the first and in the second photograph, from a table.

    Parameters
    ----------
    text : str
        Columns ``what`` (``card`` or ``patch``), ``name``, ``x0, y0, x1, y1`` in shares of the picture, and ``photo``,
        1 or 2, 1 when left out.

    Raises
    ------
    EntryError
        If it cannot be read; each mistake with line and column.
    """
    rows = read_rows(text, _MARK_COLUMNS)

    def of(photo: int, what: str) -> tuple[str, ...]:
        chosen = [one.values for one in rows if one.values.get("photo", 1) == photo and one.values["what"] == what]
        return tuple(f"{one['name']}@{','.join(str(one[edge]) for edge in _EDGES)}" for one in chosen)

    first, second = (Marks(cards=of(photo, "card"), patches=of(photo, "patch")) for photo in (1, 2))
    return first, second


def _share(cell: str) -> float:
    value = float(cell.replace(",", "."))
    if not 0.0 <= value <= 1.0:
        raise InputError.of("share", value, "0 to 1: shares of the picture, not pixels")
    return value


def _what(cell: str) -> str:
    if cell.casefold() not in {"card", "patch"}:
        raise InputError.of("what", cell, "card or patch")
    return cell.casefold()


def _photo(cell: str) -> int:
    if cell not in {"1", "2"}:
        raise InputError.of("photo", cell, "1 or 2")
    return int(cell)


_EDGES: Final = ("x0", "y0", "x1", "y1")
_MARK_COLUMNS: Final = (
    Column(name="what", read=_what, is_needed=True),
    Column(name="name", read=str, is_needed=True),
    *(Column(name=edge, read=_share, is_needed=True) for edge in _EDGES),
    Column(name="photo", read=_photo),
)


def read_card_values(text: str, *, white: str) -> dict[str, CardValue]:
    """Return the values of a card from a table.

    Parameters
    ----------
    text : str
        Columns ``patch``; ``L, a, b`` or ``R, G, B`` (sRGB, 0 to 255); and ``row, column``, counted from the upper
        left, where the whole chart is to be marked at once.
    white : str
        ``"D50"`` or ``"D65"``: the light that L, a, b are given for.

    Raises
    ------
    EntryError
        If it cannot be read, or a patch stands there twice.
    """
    heads = {head.strip() for head in headings(text)}
    is_lab = {"L", "a", "b"} <= heads
    if not is_lab and not {"R", "G", "B"} <= heads:
        raise EntryError(["the table of a card needs the columns L, a, b or the columns R, G, B"])
    limits = {"L": (0.0, 100.0), "a": (-128.0, 128.0), "b": (-128.0, 128.0)} if is_lab else {}

    def number(name: str) -> Column:
        low, high = limits.get(name, (0.0, 255.0))

        def read(cell: str) -> float:
            value = float(cell.replace("−", "-").replace(",", "."))
            if not low <= value <= high:
                raise InputError.of(name, value, f"{low:g} to {high:g}")
            return value

        return Column(name=name, read=read, is_needed=True)

    names = ("L", "a", "b") if is_lab else ("R", "G", "B")
    columns = [
        Column(name="patch", read=str, is_needed=True, also=("name",)),
        *map(number, names),
        Column(name="row", read=int),
        Column(name="column", read=int),
    ]
    found = dict[str, CardValue]()
    for row in read_rows(text, columns):
        three = np.array([row.values[name] for name in names])
        xyz = _card_xyz(three, white) if is_lab else XYZ_FROM_LINEAR @ linear_from_srgb(three / 255.0)
        name = row.values["patch"]
        if name in found:
            raise EntryError([f"line {row.line}: the patch {name} stands there twice"])
        found[name] = CardValue(
            name=name,
            xyz=(float(xyz[0]), float(xyz[1]), float(xyz[2])),
            row=row.values.get("row"),
            column=row.values.get("column"),
        )
    return found


def _card_xyz(lab: NDArray[np.float64], white: str) -> NDArray[np.float64]:
    own = WHITES[white]
    return adapted_xyz(xyz_from_lab(lab, white=own), from_white=own, to_white=WHITE_D65)


def place_card(written: Sequence[str], values: Mapping[str, CardValue]) -> list[tuple[Place, CardValue]]:
    """Return where each patch of a card lies and what it is.

    Parameters
    ----------
    written : sequence of str
        ``grey18@…`` is a grey of 18 % reflectance; other names are patches of the table; ``chart@x0,y0,x1,y1`` is the
        whole chart, or with eight numbers its four corners, clockwise from the upper left one of the chart.
    values : mapping of str to CardValue
        From `read_card_values`; may be empty.

    Raises
    ------
    InputError
        If a name is not known, or a chart has no rows and columns.
    """
    placed = list[tuple[Place, CardValue]]()
    for text in written:
        name = text.partition("@")[0].strip()
        if name == CHART:
            placed += _placed_chart(text, values)
        else:
            placed.append((read_place(text), _value(name, values)))
    return placed


def _value(name: str, values: Mapping[str, CardValue]) -> CardValue:
    if name in values:
        return values[name]
    match = _GREY.fullmatch(name.casefold())
    if match is None or not 1.0 <= float(match[1]) < 100.0:
        known = f", or one of the card's patches: {', '.join(values)}" if values else ", or give --card-values"
        raise InputError.of("card", name, f"grey and its reflectance in per cent, such as grey18{known}")
    x, y, z = float(match[1]) / 100.0 * WHITE_D65
    return CardValue(name=name, xyz=(x, y, z), row=None, column=None)


def _placed_chart(text: str, values: Mapping[str, CardValue]) -> list[tuple[Place, CardValue]]:
    """Return the middle of each cell of a chart between its corners."""
    numbers = _named(text, counts=(4, 8))[1]
    cells = [(one, one.row, one.column) for one in values.values() if one.row and one.column]
    if not cells:
        raise InputError("a whole chart needs --card-values with the columns row and column", name="card")
    if len(numbers) == 4:
        left, top, right, bottom = numbers
        numbers = [left, top, right, top, right, bottom, left, bottom]
    first, second, third, fourth = np.array(numbers).reshape(4, 2)
    n_rows, n_columns = max(row for _, row, _ in cells), max(column for _, _, column in cells)

    def at(across: float, down: float) -> NDArray[np.float64]:
        return np.asarray(
            (1 - down) * ((1 - across) * first + across * second) + down * ((1 - across) * fourth + across * third)
        )

    placed = list[tuple[Place, CardValue]]()
    for one, row, column in cells:
        across, down = (column - 0.5) / n_columns, (row - 0.5) / n_rows
        half_across, half_down = _MIDDLE_RATIO / 2 / n_columns, _MIDDLE_RATIO / 2 / n_rows
        corners = np.array([at(across + x * half_across, down + y * half_down) for x in (-1, 1) for y in (-1, 1)])
        # The largest upright rectangle inside: between the two inner edges each way.
        xs, ys = np.sort(corners[:, 0]), np.sort(corners[:, 1])
        if xs[1] >= xs[2] or ys[1] >= ys[2]:
            raise InputError.of("card", text, "a chart that stands nearly upright; photograph it so")
        place = Place(name=one.name, left=float(xs[1]), right=float(xs[2]), top=float(ys[1]), bottom=float(ys[2]))
        placed.append((place, one))
    return placed
