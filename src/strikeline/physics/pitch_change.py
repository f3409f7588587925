"""What it takes to bring a piano to a pitch: how far it is off, what strings and frame carry then, what may break."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeline.errors import InputError
from strikeline.measured import Measured
from strikeline.physics.overpull import is_old_wire, tension_ratio
from strikeline.physics.ranges import above_zero, finite, zero_or_more

Floats = NDArray[np.float64]

_FEW_NOTES: Final = 5
_FEW_SPREAD_CENTS: Final = 5.0
"""Spread from note to note that fewer than five notes are given, cents (our reasoning: a piano long untuned)."""
ELASTIC_SHARE: Final = 0.60
"""Share of the breaking load at which wire is said to stop being elastic: a wire maker in a technicians' mailing-list
archive, 2008-02 and 2011-04."""
CEILING_SHARE: Final = 0.70
"""The most that scales are designed for, from the same archive, 2000-01."""
UNTOLD_PULL_SPREAD: Final = 0.3
"""Spread of the pull of all strings of a note over the compass, as a share of its mean, where no scale tells it (our
reasoning: 0.25 on the invented upright of docs/examples)."""
_SMALL_CENTS: Final = 5.0
_LARGE_CENTS: Final = 25.0
_VERY_LARGE_CENTS: Final = 100.0
"""Where the words for a rise change (our reasoning about the archive's raises of 50 to 200 cents, most unbroken)."""
_BAD_RUST: Final = 3
_REPORTED: Final = (
    "tuners report that most raises of 50 to 200 cents on uprights of 80 years and more break nothing; the high treble "
    "goes first"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Offset:
    """How far a group of notes has to move."""

    n_notes: int
    cents: Measured
    """Median of the moves; above 0 is sharper."""
    low_cents: float
    """Smallest move among the notes."""
    high_cents: float


def offset_of(move_cents: ArrayLike, *, move_se_cents: ArrayLike) -> Offset | None:
    """Return the middle of several moves, hardly touched by single notes that went astray.

    The standard error of a median of n normal values is √(π/2)·s/√n, with s 1.4826 times the median distance from it,
    and at least the error of one note; fewer than five notes are taken to spread by 5 cents.

    Parameters
    ----------
    move_cents : array_like of float, shape (n,)
        How far each note has to move.
    move_se_cents : array_like of float, shape (n,)
        Standard errors.

    Returns
    -------
    Offset or None
        ``None`` without notes.
    """
    moves, se = finite("move_cents", move_cents), zero_or_more("move_se_cents", move_se_cents)
    if not moves.size:
        return None
    middle = float(np.median(moves))
    spread = max(1.4826 * float(np.median(np.abs(moves - middle))), float(np.median(se)))
    if moves.size < _FEW_NOTES:
        spread = max(spread, _FEW_SPREAD_CENTS)
    error = float(np.sqrt(np.pi / 2.0)) * spread / float(np.sqrt(moves.size))
    return Offset(
        n_notes=moves.size,
        cents=Measured(middle, error),
        low_cents=float(moves.min()),
        high_cents=float(moves.max()),
    )


def load_change(
    move_cents: ArrayLike,
    *,
    move_se_cents: ArrayLike,
    load: ArrayLike,
    is_guessed: ArrayLike | None = None,
    load_spread: float = 0.0,
) -> Measured:
    """Return by what share the load on the frame changes when each note moves.

    ``Σ T_i·(2^(cents_i/600) - 1) / Σ T_i``

    Pulls that are not known as they are told make the mean another one, by r·v·s: v their spread, s that of the tension
    ratios from note to note, and r the correlation of the two, anywhere from -1 to 1. That is an error of v·s/√3.

    Parameters
    ----------
    move_cents, move_se_cents : array_like of float, shape (k,)
        How far each note moves, and the standard error of that, each note's own.
    load : array_like of float, shape (k,)
        What the strings of each note pull with now; only ratios count. Above 0.
    is_guessed : array_like of bool, shape (k,), optional
        Notes that were not heard and are taken as their neighbours are: they may all be wrong the same way, so their
        errors add up in full.
    load_spread : float
        Spread of the pulls about `load` from note to note, as a share of their mean, 0 or more; `UNTOLD_PULL_SPREAD`
        where no scale tells them.

    Returns
    -------
    Measured
        Share: 0.023 is 2.3 % more.
    """
    moves, se = finite("move_cents", move_cents), zero_or_more("move_se_cents", move_se_cents)
    weight = above_zero("load", load) / np.sum(load)
    if not moves.shape == se.shape == weight.shape:
        raise InputError.of("load", weight.shape, f"the shape of move_cents, {moves.shape}")
    ratio = tension_ratio(moves)
    error = weight * ratio * np.log(2.0) / 600.0 * se
    guessed = np.zeros(moves.shape, dtype=np.bool_) if is_guessed is None else np.asarray(is_guessed, dtype=np.bool_)
    change = float(np.sum(weight * (ratio - 1.0)))
    uneven = float(np.sqrt(np.sum(weight * (ratio - 1.0 - change) ** 2)))
    by_load = float(zero_or_more("load_spread", load_spread)) * uneven / float(np.sqrt(3.0))
    whole = np.linalg.norm([*error[~guessed], np.sum(error[guessed]), by_load])
    return Measured(change, float(whole))


class Risk(StrEnum):
    """The risk that strings break, in a word. Never a figure: no published rate fits a single piano."""

    LOW = "low"
    MEDIUM = "medium"
    HIGH = "high"
    UNKNOWN = "cannot tell"


@dataclass(frozen=True, slots=True, kw_only=True)
class BreakingRisk:
    """The risk that strings break on the way to a pitch, and why."""

    risk: Risk
    reasons: tuple[str, ...]


def breaking_risk(
    *,
    rise_cents: float,
    single_cents: float,
    year: int | None,
    rust_grade: int | None,
    n_broken: int | None,
    highest_share: Measured | None,
) -> BreakingRisk:
    """Return the risk that strings break when they are raised, in a word with its reasons.

    Rules (our reasoning, from what tuners report in a technicians' mailing-list archive, 2000-01 to 2008-02, and
    2001-12 for broken strings): a step for a rise above 25 cents, a second above 100; a step for rust of grade 3 or
    more; a step for a string that broke before, two for three; a step where a string comes above 60 % of its breaking
    load, two above 70 %. No step is low, one medium, two high. Without year, rust and load it cannot be told.

    Parameters
    ----------
    rise_cents : float
        The largest rise of a section, overpull included; below 0 for a fall. The steps go by it.
    single_cents : float
        The largest rise of a single note, overpull included; it is told beside that of the section.
    year : int or None
        When the strings were put on, or the piano was built.
    rust_grade : int or None
        0 bright, 1 dull, 2 a continuous film, 3 pitted at the bearing points, 4 scaling.
    n_broken : int or None
        Strings that broke or were spliced before.
    highest_share : Measured or None
        Highest share of the breaking load on the way, where the scale is known.
    """
    if rise_cents <= _SMALL_CENTS:
        single = [_rise_words(single_cents, "single notes rise by")] if single_cents > _SMALL_CENTS else []
        return BreakingRisk(risk=Risk.LOW, reasons=("tension hardly rises, or falls", *single))
    steps, reasons = 0, [_rise_words(max(single_cents, rise_cents), "the rise is")]
    if round(single_cents) > round(rise_cents):
        section = f"the section that rises most goes up by {rise_cents:.0f} cents, single notes by"
        reasons = [_rise_words(single_cents, section)]
    if rise_cents > _LARGE_CENTS:
        steps += 1 + (rise_cents > _VERY_LARGE_CENTS)
        reasons.append(_REPORTED if is_old_wire(year) else "tuners report that the high treble goes first")
    more, told = _of_the_wire(year, rust_grade, n_broken, highest_share)
    steps += more
    reasons += told
    if year is None and rust_grade is None and highest_share is None:
        reasons.append("neither the year, nor the rust, nor the scale is given")
        return BreakingRisk(risk=Risk.HIGH if steps > 1 else Risk.UNKNOWN, reasons=tuple(reasons))
    return BreakingRisk(risk=(Risk.LOW, Risk.MEDIUM, Risk.HIGH)[min(steps, 2)], reasons=tuple(reasons))


def _rise_words(cents: float, begins: str) -> str:
    share = 100.0 * (float(tension_ratio(cents)) - 1.0)
    return f"{begins} up to {cents:.0f} cents, overpull included, {share:.1f} % tension"


def _of_the_wire(
    year: int | None, rust_grade: int | None, n_broken: int | None, highest_share: Measured | None
) -> tuple[int, list[str]]:
    """Return the steps of risk that the wire itself adds, and why."""
    steps, reasons = 0, list[str]()
    if year is not None:
        reasons.append(
            f"wire of {year} counts as old: sound old wire is about as strong as new, but wear cannot be seen"
            if is_old_wire(year)
            else f"wire of {year} counts as modern"
        )
    if rust_grade is None:
        reasons.append("rust was not told: look at the bearing points")
    else:
        steps += rust_grade >= _BAD_RUST
        reasons.append(f"rust of grade {rust_grade}" + (", pitted where it bends" if rust_grade >= _BAD_RUST else ""))
    if n_broken:
        steps += 2 if n_broken >= _BAD_RUST else 1
        reasons.append(f"{n_broken} broken before: some tuners hold that one break foretells its neighbours")
    if highest_share is not None:
        steps += (highest_share.value > ELASTIC_SHARE) + (highest_share.value > CEILING_SHARE)
        half = 100.0 * highest_share.half_width
        share = f"{100.0 * highest_share.value:.0f} ± {half:.0f} %"
        sound = "" if rust_grade is not None and rust_grade < _BAD_RUST else " if its wire is sound"
        unsure = "" if highest_share.differs_from(ELASTIC_SHARE) else ", below or above the 60 % named as elastic limit"
        reasons.append(f"the most strained string comes to {share} of its breaking load{sound}{unsure}")
    return steps, reasons
