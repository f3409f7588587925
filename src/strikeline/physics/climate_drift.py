"""Two visits to one piano, and whether what the pitch did is climate.

Humidity moves the whole compass in a smooth curve, most in the tenor, in the direction of the change, and leaves single
notes with their neighbours. Pins that slip, strings that settle and rough tuning move notes one by one. A change of
tuning or a cold room moves all alike. What follows weighs these by their size against what repeats; it gives words with
their reasons, no probability, and says so where it cannot tell.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

import numpy as np

from strikeline.errors import InputError
from strikeline.keyboard import key_name
from strikeline.measured import HALF_WIDTHS_PER_SE, Measured, carry
from strikeline.physics.climate_effects import CALL_BACK_RH_PCT, CENTS_PER_RH_PCT_AT_A4, temperature_drift
from strikeline.physics.drift_shape import REPEATS_CENTS, DriftShape, fit_shape

FEWEST_NOTES: Final = 16
NARROWEST_KEYS: Final = 30
"""Keys from the lowest to the highest note heard, below which no curve over the compass can be told."""
USUAL_SCATTER_CENTS: Final = 2.0
"""Note-to-note scatter that humidity itself brings with it: unisons smear by about 2 cents (a technicians' forum, 2014,
one piano)."""


class DriftVerdict(StrEnum):
    """What a change of pitch between two visits is."""

    NO_CHANGE = "no change beyond what repeats"
    CLIMATE = "fits climate"
    PARTLY = "climate, and something else"
    NOT_CLIMATE = "does not fit climate"
    CANNOT_TELL = "cannot tell"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DriftJudgement:
    """Whether a change of pitch is climate, with what speaks for and against."""

    verdict: DriftVerdict
    shape: DriftShape | None
    rh_change_pct: Measured | None
    cents_per_rh_pct: Measured | None
    """Change from A3 to A4 for each % of humidity, where that changed enough."""
    speaks_for: tuple[str, ...] = ()
    """What fits climate."""
    speaks_against: tuple[str, ...] = ()
    left_open: tuple[str, ...] = ()
    """What would settle it."""


def judge_drift(
    changes_cents: Mapping[int, Measured],
    *,
    rh_change_pct: Measured | None,
    temperature_change_degc: Measured | None = None,
    break_after: int | None = None,
    repeats_cents: float = REPEATS_CENTS,
) -> DriftJudgement:
    """Return whether the change of pitch between two visits is climate.

    Parameters
    ----------
    changes_cents : mapping of int to Measured
        Pitch after less before, by key number; nobody tuned the piano between.
    rh_change_pct : Measured or None
        Relative humidity after less before, with the errors of the hygrometer; ``None`` where it was not noted.
    temperature_change_degc : Measured, optional
        Temperature after less before.
    break_after : int, optional
        Last key on the bass bridge; the two bridges then move as they like.
    repeats_cents : float
        Standard deviation with which one note repeats from one recording to the next, 0 or more.

    Returns
    -------
    DriftJudgement
    """
    if not repeats_cents >= 0.0:
        raise InputError.of("repeats_cents", repeats_cents, "0 cents or more")
    untold = DriftJudgement(
        verdict=DriftVerdict.CANNOT_TELL, shape=None, rh_change_pct=rh_change_pct, cents_per_rh_pct=None
    )
    if len(changes_cents) < FEWEST_NOTES or max(changes_cents) - min(changes_cents) < NARROWEST_KEYS:
        heard = f"{len(changes_cents)} notes were heard at both visits"
        return replace(untold, left_open=(f"{heard}; a curve needs {FEWEST_NOTES} over {NARROWEST_KEYS} keys.",))
    shape = fit_shape(changes_cents, break_after=break_after, repeats_cents=repeats_cents)
    return _Judge(shape, rh_change_pct, temperature_change_degc).judged()


class _Judge:
    """Weighs a shape against a change of climate; gathers its reasons as it goes."""

    def __init__(self, shape: DriftShape, rh: Measured | None, warmer: Measured | None) -> None:
        self.shape, self.rh, self.warmer = shape, rh, warmer
        self.fits, self.against, self.left_open = list[str](), list[str](), list[str]()

    def judged(self) -> DriftJudgement:
        verdict = self._verdict()
        tenor, rh = self.shape.tenor_cents, self.rh
        rate = None
        if tenor is not None and rh is not None and abs(rh.value) >= CALL_BACK_RH_PCT:
            rate = carry(lambda cents, change: cents / change, cents=tenor, change=rh)
        return DriftJudgement(
            verdict=verdict,
            shape=self.shape,
            rh_change_pct=rh,
            cents_per_rh_pct=rate,
            speaks_for=tuple(self.fits),
            speaks_against=tuple(self.against),
            left_open=tuple(self.left_open),
        )

    def _verdict(self) -> DriftVerdict:
        self._describe_temperature()
        if not self._has_changed():
            if self.rh is not None and abs(self.rh.value) >= CALL_BACK_RH_PCT:
                self.left_open.append("Humidity changed and the pitch did not: steady, or not settled yet.")
            return DriftVerdict.NO_CHANGE
        rough = self._is_rough()
        if self.rh is None:
            self.left_open.append(
                "Relative humidity is not known for both visits; without it no drift is called climate."
            )
            return DriftVerdict.CANNOT_TELL
        if abs(self.rh.value) < CALL_BACK_RH_PCT:
            return self._with_little_change(self.rh, rough=rough)
        return self._with_change(self.rh, rough=rough)

    def _has_changed(self) -> bool:
        shape = self.shape
        return (
            shape.mean_cents.differs_from(0.0, by_se=_CHANGED_BY_SE)
            or shape.chance_of_curve < _FALSE_ALARM / _LOOKS
            or shape.chance_of_scatter < _FALSE_ALARM / _LOOKS
            or bool(shape.off_the_curve)
        )

    def _is_rough(self) -> bool:
        """Return whether single notes moved more than humidity makes them."""
        shape = self.shape
        scatter, limit = shape.scatter_cents, self._scatter_limit()
        if shape.off_the_curve:
            names = ", ".join(key_name(key, typographic=True) for key in shape.off_the_curve)
            self.against.append(
                f"Moved by themselves, unlike their neighbours: {names}. Look at those pins and strings."
            )
        many = len(shape.off_the_curve) > _MANY_OFF * shape.n
        if scatter.value - scatter.half_width > limit:
            self.against.append(
                f"Notes scatter about the curve by {scatter.value:.1f} cents, more than the {limit:.1f} cents that "
                "humidity is known to bring with it."
            )
            return True
        return many

    def _scatter_limit(self) -> float:
        curve = [one.value for one in self.shape.curve_cents.values()]
        return max(USUAL_SCATTER_CENTS, 0.5 * float(np.sqrt(np.mean(np.square(curve)))))

    def _most_cents(self, rh: Measured) -> float:
        """Return the most that reports let expect from A3 to A4 for this change, errors included."""
        rate = CENTS_PER_RH_PCT_AT_A4.value + HALF_WIDTHS_PER_SE * CENTS_PER_RH_PCT_AT_A4.se
        return _MEAN_GROWTH * rate * (abs(rh.value) + rh.half_width)

    def _is_too_much(self, rh: Measured) -> bool:
        tenor = self.shape.tenor_cents or self.shape.mean_cents
        too_much = abs(tenor.value) - tenor.half_width > self._most_cents(rh)
        if too_much:
            self.against.append(
                f"A3 to A4 moved by {abs(tenor.value):.1f} cents; reports lead to expect {self._most_cents(rh):.1f} at "
                f"most from {abs(rh.value):.0f} % of humidity."
            )
        return too_much

    def _with_little_change(self, rh: Measured, *, rough: bool) -> DriftVerdict:
        """Humidity stood nearly still: what moved far moved for another reason."""
        if self._is_too_much(rh) or rough:
            self.against.append(
                f"Humidity changed by {abs(rh.value):.0f} % only; a call-back is humidity's from "
                f"{CALL_BACK_RH_PCT:.0f} % on."
            )
            return self._not_humidity(rough=rough)
        self.left_open.append("Both changes are small: this much can come from humidity or from anything else.")
        return DriftVerdict.CANNOT_TELL

    def _with_change(self, rh: Measured, *, rough: bool) -> DriftVerdict:
        """Humidity changed enough to ask whether the pitch went its way, by its measure, in its shape."""
        tenor = self.shape.tenor_cents
        if tenor is None:
            self.left_open.append("Too few notes from A3 to A4 were heard, where humidity is best known.")
            return DriftVerdict.CANNOT_TELL
        air = "damper" if rh.value > 0 else "drier"
        if not tenor.differs_from(0.0):
            if rough:
                self.against.append(f"The air became {air}, yet A3 to A4 stayed; what moved are single notes.")
                return DriftVerdict.NOT_CLIMATE
            self.left_open.append(f"The air became {air}, yet A3 to A4 stayed within the errors.")
            return DriftVerdict.CANNOT_TELL
        way = "sharper" if tenor.value > 0 else "flatter"
        if tenor.value * rh.value < 0:
            self.against.append(f"The air became {air} and A3 to A4 {way}: humidity moves them the other way.")
            return self._not_humidity(rough=rough)
        self.fits.append(f"The air became {air} and A3 to A4 {way}, as humidity moves them.")
        too_much = self._is_too_much(rh)
        if not too_much:
            self.fits.append(f"{abs(tenor.value):.1f} cents for {abs(rh.value):.0f} % is within what was reported.")
        if not self._has_shape_of_humidity(tenor):
            return DriftVerdict.PARTLY if rough else DriftVerdict.CANNOT_TELL
        return DriftVerdict.PARTLY if rough or too_much else DriftVerdict.CLIMATE

    def _has_shape_of_humidity(self, tenor: Measured) -> bool:
        """Return whether the notes moved unlike each other, the tenor more than the top."""
        top = self.shape.top_cents
        if not self.shape.is_curved:
            self.left_open.append(
                "All notes moved alike, as far as the errors show. A retuning to another pitch does that, or a room of "
                "another temperature; humidity usually moves the tenor most."
            )
            return False
        if top is None:
            self.left_open.append("The top octave was not heard; whether it moved less than the tenor stays open.")
            return True
        if abs(top.value) >= abs(tenor.value):
            self.left_open.append("The top octave moved as far as the tenor; humidity usually moves the tenor more.")
            return False
        self.fits.append("The tenor moved further than the top octave, in a smooth curve.")
        return True

    def _not_humidity(self, *, rough: bool) -> DriftVerdict:
        """Return what a change is that humidity does not explain: temperature may, unless notes moved one by one."""
        return DriftVerdict.CANNOT_TELL if not rough and self._may_be_temperature() else DriftVerdict.NOT_CLIMATE

    def _may_be_temperature(self) -> bool:
        """Return whether temperature alone may have moved A3 to A4 that way and that far, frame and strings unsettled.

        A warmer string is flatter; how far depends on how long the frame had to follow, which nobody noted. So it
        opens what humidity closes, and never closes anything itself.
        """
        if self.warmer is None or not self.warmer.differs_from(0.0):
            return False
        tenor = self.shape.tenor_cents or self.shape.mean_cents
        most = temperature_drift(self.warmer).at_once_cents
        has_its_way = tenor.value * most.value > 0
        reach = abs(most.value) + most.half_width
        if not has_its_way or abs(tenor.value) - tenor.half_width > reach:
            return False
        self.left_open.append(
            "Temperature moves A3 to A4 that way, and may have moved them that far: let the room and the frame come to "
            "the temperature of the first visit, and listen again."
        )
        return True

    def _describe_temperature(self) -> None:
        """Say what temperature alone may have done, where it changed by more than its thermometers' error."""
        if self.warmer is None:
            self.left_open.append("Temperature was not noted for both visits.")
            return
        if self.warmer.differs_from(0.0):
            drift = temperature_drift(self.warmer)
            self.left_open.append(
                f"Temperature alone: {_signed(drift.settled_cents)} cents once settled, up to "
                f"{_signed(drift.at_once_cents)} while the frame has not followed the strings."
            )


def _signed(cents: Measured) -> str:
    """Return cents with a sign and a true minus."""
    return f"{cents.value:+.1f}".replace("-", "−")


_FALSE_ALARM: Final = 0.05
_LOOKS: Final = 4
_CHANGED_BY_SE: Final = 2.5
"""Normal quantile of a quarter of the false alarms: level, curve, scatter and single notes share the 5 %."""
_MANY_OFF: Final = 0.05
"""Share of notes off the curve that makes a change rough (our reasoning)."""
_MEAN_GROWTH: Final = 1.44
"""Mean of 2^x for x from 0 to 1, 1/ln 2: A3 to A4 against A4 alone, where drift doubles with each octave down."""
