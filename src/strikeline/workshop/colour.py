"""Colours from photographs that show a card, and how far patches lie apart: faded, repaired, before and after."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from strikeline.domain.photograph import Photograph
from strikeline.errors import InputError
from strikeline.measured import Measured
from strikeline.physics.colour import XYZ_FROM_LINEAR, srgb_from_linear, xyz_from_lab
from strikeline.physics.colour_card import CardPatch, Correction, read_card
from strikeline.physics.colour_difference import ColourDifference, colour_difference, passes
from strikeline.physics.colour_seen import Patch, SeenColours, joined, seen_colours
from strikeline.plain_data import plain_data
from strikeline.workshop.colour_places import CardValue, place_card, read_card_values, read_place

SCHEMA: Final = "strikeline.colour/1"
REPAIR_LIMIT_DE00: Final = 3.0
"""A repaired patch within that of what surrounds it will do (our reasoning)."""
SIDE_BY_SIDE_LIMIT_DE00: Final = 2.0
"""Two parts side by side within that will do (our reasoning)."""
VALUES_SE_RATIO: Final = 0.03
"""How well a grey's reflectance is known, relative: cards are sold to a hundredth, and age and soil (our reasoning)."""

STRANGE_CAST: Final = 20.0
"""Chroma of a grey as recorded from which one asks whether it is the card; a camera that balances by itself under a
filament lamp leaves less (our reasoning)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotographAsked:
    """A photograph and what is marked in it."""

    photograph: Photograph
    cards: tuple[str, ...]
    """Card patches, as for `colour_places.place_card`."""
    patches: tuple[str, ...]
    """Patches to be told, each ``NAME@x0,y0,x1,y1``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PatchColour:
    """The colour of a patch."""

    name: str
    lightness: Measured | None
    """L* under D65: 0 black, 100 white; ``None`` where it cannot be told."""
    redness: Measured | None
    """a*: above 0 red, below 0 green."""
    yellowness: Measured | None
    """b*: above 0 yellow, below 0 blue."""
    spread: tuple[float, float, float] | None
    """Standard deviation of L*, a*, b* from one part of the patch to the next."""
    srgb: tuple[int, int, int] | None
    """Corrected, to be shown on a screen."""
    n_pixels: int
    cannot_tell: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotographColours:
    """The colours told from one photograph."""

    name: str
    card: str
    """``chart``, ``greys`` or ``none``: what they were corrected by."""
    cast: tuple[float, float] | None
    """a* and b* of the card's grey before correction, at middle lightness."""
    cct_k: float | None
    """Colour temperature that the grey was recorded with; balanced rightly it is about 6500 K."""
    left_de00: float | None
    """What the chart's colours come out wrong by when each is told by the others, root mean square CIEDE2000."""
    patches: tuple[PatchColour, ...]
    notices: tuple[str, ...]
    cannot_tell: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """A pair of patches and what it passes for."""

    difference: ColourDifference
    is_repair_passed: bool | None
    """At most 3 CIEDE2000; ``None`` where it cannot be told."""
    is_side_by_side_passed: bool | None
    """At most 2 CIEDE2000."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ColourReport:
    """Colours and differences."""

    photographs: tuple[PhotographColours, ...]
    compared: tuple[Compared, ...]
    cannot_tell: tuple[str, ...]
    """Pairs that could not be compared, and why."""

    def to_json(self) -> dict[str, Any]:
        """Return it as plain data in schema ``strikeline.colour/1``."""
        return {"schema": SCHEMA, **{name: plain_data(getattr(self, name)) for name in self.__dataclass_fields__}}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Read:
    colours: PhotographColours
    correction: Correction | None
    seen: SeenColours | None


def read_colours(
    asked: Sequence[PhotographAsked],
    *,
    card_values: str | None = None,
    card_white: str = "D50",
    is_same_setup: bool = False,
) -> ColourReport:
    """Return the colours of patches in one photograph or two, and how far they lie apart.

    Parameters
    ----------
    asked : sequence of PhotographAsked
        One photograph: its first patch is compared with each other. Two: patches of the same name are compared.
    card_values : str, optional
        Table of a card's values.
    card_white : str
        Light that its L, a, b are given for: ``"D50"`` or ``"D65"``.
    is_same_setup : bool
        Whether both photographs were taken with the same camera, card and light.

    Returns
    -------
    ColourReport

    Raises
    ------
    InputError
        If something is not written rightly, a name stands twice, or two photographs have no patch in common.
    """
    values = read_card_values(card_values, white=card_white) if card_values is not None else {}
    reads = [_read(one, values) for one in asked]
    names = [[patch.name for patch in one.colours.patches] for one in reads]
    if len(reads) == 1:
        compared, untold = _within(reads[0])
    else:
        common = [name for name in names[0] if name in names[1]]
        if not common:
            raise InputError(
                "the two photographs have no patch of the same name; mark the same place in both under one name",
                name="patch",
            )
        compared, untold = _between(reads[0], reads[1], common, is_same_setup=is_same_setup)
    return ColourReport(
        photographs=tuple(one.colours for one in reads), compared=tuple(compared), cannot_tell=tuple(untold)
    )


def _read(asked: PhotographAsked, values: Mapping[str, CardValue]) -> _Read:
    photograph = asked.photograph
    card = [
        CardPatch(
            name=place.name,
            xyz=np.array(value.xyz),
            xyz_se_ratio=VALUES_SE_RATIO,
            light=place.light(photograph),
            at=place.centre(photograph),
            size=place.size(photograph),
        )
        for place, value in place_card(asked.cards, values)
    ]
    places = [read_place(text) for text in asked.patches]
    twice = {one.name for one in places if [other.name for other in places].count(one.name) > 1}
    if twice or not places:
        raise InputError.of("patch", ", ".join(sorted(twice)) or "none", "one patch or more, each name once")
    patches = [Patch(name=one.name, light=one.light(photograph), at=one.centre(photograph)) for one in places]
    told = read_card(card)
    correction = told.correction
    fit = [one for one in patches if not one.light.unfit]
    seen = seen_colours(correction, fit) if correction is not None and fit else None
    return _Read(
        colours=PhotographColours(
            name=photograph.name,
            card="none" if correction is None else "chart" if correction.is_chart else "greys",
            cast=None if told.cast is None else (float(told.cast[0]), float(told.cast[1])),
            cct_k=told.cct_k,
            left_de00=None if correction is None else correction.left_de00,
            patches=tuple(_patch_colour(one, seen) for one in patches),
            notices=(*photograph.notices, *_left_out(told.left_out), *_limits(correction), *_strange(told.cast)),
            cannot_tell=told.cannot_tell,
        ),
        correction=correction,
        seen=seen,
    )


def _limits(correction: Correction | None) -> list[str]:
    """Return what the kind of card leaves open."""
    if correction is None or correction.is_chart:
        return []
    contrast = "" if correction.is_contrast_told else "contrast, "
    left_open = (
        f"A grey card takes away the cast of the light only; the camera's own {contrast}saturation and hue stay in the "
        "colours and in their errors. Differences between like colours are told far better than the colours themselves."
    )
    return [left_open]


def _left_out(reasons: Sequence[str]) -> list[str]:
    return [f"Left out: {'; '.join(reasons)}."] if reasons else []


def _strange(cast: NDArray[np.float64] | None) -> list[str]:
    if cast is None or float(np.hypot(*cast)) < STRANGE_CAST:
        return []
    return [
        "The grey of the card came out far from grey: is the right place marked, and did nothing coloured shine on it?"
    ]


def _patch_colour(patch: Patch, seen: SeenColours | None) -> PatchColour:
    if seen is None or patch.name not in seen.names:
        reason = f"{patch.name}: {patch.light.unfit}" if patch.light.unfit else "the card gives no correction"
        return PatchColour(
            name=patch.name, lightness=None, redness=None, yellowness=None, spread=None, srgb=None,
            n_pixels=patch.light.n_pixels, cannot_tell=reason,
        )  # fmt: skip
    place = seen.names.index(patch.name)
    three = [
        Measured(float(value), float(np.sqrt(seen.covariance[place, k, place, k])))
        for k, value in enumerate(seen.lab[place])
    ]
    linear = np.linalg.inv(XYZ_FROM_LINEAR) @ xyz_from_lab(seen.lab[place])
    red, green, blue = (round(255.0 * float(one)) for one in srgb_from_linear(linear))
    spread = [float(one) for one in seen.spread[place]]
    return PatchColour(
        name=patch.name,
        lightness=three[0],
        redness=three[1],
        yellowness=three[2],
        spread=(spread[0], spread[1], spread[2]),
        srgb=(red, green, blue),
        n_pixels=patch.light.n_pixels,
        cannot_tell="",
    )


def _compared(difference: ColourDifference) -> Compared:
    return Compared(
        difference=difference,
        is_repair_passed=passes(difference, REPAIR_LIMIT_DE00),
        is_side_by_side_passed=passes(difference, SIDE_BY_SIDE_LIMIT_DE00),
    )


def _untold(read: _Read, name: str) -> str:
    """Return why a patch has no colour, empty if it has one."""
    if read.colours.cannot_tell:
        return f"{read.colours.name} has no card that can be used"
    return next(one.cannot_tell for one in read.colours.patches if one.name == name)


def _within(read: _Read) -> tuple[list[Compared], list[str]]:
    """Compare the first patch with each other one."""
    names = [one.name for one in read.colours.patches]
    compared, untold = list[Compared](), list[str]()
    for name in names[1:]:
        reason = _untold(read, names[0]) or _untold(read, name)
        if reason or read.seen is None:
            untold.append(f"{names[0]} against {name}: {reason}")
        else:
            compared.append(_compared(colour_difference(read.seen, names[0], name)))
    return compared, untold


def _between(
    one: _Read, other: _Read, names: Sequence[str], *, is_same_setup: bool
) -> tuple[list[Compared], list[str]]:
    """Compare patches of the same name in two photographs."""
    compared, untold = list[Compared](), list[str]()
    for name in names:
        reason = _untold(one, name) or _untold(other, name)
        if reason or one.seen is None or other.seen is None or one.correction is None or other.correction is None:
            untold.append(f"{name}: {reason}")
            continue
        both = joined(
            _renamed(one.seen, "before"),
            _renamed(other.seen, "after"),
            same_setup=(one.correction, other.correction) if is_same_setup else None,
        )
        compared.append(_compared(colour_difference(both, f"{name} before", f"{name} after")))
    return compared, untold


def _renamed(seen: SeenColours, word: str) -> SeenColours:
    return SeenColours(
        names=tuple(f"{name} {word}" for name in seen.names),
        lab=seen.lab,
        covariance=seen.covariance,
        noise=seen.noise,
        spread=seen.spread,
    )
