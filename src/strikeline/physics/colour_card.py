"""From the patches of a card, whose colours are known, to what the camera's numbers mean in this one photograph.

Two kinds of card. One or a few **greys** tell the cast of the light and, from three levels on, the camera's contrast;
what the camera made of hue and saturation stays unknown and widens every error. A **chart** of a dozen colours or more
gives a 3 by 3 matrix as well, and its leave-one-out errors say how well colours that are not on it are told. A matrix
with root-polynomial terms (Finlayson et al. 2015) fits the chart better, but on simulated photographs it told wood no
better than the matrix, and its own leave-one-out errors promised that it did; so it is not used.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.measured import HALF_WIDTHS_PER_SE
from strikeline.physics.colour import XYZ_FROM_LINEAR, difference_ciede2000, lab_from_xyz
from strikeline.physics.colour_patch import PatchLight

CHART_PATCHES: Final = 12
"""Patches from which on a matrix is fitted: nine numbers and as much again left over (our reasoning)."""
MOST_UNEVEN: Final = 0.10
"""Change of light over a card above which it is no reference: about two units of L* (our reasoning)."""
MOST_LEFT: Final = 5.0
"""Leave-one-out CIEDE2000, root of the mean square, above which no colour is told (our reasoning): simulated honest
charts leave 1.3 under daylight and 3.7 under a filament lamp."""
NEUTRAL_CHROMA: Final = 5.0
"""Chroma in CIELAB up to which a patch of a card counts as grey (our reasoning)."""
CONTRAST_SE: Final = 0.15
"""Of the exponent that a camera adds to sRGB, where no grey scale tells it (our reasoning, low confidence)."""
SATURATION_SE: Final = 0.3
"""Of the factor on chroma that camera and lamp add where no chart tells it; like the next two about what two simulated
cameras do to 99 materials under seven lights, the greater part of it under lamps (our measurement)."""
HUE_SE_DEG: Final = 12.0
"""Of the turn of hue that camera and lamp add."""
LIGHTNESS_SE_PER_CHROMA: Final = 0.1
"""Of L*, for each unit of chroma: a camera sees warm colours lighter or darker than the eye does."""
LIGHT_SE_PER_WIDTH: Final = 0.05
"""Relative change of the light from one side of the picture to the other that nobody sees (our reasoning)."""
LIKENESS_LAB: Final = 20.0
"""Distance in CIELAB at which the errors of a fitted matrix have 1/e in common (our reasoning)."""
CHROMA_GROWTH: Final = 0.015
"""How errors of a* and b* grow with chroma, as tolerances of hue do in CIE94; with more, greys would seem too sure."""
OWN_RATIO: Final = 0.1
"""Share of the variance of a fitted matrix's errors that each material has to itself: two colours that look the same to
an eye need not to a camera (our reasoning)."""
_DARKEST: Final = 1e-5
_WEIGHT_POWER: Final = -2.0 / 3.0
"""Weight of a patch by its Y, so that equal errors of L* count alike (slope of CIELAB's cube root)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CardPatch:
    """One patch of a card: what it is, and what the camera made of it."""

    name: str
    xyz: NDArray[np.float64]  # shape (3,)
    """Under D65, white 1."""
    xyz_se_ratio: float
    """How well that is known, relative."""
    light: PatchLight
    at: NDArray[np.float64]  # shape (2,)
    """Centre in widths of the picture, from its upper left corner."""
    size: NDArray[np.float64]  # shape (2,)
    """Width and height in widths of the picture."""

    @property
    def lab(self) -> NDArray[np.float64]:
        """Known CIELAB coordinates, shape (3,)."""
        return lab_from_xyz(self.xyz)

    @property
    def is_neutral(self) -> bool:
        """Whether it counts as grey."""
        return bool(np.hypot(self.lab[1], self.lab[2]) <= NEUTRAL_CHROMA)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Tone:
    """Light after white balance: for each channel ln x = gain + slope·u + bend·u², with u = ln v less a pivot."""

    pivot: NDArray[np.float64]  # shape (3,)
    numbers: NDArray[np.float64]  # shape (5,)
    """Three gains, slope, bend."""
    covariance: NDArray[np.float64]  # shape (5, 5)

    def balanced(self, linear: NDArray[np.float64], moved: NDArray[np.float64] | None = None) -> NDArray[np.float64]:
        """Return balanced light, shape (..., 3).

        Parameters
        ----------
        linear : ndarray, shape (..., 3)
            As the camera recorded it.
        moved : ndarray, shape (5,), optional
            Added to the numbers.
        """
        numbers = self.numbers if moved is None else self.numbers + moved
        u = np.log(np.maximum(linear, _DARKEST)) - self.pivot
        return np.asarray(np.exp(numbers[:3] + numbers[3] * u + numbers[4] * u**2))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Correction:
    """What a photograph's numbers mean."""

    is_chart: bool
    tone: Tone
    matrix: NDArray[np.float64]  # shape (3, 3)
    """Balanced light to XYZ."""
    left_lab: NDArray[np.float64]  # shape (3, 3)
    """Mean products of the chart's leave-one-out errors in CIELAB, those of a* and b* as for a grey; zero for greys."""
    left_de00: float | None
    """Root of the mean square of the chart's leave-one-out differences; ``None`` for greys."""
    light_se: NDArray[np.float64]  # shape (2,)
    """Relative change of the light over a width of the picture that may stand against it, across and down."""
    at: NDArray[np.float64]  # shape (2,)
    """Middle of the card."""
    is_contrast_told: bool

    def xyz(self, linear: NDArray[np.float64], moved: NDArray[np.float64] | None = None) -> NDArray[np.float64]:
        """Return XYZ under D65 for recorded light.

        Parameters
        ----------
        linear : ndarray, shape (..., 3)
            As the camera recorded it.
        moved : ndarray, shape (5,), optional
            Added to the numbers of the tone curve.
        """
        return np.asarray(self.tone.balanced(linear, moved) @ self.matrix.T)


def chroma_scale(lab: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return by how much errors of L*, a*, b* are greater than on a grey, the shape of the colours."""
    scale = 1.0 + CHROMA_GROWTH * np.hypot(lab[..., 1], lab[..., 2])
    return np.stack([np.ones_like(scale), scale, scale], axis=-1)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CardRead:
    """A card, judged: its correction, or why there is none."""

    correction: Correction | None
    cast: NDArray[np.float64] | None  # shape (2,)
    """a* and b* that the card's greys show before correction: the cast of light and camera."""
    cct_k: float | None
    """Temperature of the colour that the greys were recorded with; daylight balanced rightly has about 6500 K."""
    cannot_tell: tuple[str, ...]
    left_out: tuple[str, ...] = ()
    """Why patches of a chart were not used."""


def read_card(card: Sequence[CardPatch]) -> CardRead:
    """Return the correction that a card gives, or why it gives none.

    Parameters
    ----------
    card : sequence of CardPatch
        All patches of the card or cards in one photograph.

    Returns
    -------
    CardRead
    """
    if not card:
        reason = "there is no card: without one the light, the camera and the wood cannot be told apart"
        return CardRead(correction=None, cast=None, cct_k=None, cannot_tell=(reason,))
    reasons = _unfit(card)
    usable = [one for one in card if not one.light.unfit]
    greys = [one for one in usable if one.is_neutral]
    is_chart = len(usable) >= CHART_PATCHES and any(not one.is_neutral for one in usable)
    # A chart may lose a few patches to clipping, a grey may not: then nothing says how far it went.
    if reasons and not is_chart:
        return CardRead(correction=None, cast=None, cct_k=None, cannot_tell=tuple(reasons))
    if not greys:
        reason = "the card has no grey that can be used, and too few colours for a fit"
        return CardRead(correction=None, cast=None, cct_k=None, cannot_tell=(*reasons, reason))
    cast, cct_k = _recorded(greys)
    left_out = tuple(reasons)
    reasons = _uneven(greys)
    correction = None if reasons else (_fit_chart(usable) if is_chart else _fit_greys(greys))
    if correction is not None and correction.left_de00 is not None:
        reasons += _refused(correction, usable)
    return CardRead(
        correction=None if reasons else correction,
        cast=cast,
        cct_k=cct_k,
        cannot_tell=tuple(dict.fromkeys(reasons)),
        left_out=left_out,
    )


def _unfit(card: Sequence[CardPatch]) -> list[str]:
    """Return why patches of a card cannot be read: each of a few, or how many and the first."""
    unfit = [one for one in card if one.light.unfit]
    if len(unfit) > 3:
        return [f"{len(unfit)} of {len(card)} card patches cannot be read; {unfit[0].name}: {unfit[0].light.unfit}"]
    return [f"card patch {one.name}: {one.light.unfit}" for one in unfit]


def _recorded(greys: Sequence[CardPatch]) -> tuple[NDArray[np.float64], float | None]:
    """Return the cast of greys as recorded, and the temperature of its colour."""
    light = np.mean([one.light.linear / max(float(one.light.linear.mean()), _DARKEST) for one in greys], axis=0)
    xyz = XYZ_FROM_LINEAR @ light
    middle = 0.184 * xyz / max(float(xyz[1]), _DARKEST)
    x, y = xyz[:2] / xyz.sum()
    # C. S. McCamy, Color Res. Appl. 17, 142-144 (1992), as colour-science has it.
    n = (x - 0.3320) / (y - 0.1858)
    cct_k = float(-449.0 * n**3 + 3525.0 * n**2 - 6823.3 * n + 5520.33)
    return lab_from_xyz(middle)[1:], cct_k if 2000.0 <= cct_k <= 12500.0 else None


def _uneven(greys: Sequence[CardPatch]) -> list[str]:
    """Return why the light on the greys is too uneven, if it is."""
    reasons = list[str]()
    for one in greys:
        sure = np.abs(one.light.slope) - HALF_WIDTHS_PER_SE * one.light.slope_se
        if sure.max() > MOST_UNEVEN:
            reasons.append(
                f"card patch {one.name} is lit unevenly: {100.0 * np.abs(one.light.slope).max():.0f} % from side to "
                "side; turn it to the light, without shadow or shine"
            )
    for i, one in enumerate(greys):
        for other in greys[i + 1 :]:
            if abs(one.lab[0] - other.lab[0]) > 2.0:
                continue
            ratio = (one.light.linear / np.maximum(other.light.linear, _DARKEST)) * (other.xyz[1] / one.xyz[1])
            if abs(np.log(ratio.mean())) > MOST_UNEVEN or np.ptp(ratio) > MOST_UNEVEN / 2.0:
                reasons.append(
                    f"the greys {one.name} and {other.name} do not agree: light of two kinds, or of two strengths, "
                    "falls on them; use one lamp or one window"
                )
    return reasons


def _refused(correction: Correction, usable: Sequence[CardPatch]) -> list[str]:
    reasons = list[str]()
    left = correction.left_de00 or 0.0
    if left > MOST_LEFT:
        reasons.append(
            f"the card's own colours come out {left:.1f} CIEDE2000 wrong, most allowed is {MOST_LEFT:g}: is it marked "
            "the right way round, are these its values, does it shine?"
        )
    extent = np.ptp([one.at for one in usable], axis=0)
    over = float(np.max(correction.light_se * extent))
    if not reasons and over > MOST_UNEVEN:
        reasons.append(f"the card is lit unevenly: {100.0 * over:.0f} % from side to side; turn it to the light")
    return reasons


def _plain_tone(greys: Sequence[CardPatch]) -> Tone:
    """Return a tone curve that only balances: its gains are the mean over the greys."""
    logs = np.log(np.maximum([one.light.linear for one in greys], _DARKEST))
    known = np.log(np.maximum([one.xyz @ np.linalg.inv(XYZ_FROM_LINEAR).T for one in greys], _DARKEST))
    pivot = logs.mean(axis=0)
    gains = known.mean(axis=0)
    covariance = np.zeros((5, 5))
    of_gains = known - logs - (known - logs).mean(axis=0)
    for one in greys:
        covariance[:3, :3] += one.light.covariance / np.outer(*2 * (np.maximum(one.light.linear, _DARKEST),))
    covariance[:3, :3] /= len(greys) ** 2
    if len(greys) > 1:
        covariance[:3, :3] += of_gains.T @ of_gains / (len(greys) * (len(greys) - 1))
    # Half of what is not known of a grey's reflectance is its level, half its hue: both count for each channel.
    known_se = float(np.mean([one.xyz_se_ratio for one in greys]))
    covariance[:3, :3] += known_se**2 * (np.eye(3) + 1.0) / 2.0
    covariance[3, 3] = CONTRAST_SE**2
    return Tone(pivot=pivot, numbers=np.array([*gains, 1.0, 0.0]), covariance=covariance)


def _fitted_tone(greys: Sequence[CardPatch]) -> Tone | None:
    """Return a tone curve fitted to a grey scale, or nothing where the greys do not span enough or it turns down."""
    if len(greys) < 3 or np.ptp([one.lab[0] for one in greys]) < 30.0:
        return None
    logs = np.log(np.maximum([one.light.linear for one in greys], _DARKEST))
    known = np.log(np.maximum([one.xyz @ np.linalg.inv(XYZ_FROM_LINEAR).T for one in greys], _DARKEST))
    pivot = logs.mean(axis=0)
    u = logs - pivot
    bends = len({round(float(one.lab[0]) / 5.0) for one in greys}) >= 4
    columns = [np.tile(np.eye(3), (len(greys), 1)), u.reshape(-1, 1), (u**2).reshape(-1, 1)][: 3 if bends else 2]
    design = np.hstack(columns)
    # Dark patches carry stray light and rounding: their logarithms count less, as L* does.
    weight = np.repeat([np.cbrt(one.xyz[1]) for one in greys], 3)
    found, *_ = np.linalg.lstsq(design * weight[:, None], known.reshape(-1) * weight, rcond=None)
    left = (known.reshape(-1) - design @ found) * weight
    free = design.shape[0] - design.shape[1]
    information = np.linalg.inv((design * weight[:, None]).T @ (design * weight[:, None]))
    numbers, covariance = np.zeros(5), np.zeros((5, 5))
    numbers[: found.size] = found
    covariance[: found.size, : found.size] = information * float(left @ left) / free
    known_se = float(np.mean([one.xyz_se_ratio for one in greys]))
    covariance[:3, :3] += known_se**2 * (np.eye(3) + 1.0) / 2.0
    ends = np.array([u.min(), u.max()])
    if (numbers[3] + 2.0 * numbers[4] * ends <= 0.2).any():
        return None
    return Tone(pivot=pivot, numbers=numbers, covariance=covariance)


def _fit_greys(greys: Sequence[CardPatch]) -> Correction:
    fitted = _fitted_tone(greys)
    slopes = np.array([one.light.slope / one.size for one in greys])
    is_sure = np.abs(slopes) > HALF_WIDTHS_PER_SE * np.array([one.light.slope_se / one.size for one in greys])
    seen = np.sqrt(np.mean((slopes * is_sure) ** 2, axis=0))
    return Correction(
        is_chart=False,
        tone=fitted or _plain_tone(greys),
        matrix=XYZ_FROM_LINEAR,
        left_lab=np.zeros((3, 3)),
        left_de00=None,
        light_se=np.maximum(seen, LIGHT_SE_PER_WIDTH),
        at=np.mean([one.at for one in greys], axis=0),
        is_contrast_told=fitted is not None,
    )


def _fit_matrix(tone: Tone, card: Sequence[CardPatch]) -> NDArray[np.float64]:
    """Return the matrix from balanced light to XYZ, patches weighted so that equal errors of L* count alike."""
    light = tone.balanced(np.array([one.light.linear for one in card]))
    known = np.array([one.xyz for one in card])
    weight = np.maximum(known[:, 1:2], 0.01) ** _WEIGHT_POWER
    found, *_ = np.linalg.lstsq(light * weight, known * weight, rcond=None)
    return np.asarray(found.T)


def _tone_of(card: Sequence[CardPatch]) -> Tone | None:
    greys = [one for one in card if one.is_neutral]
    return (_fitted_tone(greys) or _plain_tone(greys)) if greys else None


def _left_out(card: Sequence[CardPatch]) -> NDArray[np.float64] | None:
    """Return each patch's CIELAB as told by the others, shape (n, 3); nothing where its only grey is left out."""
    told = list[NDArray[np.float64]]()
    for one in card:
        others = [other for other in card if other is not one]
        tone = _tone_of(others)
        if tone is None:
            return None
        told.append(lab_from_xyz(_fit_matrix(tone, others) @ tone.balanced(one.light.linear)))
    return np.array(told)


def _fit_chart(card: Sequence[CardPatch]) -> Correction:
    """Return the correction of a chart: contrast from its greys, matrix, leave-one-out errors."""
    known = np.array([one.lab for one in card])
    told, tone = _left_out(card), _tone_of(card)
    if told is None or tone is None:
        return _fit_greys([one for one in card if one.is_neutral])
    matrix = _fit_matrix(tone, card)
    left = (told - known) / chroma_scale(known)
    # Student's t over the normal for 95 of 100: 1.056 with 23 degrees of freedom, as 1 + 1.25/23 has it.
    widened = (1.0 + 1.25 / (len(card) - 1)) ** 2
    return Correction(
        is_chart=True,
        tone=tone,
        matrix=matrix,
        left_lab=left.T @ left / len(card) * widened,
        left_de00=float(np.sqrt(np.mean(difference_ciede2000(known, told) ** 2))),
        light_se=np.maximum(_light_slope(card, tone.balanced(_lights(card)) @ matrix.T), LIGHT_SE_PER_WIDTH),
        at=np.mean([one.at for one in card], axis=0),
        is_contrast_told=_fitted_tone([one for one in card if one.is_neutral]) is not None,
    )


def _lights(card: Sequence[CardPatch]) -> NDArray[np.float64]:
    return np.array([one.light.linear for one in card])


def _light_slope(card: Sequence[CardPatch], xyz: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the relative change of light over a width of the picture that a chart's errors show, where surely so."""
    at = np.array([one.at for one in card]) - np.mean([one.at for one in card], axis=0)
    ratio = np.log(np.maximum(xyz[:, 1], _DARKEST)) - np.log([max(float(one.xyz[1]), _DARKEST) for one in card])
    weight = np.cbrt([float(one.xyz[1]) for one in card])[:, None]
    design = np.hstack([np.ones((len(card), 1)), at])
    found, *_ = np.linalg.lstsq(design * weight, ratio * weight[:, 0], rcond=None)
    left = (ratio - design @ found) * weight[:, 0]
    spread = np.linalg.pinv((design * weight).T @ (design * weight)) * float(left @ left) / (len(card) - 3)
    slope, se = found[1:], np.sqrt(np.maximum(np.diag(spread)[1:], 0.0))
    return np.where(np.abs(slope) > HALF_WIDTHS_PER_SE * se, np.abs(slope), 0.0)
