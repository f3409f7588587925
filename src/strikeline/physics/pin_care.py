"""What can be done about weak wrest pins: the ladder of remedies with its cautions, sizes of pins, before and after."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtrit

from strikeline.errors import InputError
from strikeline.measured import HALF_WIDTHS_PER_SE, Measured
from strikeline.physics.pin_pattern import FEWEST_PINS, Pattern, PinPattern
from strikeline.physics.wrest_pins import CLASS_LIMITS, Field, GripClass, Pin, StringSide, grip_class
from strikeline.units import UNITS

_INCH_MM: Final = UNITS["in"].factor * 1e3


@dataclass(frozen=True, slots=True, kw_only=True)
class Remedy:
    """One rung of the ladder, from the least to the most that is done."""

    name: str
    what: str
    caution: str
    source: str


LADDER: Final = (
    Remedy(
        name="check",
        what="Look at coil and becket first: a loose coil slips like a loose pin.",
        caution="",
        source="technicians' mailing-list archive, 1997-01 and 1997-02",
    ),
    Remedy(
        name="tap",
        what="Tap the pin a little deeper, only where the coil stays clear of the frame.",
        caution="A grand's plank must be supported from below; an upright's needs no support. String tension stays on: "
        "eye protection.",
        source="a supplier's instructions; technicians' mailing-list archive, 1997-02",
    ),
    Remedy(
        name="glue",
        what="Let thin cyanoacrylate wick in around the pin, with the plank lying flat.",
        caution="Fumes: ventilate, gloves, eye protection, the maker's data sheet. Many good reports; some count it as "
        "contamination before later repinning. It cannot be undone.",
        source="technicians' mailing-list archive, 1997-02 and later",
    ),
    Remedy(
        name="sleeve",
        what="Line the hole with a sleeve of abrasive paper or metal, thin stock.",
        caution="Let the string down first, by quarter turns. Over-tight pins have twisted off.",
        source="technicians' mailing-list archive, 1997-01",
    ),
    Remedy(
        name="oversize pin",
        what="Drive a pin one size larger where the hole is sound.",
        caution="Let the string down first. A tight 4/0 in a dense many-layered plank has snapped: try one, read its "
        "torque, then go on.",
        source="technicians' mailing-list archive, 1997-01; one size: from memory; another shop says two to three",
    ),
    Remedy(
        name="plug and drill again",
        what="Bush or plug the holes and drill them anew.",
        caution="The strings come off and the frame may have to: for an experienced workshop with lifting gear.",
        source="a shop's article on repairing planks",
    ),
    Remedy(
        name="new plank",
        what="Replace the wrest plank.",
        caution="Strings and frame come out: an experienced workshop, lifting gear, all tension let down evenly first.",
        source="a shop's article on repairing planks",
    ),
)
"""Common practice with the sources named; a maker's instructions and local rules come first."""
TIGHTENER: Final = (
    "Liquid pin tighteners of the glycerine kind hold for a short time and do harm later; rings about the pins or an "
    "inscription that tell of one are a finding of their own."
)
"""An owner's notes of 2011."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """Which rungs to think of, and why. Our reasoning from the ladder's sources, no verdict."""

    rungs: tuple[str, ...]
    """Names of remedies in `LADDER`; empty where nothing needs doing."""
    words: str
    stops_pitch_raise: bool
    """Whether the pitch should not be raised before the plank was looked at."""


def advise(field: Field, pattern: PinPattern) -> Advice:
    """Return which remedies a field of pins leads to think of.

    Parameters
    ----------
    field : Field
        How the pins stand as a whole.
    pattern : PinPattern
        Where the weak ones stand.
    """
    n_failing, n_marginal = field.classes[GripClass.FAILING], field.classes[GripClass.MARGINAL]
    in_line = {Pattern.RUNS, Pattern.ONE_ROW} & {pattern.pattern, *pattern.also}
    many = pattern.pattern is Pattern.NEARLY_ALL or field.shares[1].share > _WIDESPREAD
    if field.n < FEWEST_PINS:
        return _of_few(field, n_failing=n_failing, is_weak=bool(n_failing + n_marginal))
    if not n_failing + n_marginal:
        return Advice(
            rungs=(), words="No pin read is weak. Read some again when the season turns.", stops_pitch_raise=False
        )
    if in_line or (n_failing and field.shares[0].share > _WIDESPREAD):
        words = (
            "Before the pitch is raised, look for a crack: at the pins in line, at the ends of the plank, from below."
        )
        return Advice(
            rungs=("check", "oversize pin", "plug and drill again", "new plank"), words=words, stops_pitch_raise=True
        )
    if many:
        words = "Weak as a whole: the cheap way is to glue the field, the proper one larger pins when it is restrung."
        return Advice(rungs=("check", "glue", "oversize pin"), words=words, stops_pitch_raise=False)
    if n_failing:
        words = "Single weak pins: treat those, tell the owner, read them again in a dry month."
        return Advice(rungs=("check", "tap", "glue", "oversize pin"), words=words, stops_pitch_raise=False)
    words = "Single marginal pins: tell the owner, treat those that slip, read them again in a dry month."
    return Advice(rungs=("check", "tap", "glue"), words=words, stops_pitch_raise=False)


def _of_few(field: Field, *, n_failing: int, is_weak: bool) -> Advice:
    """Return what a handful of readings leads to: something for the pins read, nothing for the field."""
    read = "one pin says" if field.n == 1 else f"{field.n} pins say"
    words = (
        f"First read more pins, in every part of the compass: {read} nothing of the others; from {FEWEST_PINS} on a "
        "survey speaks of the field."
    )
    if n_failing:
        words += " A pin read here fails: read the rest before the pitch is raised."
    return Advice(rungs=("check", "tap", "glue") if is_weak else (), words=words, stops_pitch_raise=n_failing > 0)


_WIDESPREAD: Final = 0.3
"""Share of the pins from which weakness is called widespread (our reasoning)."""


def meaning_of_place(is_at_frame: bool | None) -> str:
    """Return what a row of weak pins may mean by where it runs.

    Parameters
    ----------
    is_at_frame : bool or None
        Whether it runs along the flange of the frame; ``None`` where that was not noted.

    References
    ----------
    .. [1] A shop's article on the care of wrest planks.
    """
    at_frame = "along the flange of the frame: wood crushed by the flange, or a crack; go carefully"
    in_field = "inside the field: a crack or layers coming apart, which usually ends the plank"
    if is_at_frame is None:
        return f"It was not noted where the rows run. {at_frame.capitalize()}; {in_field}. Look which it is."
    return (at_frame if is_at_frame else in_field).capitalize() + "."


@dataclass(frozen=True, slots=True, kw_only=True)
class PinSize:
    """A size of pin as sold. The number is a label: measure the pin, other countries count otherwise."""

    label: str
    diameter_mm: float
    source: str


def _size(label: str, diameter_in: float, source: str) -> PinSize:
    return PinSize(label=label, diameter_mm=round(diameter_in * _INCH_MM, 2), source=source)


PIN_SIZES: Final = (
    _size("1/0", 0.276, "an owner's notes, 2011"),
    _size("2/0", 0.282, "an owner's notes, 2011; a tuner's page"),
    _size("2½/0", 0.284, "technicians' mailing-list archive, 2001-05"),
    _size("3/0", 0.2865, "from memory (.286 to .287 in)"),
    _size("4/0", 0.291, "from memory"),
    _size("5/0", 0.296, "from memory"),
    _size("6/0", 0.301, "from memory"),
)
"""American sizes. European ones of the same number are often smaller (2/0 sold as 7.00 mm; from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LargerPin:
    """A stock pin larger than the one measured."""

    size: PinSize
    larger_by_mm: Measured
    """How much larger; its error is that of the measured pin."""


def larger_pins(diameter_mm: Measured, *, n: int) -> tuple[LargerPin, ...]:
    """Return the next larger stock pins, nearest first.

    Parameters
    ----------
    diameter_mm : Measured
        Of the old pin where it sat in the plank, 5 to 9 mm.
    n : int
        How many to name.

    Returns
    -------
    tuple of LargerPin
        Only pins that are larger beyond the error of the measurement; fewer than `n` where stock ends.

    Raises
    ------
    InputError
        If the diameter cannot be that of a pin.

    Examples
    --------
    >>> [one.size.label for one in larger_pins(Measured(7.01, 0.01), n=2)]
    ['2/0', '2½/0']
    """
    if not 5.0 <= diameter_mm.value <= 9.0:
        raise InputError.of("diameter_mm", diameter_mm.value, "5 to 9 mm, the diameter of a wrest pin")
    steps = [
        LargerPin(size=size, larger_by_mm=Measured(size.diameter_mm - diameter_mm.value, diameter_mm.se))
        for size in PIN_SIZES
    ]
    return tuple(one for one in steps if one.larger_by_mm.value > 0 and one.larger_by_mm.differs_from(0.0))[:n]


class PinChange(StrEnum):
    """What became of the grip between two surveys."""

    ROSE = "rose"
    FELL = "fell"
    NONE_TOLD = "no change beyond what the pins themselves scatter"
    CANNOT_TELL = "cannot tell"


@dataclass(frozen=True, slots=True, kw_only=True)
class PinComparison:
    """Two surveys of the same pins."""

    verdict: PinChange
    n_pairs: int
    mean_change_nm: Measured | None
    """Mean change; 1.96 se is the half-width of Student's interval, which is wider for few pins."""
    weak_change_nm: Measured | None
    """The same of the pins that were weak before, which are those that treatment is for; ``None`` below six of them."""
    picked_nm: float | None
    """How much of that rise comes from picking them by a reading that has errors: who is read low is read higher next
    time. Their distance below the mean times the share of the readings' variance that is error."""
    n_weak_before: int
    n_weak_after: int
    """Weak: under 50 in-lb, among the pairs."""
    classes_before: Mapping[GripClass, int]
    classes_after: Mapping[GripClass, int]
    still_weak: tuple[tuple[int, StringSide], ...]
    only_before: int
    """Pins that were not read again."""
    only_after: int
    humidity_change_pct: float | None
    cautions: tuple[str, ...] = ()
    cannot_tell: str | None = None


FEWEST_PAIRS: Final = 6
_HUMIDITY_STEP_PCT: Final = 5.0


def compare_surveys(
    before: Sequence[Pin],
    after: Sequence[Pin],
    *,
    rh_before_pct: float | None = None,
    rh_after_pct: float | None = None,
) -> PinComparison:
    """Return what changed from one survey to another of the same pins, with the same tool, in the same direction.

    Parameters
    ----------
    before, after : sequence of Pin
        The surveys; pins are paired by note and string.
    rh_before_pct, rh_after_pct : float, optional
        Relative humidity at each: the plank grips more or less as it swells and shrinks.

    Returns
    -------
    PinComparison
    """
    first, second = {pin.place: pin for pin in before}, {pin.place: pin for pin in after}
    pairs = sorted(first.keys() & second.keys())
    start = np.array([first[one].torque_nm.value for one in pairs])
    change = np.array([second[one].torque_nm.value for one in pairs]) - start
    mean, verdict, why = _mean_change(change), PinChange.CANNOT_TELL, None
    if mean is None:
        why = f"{len(pairs)} pins stand in both surveys; a change needs {FEWEST_PAIRS}"
    else:
        verdict = PinChange.NONE_TOLD
        if mean.differs_from(0.0):
            verdict = PinChange.ROSE if mean.value > 0 else PinChange.FELL
    drift = None if rh_before_pct is None or rh_after_pct is None else rh_after_pct - rh_before_pct
    weak = CLASS_LIMITS[1].below_nm
    of_weak = _mean_change(change[start < weak])
    picked = None
    if of_weak is not None and start.var() > 0:
        error = float(np.mean([first[one].torque_nm.se ** 2 for one in pairs]))
        picked = min(1.0, error / float(start.var(ddof=1))) * float(start.mean() - start[start < weak].mean())
    return PinComparison(
        verdict=verdict,
        n_pairs=len(pairs),
        mean_change_nm=mean,
        weak_change_nm=of_weak,
        picked_nm=picked,
        n_weak_before=sum(first[one].torque_nm.value < weak for one in pairs),
        n_weak_after=sum(second[one].torque_nm.value < weak for one in pairs),
        classes_before=_classes([first[one] for one in pairs]),
        classes_after=_classes([second[one] for one in pairs]),
        still_weak=tuple(one for one in pairs if second[one].torque_nm.value < weak),
        only_before=len(first) - len(pairs),
        only_after=len(second) - len(pairs),
        humidity_change_pct=drift,
        cautions=_cautions(drift),
        cannot_tell=why,
    )


def _mean_change(change: NDArray[np.float64]) -> Measured | None:
    """Return a mean whose 1.96 se are the half-width of Student's interval, or ``None`` from too few pins."""
    n = len(change)
    if n < FEWEST_PAIRS:
        return None
    wider = float(stdtrit(n - 1, 0.975)) / HALF_WIDTHS_PER_SE
    return Measured(float(change.mean()), float(change.std(ddof=1)) / float(np.sqrt(n)) * wider)


def _classes(pins: Sequence[Pin]) -> dict[GripClass, int]:
    return {limit.grip: sum(grip_class(pin.torque_nm.value) is limit.grip for pin in pins) for limit in CLASS_LIMITS}


def _cautions(drift: float | None) -> tuple[str, ...]:
    """Return what else may have moved the grip than the work."""
    if drift is None:
        return ("Humidity was not noted for both surveys: part of a change may be the season's.",)
    if abs(drift) < _HUMIDITY_STEP_PCT:
        return ()
    so = f"Humidity differs by {drift:+.0f} %: the plank swells and shrinks with it, so part of the change may be "
    return (f"{so}the season's. Read again at the humidity of the first survey.",)
