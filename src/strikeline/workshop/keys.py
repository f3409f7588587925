"""Keys: from a table of readings to an even level and dip, what to paper on which key, and bushings to renew."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any, Final

from strikeline.domain.catalogue import Action, Catalogue, Nominal, Place, the_catalogue
from strikeline.domain.reading import Reading
from strikeline.errors import InputError
from strikeline.keyboard import FULL_COMPASS, SHORT_COMPASS, is_white
from strikeline.measured import Measured
from strikeline.physics.even_run import Run, fit_run
from strikeline.physics.key_lever import CountedCompass, balance_paper_mm, capstan_rise_mm, possible_compasses
from strikeline.physics.regulation_plan import nearest_papers
from strikeline.plain_data import plain_data
from strikeline.workshop.bushings import BushingAdvice, judge_bushings
from strikeline.workshop.readings import read_readings
from strikeline.written import read_quantity

SCHEMA: Final = "strikeline.keys/1"
_HEIGHTS: Final = ("key_level", "key_height")
_DIPS: Final = ("key_dip", "sharp_dip_above_natural")
_READ: Final = (*_HEIGHTS, *_DIPS, "sharp_height", "key_side_play")


class Goal(StrEnum):
    """What each key is brought to."""

    RUN = "run"
    """The robust run through its like, straight or (from nine keys on) gently bent: the fewest papers."""
    FIGURE = "figure"
    """The catalogue's figure."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Arms:
    """Arms of a key from its balance pin; one natural measured is enough."""

    front_mm: float
    back_mm: float
    """To where the key rests on the back rail."""
    capstan_mm: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class KeyWork:
    """One key against its goal."""

    key: int
    value: Measured
    away: Measured
    """Reading less goal; its error is that of both."""
    place: Place
    papers_mm: tuple[float, ...]
    """Papers that come nearest, thickest first; only where the key is surely out."""
    papers_are_added: bool
    left_mm: float | None
    """What these papers leave at the key front."""
    capstan_rise_mm: float | None
    """What the papers do to the capstan; ``None`` for papers at the front rail, or without its arm."""
    waits_for_level: bool = False
    """Whether its dip can be set only once it has been levelled and read again: the arms of the key are not known."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KeyRun:
    """One quantity over the naturals or over the sharps."""

    quantity: str
    are_naturals: bool
    nominal: Nominal
    n: int
    at_middle: Measured | None
    """Of the run; ``None`` where too few were read for one."""
    middle_place: Place | None
    """Where that lies against the figure."""
    tilt: Measured | None
    """Last key above first."""
    sag: Measured | None
    """Middle below the chord from first to last; ``None`` with fewer than nine keys."""
    scatter: float | None
    goal: Goal
    keys: tuple[KeyWork, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """How the sharps stand or go against the naturals."""

    quantity: str
    middle: Measured
    nominal: Nominal | None
    place: Place | None


@dataclass(frozen=True, slots=True, kw_only=True)
class KeysAdvice:
    """What the keys of a piano ask for."""

    action: Action
    compasses: tuple[CountedCompass, ...]
    """Those that have the keys counted; empty where none were counted."""
    usual_compass: str | None
    """The one of them that pianos have, as a rule."""
    runs: tuple[KeyRun, ...]
    steps: tuple[Step, ...]
    bushings: tuple[BushingAdvice, ...]
    cautions: tuple[str, ...]

    def to_json(self) -> dict[str, Any]:
        """Return it as plain data in schema ``strikeline.keys/1``."""
        return {"schema": SCHEMA, **{name: plain_data(getattr(self, name)) for name in self.__dataclass_fields__}}


def judge_keys(
    text: str | None,
    *,
    action: str,
    goal: str,
    arms: Arms | None,
    papers_mm: Sequence[float],
    n_keys: int | None,
    n_naturals: int | None,
    lowest_letter: str | None,
) -> KeysAdvice:
    """Read a table of key readings and say how even the keyboard is, what to paper, and what to re-bush.

    Parameters
    ----------
    text : str or None
        The table, as for `readings.read_readings`; ``None`` where keys were only counted.
    action : str
        Kind of action, as in `Action`.
    goal : str
        As in `Goal`.
    arms : Arms or None
        Without them no paper at the balance rail can be told.
    papers_mm : sequence of float
        Papers at hand.
    n_keys, n_naturals : int or None
        Keys counted.
    lowest_letter : str or None
        Name of the lowest key without its octave.

    Returns
    -------
    KeysAdvice

    Raises
    ------
    InputError
        If something cannot be read, or there is neither a reading of a key nor a count.
    """
    kind, catalogue = Action(action), the_catalogue()
    compasses = () if n_keys is None else _compasses(n_keys, n_naturals, lowest_letter)
    readings = () if text is None else read_readings(text, catalogue=catalogue)
    readings = tuple(one for one in readings if one.quantity in _READ)
    if not readings and n_keys is None:
        names = ", ".join(catalogue[name].names["gb"] for name in _READ)
        raise InputError(f"there is no reading of a key and no count of keys; measure any of {names}", name="table")
    work = _Work(catalogue, kind, Goal(goal), arms, tuple(papers_mm))
    heights = [run for name in _HEIGHTS for run in work.runs(readings, name, raised={})]
    # A key that is raised gains as much dip, which its front papers then have to take.
    raised = {key.key: -key.away.value + (key.left_mm or 0.0) for run in heights for key in run.keys if key.papers_mm}
    # How much it gains is not known without the arms: then its dip waits.
    out = {Place.LOW, Place.HIGH}
    waiting = frozenset(key.key for run in heights for key in run.keys if key.place in out and not key.papers_mm)
    dips = [
        *work.runs(readings, "key_dip", raised=raised, waiting=waiting),
        *work.runs(readings, "sharp_dip_above_natural", raised=_beside(raised), waiting=_sharps_beside(waiting)),
    ]
    used = tuple(dict.fromkeys(one.quantity for one in readings))
    return KeysAdvice(
        action=kind,
        compasses=compasses,
        usual_compass=_usual(compasses),
        runs=(*heights, *dips),
        steps=tuple(_steps(readings, catalogue, kind)),
        bushings=judge_bushings(readings, catalogue["key_side_play"].nominal(kind), n_keys=n_keys or len(FULL_COMPASS)),
        cautions=catalogue.cautions_of(used),
    )


def _beside(raised: dict[int, float]) -> dict[int, float]:
    """Return what raised naturals take from the readings of the sharps between them."""
    sharps = {near for key in raised if is_white(key) for near in (key - 1, key + 1) if not is_white(near)}
    return {key: -(raised.get(key - 1, 0.0) + raised.get(key + 1, 0.0)) / 2.0 for key in sharps}


def _sharps_beside(naturals: frozenset[int]) -> frozenset[int]:
    """Return the sharps that are read against naturals."""
    return frozenset(near for key in naturals if is_white(key) for near in (key - 1, key + 1) if not is_white(near))


def _compasses(n_keys: int, n_naturals: int | None, lowest: str | None) -> tuple[CountedCompass, ...]:
    found = possible_compasses(n_keys, n_naturals=n_naturals, lowest_letter=lowest)
    if not found:
        given = f"{n_keys} keys, {n_naturals} naturals, lowest {lowest}"
        raise InputError.of("count", given, "counts that go together; count again from the lowest key up")
    return found


def _usual(compasses: Sequence[CountedCompass]) -> str | None:
    """Return the compass of most pianos with 88 keys and with 85 (usual to the 1880s, British makes to the 1930s)."""
    usual = {str(FULL_COMPASS), str(SHORT_COMPASS)}
    return next((str(one.compass) for one in compasses if str(one.compass) in usual), None)


@dataclass(frozen=True, slots=True)
class _Work:
    catalogue: Catalogue
    action: Action
    goal: Goal
    arms: Arms | None
    papers_mm: tuple[float, ...]

    def runs(
        self,
        readings: Sequence[Reading],
        name: str,
        *,
        raised: dict[int, float],
        waiting: frozenset[int] = frozenset(),
    ) -> list[KeyRun]:
        nominal = self.catalogue[name].nominal(self.action)
        if nominal is None:
            return []
        found = list[KeyRun]()
        for are_naturals in (True, False):
            own = [one for one in readings if one.quantity == name and one.key is not None]
            own = [one for one in own if is_white(one.key or 0) is are_naturals]
            if own:
                run = self._run(sorted(own, key=lambda one: one.key or 0), name, nominal, are_naturals, raised)
                found.append(replace(run, keys=tuple(_held(key, waiting) for key in run.keys)))
        return found

    def _run(
        self,
        own: Sequence[Reading],
        name: str,
        nominal: Nominal,
        are_naturals: bool,
        raised: dict[int, float],
    ) -> KeyRun:
        keys, values = [one.key or 0 for one in own], [one.value for one in own]
        line = fit_run(keys, values, degree=1)
        bent = fit_run(keys, values, degree=2) if len(own) >= 9 else None
        # A gentle bend over the keyboard is felt by nobody; a key that leaves it is. Taking the bend only where it is
        # sure would leave small ones in the departures, beyond their errors.
        line = line if bent is None else bent
        goal = self.goal if line is not None else Goal.FIGURE
        wanted = self._wanted(line if goal is Goal.RUN else None, nominal)
        is_height = name in _HEIGHTS
        work = tuple(
            self._key(key, value, wanted(key), nominal, is_height=is_height, raised_mm=raised.get(key, 0.0))
            for key, value in zip(keys, values, strict=True)
        )
        middle = None if line is None else line.at(line.middle_key)
        return KeyRun(
            quantity=name,
            are_naturals=are_naturals,
            nominal=nominal,
            n=len(own),
            at_middle=middle,
            middle_place=None if middle is None else nominal.place_of(middle),
            tilt=None if line is None else line.tilt,
            sag=None if bent is None else bent.sag,
            scatter=None if line is None else line.scatter,
            goal=goal,
            keys=work,
        )

    def _wanted(self, line: Run | None, nominal: Nominal) -> Callable[[int], Measured]:
        return (lambda _key: Measured(nominal.value, 0.0)) if line is None else line.at

    def _key(
        self, key: int, value: Measured, wanted: Measured, nominal: Nominal, *, is_height: bool, raised_mm: float
    ) -> KeyWork:
        away = Measured(value.value + raised_mm - wanted.value, math.hypot(value.se, wanted.se))
        place = nominal.place_of(away, figure=0.0)
        papers, added, left, capstan = self._papers(away.value, nominal, is_height=is_height)
        if place not in {Place.HIGH, Place.LOW}:
            papers, added, left, capstan = (), False, None, None
        return KeyWork(
            key=key,
            value=value,
            away=away,
            place=place,
            papers_mm=papers,
            papers_are_added=added,
            left_mm=left,
            capstan_rise_mm=capstan,
        )

    def _papers(
        self, away_mm: float, nominal: Nominal, *, is_height: bool
    ) -> tuple[tuple[float, ...], bool, float | None, float | None]:
        """Return papers, whether they go in, what they leave at the front, what they do to the capstan."""
        if not is_height:
            # Dip of naturals shrinks by the paper; a depressed sharp rises by it, its reading grows.
            is_sharp_reading = nominal is self._sharp_dip()
            papers = nearest_papers(abs(away_mm), self.papers_mm)
            added = (away_mm < 0) if is_sharp_reading else (away_mm > 0)
            return papers, added, math.copysign(abs(away_mm) - sum(papers), away_mm), None
        if self.arms is None:
            return (), False, None, None
        arms = {"front_arm_mm": self.arms.front_mm, "back_arm_mm": self.arms.back_mm}
        thick = float(balance_paper_mm(front_rise_mm=-away_mm, **arms))
        papers = nearest_papers(abs(thick), self.papers_mm)
        done = math.copysign(sum(papers), thick)
        left = away_mm * (1.0 - done / thick) if thick else 0.0
        capstan = None
        if self.arms.capstan_mm is not None:
            capstan = float(
                capstan_rise_mm(
                    balance_paper_mm=done, capstan_arm_mm=self.arms.capstan_mm, back_arm_mm=self.arms.back_mm
                )
            )
        return papers, thick > 0, left, capstan

    def _sharp_dip(self) -> Nominal | None:
        return self.catalogue["sharp_dip_above_natural"].nominal(self.action)


def _held(key: KeyWork, waiting: frozenset[int]) -> KeyWork:
    """Return the work of a key without its papers where its level has to be put right first."""
    if key.key not in waiting or not key.papers_mm:
        return key
    return replace(key, papers_mm=(), papers_are_added=False, left_mm=None, waits_for_level=True)


def _steps(readings: Sequence[Reading], catalogue: Catalogue, action: Action) -> list[Step]:
    """Return how sharps stand above naturals at rest, and how far held sharps stay above them."""
    found = list[Step]()
    for name in ("sharp_height", "sharp_dip_above_natural"):
        values = [one.value for one in readings if one.quantity == name]
        if not values:
            continue
        n = len(values)
        middle = sum(one.value for one in values) / n
        spread = math.sqrt(sum((one.value - middle) ** 2 for one in values) / max(1, n - 1))
        own = math.sqrt(sum(one.se**2 for one in values) / n)
        mean = Measured(middle, max(spread, own) / math.sqrt(n))
        nominal = catalogue[name].nominal(action)
        found.append(
            Step(quantity=name, middle=mean, nominal=nominal, place=None if nominal is None else nominal.place_of(mean))
        )
    return found


def read_arms(front: str | None, back: str | None, capstan: str | None) -> Arms | None:
    """Return the arms of a key as written; ``None`` where none is given.

    Parameters
    ----------
    front, back, capstan : str or None
        From the balance pin to the key front, to the back rail, to the capstan.

    Raises
    ------
    InputError
        If one cannot be read, or front and back are not both given.
    """
    if front is None and back is None and capstan is None:
        return None
    if front is None or back is None:
        raise InputError("papers at the balance rail need both --front-arm and --back-arm; measure one natural")
    arm = None if capstan is None else read_quantity(capstan, name="capstan arm", unit="mm", low=20.0, high=500.0).value
    return Arms(
        front_mm=read_quantity(front, name="front arm", unit="mm", low=80.0, high=500.0).value,
        back_mm=read_quantity(back, name="back arm", unit="mm", low=60.0, high=500.0).value,
        capstan_mm=arm,
    )


def read_papers(written: str) -> tuple[float, ...]:
    """Return thicknesses of papers in millimetres, as written with commas between them."""
    parts = [one for one in written.split(",") if one.strip()]
    return tuple(read_quantity(one, name="paper", unit="mm", low=0.01, high=5.0).value for one in parts)
