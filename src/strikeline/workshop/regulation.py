"""Regulating an action: from a table of readings to what they mean together and what to turn on each note."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Final

from strikeline.domain.catalogue import Action, Catalogue, the_catalogue
from strikeline.domain.reading import Reading
from strikeline.domain.regulation_order import ORDER
from strikeline.errors import InputError
from strikeline.measured import Measured, carry
from strikeline.physics.regulation import (
    Change,
    NoteState,
    RatioEstimate,
    estimate_ratio,
    ratio_from_regulation,
    ratio_from_rise,
)
from strikeline.physics.regulation_plan import (
    EFFECT_NAMES,
    MeasuredNote,
    Plan,
    Screws,
    effects,
    plan_corrections,
)
from strikeline.physics.regulation_targets import Floats, Targets, find_targets, share_targets
from strikeline.plain_data import plain_data
from strikeline.workshop.readings import read_readings, value_of
from strikeline.workshop.regulation_wear import OF_THE_ACTION, Middle, Wear, find_middles, judge_wear
from strikeline.written import read_quantity

SCHEMA: Final = "strikeline.regulation/1"
KEY_TRAVEL_MM: Final = 6.0
"""Key travel of the reading ``hammer_rise_at_6_mm``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RegulationAdvice:
    """What readings of an action mean together, and what to do."""

    action: Action
    middles: tuple[Middle, ...]
    wear: Wear
    ratio: RatioEstimate
    ratio_from: str
    """How the ratio was found."""
    targets: Targets
    usual: dict[str, tuple[float, float]]
    """The range that sources give, by quantity, of what was not wanted."""
    wanted: tuple[str, ...]
    """Quantities that were wanted as they are."""
    unusual: tuple[str, ...]
    """Quantities whose figure surely lies outside it."""
    doubtful: tuple[str, ...]
    """Quantities whose figure may lie outside it, for all that is known of the ratio."""
    follows: tuple[tuple[str, dict[str, float]], ...]
    """What some changes do to the others, on the middle note of this action: words of the change, then millimetres."""
    plan: Plan | None
    """``None`` while a figure lies outside what is usual: nothing is turned for figures that do not go together."""
    screws: Screws
    order: tuple[str, ...]

    @property
    def cautions(self) -> tuple[str, ...]:
        """Return the cautions that go with what was read."""
        return the_catalogue().cautions_of(one.quantity for one in self.middles)

    def to_json(self) -> dict[str, Any]:
        """Return it as plain data in schema ``strikeline.regulation/1``."""
        fields = (
            "action",
            "middles",
            "wear",
            "ratio",
            "ratio_from",
            "targets",
            "usual",
            "wanted",
            "unusual",
            "doubtful",
            "plan",
            "screws",
            "order",
        )
        return {
            "schema": SCHEMA,
            **{name: plain_data(getattr(self, name)) for name in fields},
            "follows": [{"change": words, "moves_mm": moved} for words, moved in self.follows],
            "cautions": list(self.cautions),
        }


def advise(
    text: str,
    *,
    action: str,
    floats: str,
    wanted: Sequence[str] = (),
    capstan_pitch: str,
    capstan_ratio: float,
    set_off_per_turn: str | None = None,
    papers: Sequence[str] = (),
) -> RegulationAdvice:
    """Read a table of readings and say what it means and what to turn.

    Parameters
    ----------
    text : str
        The table, as for `readings.read_readings`.
    action : str
        Kind of action, as in `Action`.
    floats : str
        ``"blow"``, ``"dip"`` or ``"aftertouch"``: the one that follows from the others; ``"shared"`` if all give.
    wanted : sequence of str
        This piano's own figures, such as ``"blow = 45 mm"``; the usual figures hold for what is not given.
    capstan_pitch : str
        Rise of a capstan for one turn, as written.
    capstan_ratio : float
        Capstan travel over key travel.
    set_off_per_turn : str or None
        How far one turn of a set-off button moves set-off, as written; measured on one note.
    papers : sequence of str
        Thicknesses of washers and papers at hand, as written.

    Returns
    -------
    RegulationAdvice

    Raises
    ------
    InputError
        If something cannot be read, or nothing gives the ratio of the action.
    """
    kind, catalogue, floating = Action(action), the_catalogue(), Floats(floats)
    readings = read_readings(text, catalogue=catalogue)
    notes = _notes(readings)
    if not notes:
        raise InputError("the table holds no reading of the action; measure blow, set-off, key dip and lost motion")
    ratio, how = _ratio(readings, notes, catalogue)
    figures = _figures(wanted, catalogue, kind, floating)
    targets = _targets(ratio.ratio, floating, figures)
    usual = {name: ends for name, (_value, ends, is_wanted) in figures.items() if ends is not None and not is_wanted}
    places = {name: _lies_within(_figure_of(targets, name), ends) for name, ends in usual.items()}
    unusual = tuple(name for name, place in places.items() if place is False)
    screws = _screws(capstan_pitch, capstan_ratio, set_off_per_turn, papers)
    middles = tuple(find_middles(readings, catalogue, kind))
    has_rest_rail = kind is not Action.GRAND
    return RegulationAdvice(
        action=kind,
        middles=middles,
        wear=judge_wear(middles),
        ratio=ratio,
        ratio_from=how,
        targets=targets,
        usual=usual,
        wanted=tuple(name for name, (_value, _ends, is_wanted) in figures.items() if is_wanted),
        unusual=unusual,
        doubtful=tuple(name for name, place in places.items() if place is None),
        follows=_follows(targets, ratio.ratio.value, screws, has_rest_rail=has_rest_rail),
        plan=None
        if unusual
        else plan_corrections(notes, targets=targets, ratio=ratio, screws=screws, has_rest_rail=has_rest_rail),
        screws=screws,
        order=ORDER[kind],
    )


_QUANTITY_OF: Final = {Floats.BLOW: "blow", Floats.DIP: "key_dip", Floats.AFTERTOUCH: "aftertouch"}


def _screws(pitch: str, ratio: float, set_off_per_turn: str | None, papers: Sequence[str]) -> Screws:
    return Screws(
        capstan_pitch_mm=_length(pitch, "capstan pitch"),
        capstan_ratio=ratio,
        set_off_mm_per_turn=None if set_off_per_turn is None else _length(set_off_per_turn, "set-off per turn"),
        papers_mm=tuple(_length(one, "paper") for one in papers),
    )


def _length(written: str, name: str) -> float:
    return read_quantity(written, name=name, unit="mm", low=0.01, high=10.0).value


def _notes(readings: Iterable[Reading]) -> list[MeasuredNote]:
    """Return the readings gathered note by note, from the bass up; of repeated ones the mean."""
    by_key = dict[int, dict[str, list[Measured]]]()
    for one in readings:
        if one.key is not None and one.quantity in OF_THE_ACTION:
            by_key.setdefault(one.key, {}).setdefault(one.quantity, []).append(one.value)
    return [
        MeasuredNote(
            key=key,
            dip_mm=_mean(own.get("key_dip")),
            blow_mm=_mean(own.get("blow")),
            set_off_mm=_mean(own.get("set_off")),
            lost_motion_mm=_mean(own.get("lost_motion")),
            checking_mm=_mean(own.get("checking")),
            aftertouch_mm=_mean(own.get("aftertouch")),
        )
        for key, own in sorted(by_key.items())
    ]


def _mean(values: Sequence[Measured] | None) -> Measured | None:
    if not values:
        return None
    n = len(values)
    return Measured(sum(one.value for one in values) / n, math.sqrt(sum(one.se**2 for one in values)) / n)


def _ratio(
    readings: Sequence[Reading], notes: Sequence[MeasuredNote], catalogue: Catalogue
) -> tuple[RatioEstimate, str]:
    """Return the ratio from the hammer's rise where it was read, else from notes that were fully measured."""
    lost: dict[int | None, Measured | None] = {note.key: note.lost_motion_mm for note in notes}
    rises = [one for one in readings if one.quantity == "hammer_rise_at_6_mm"]
    if rises:
        found = [
            carry(
                lambda rise, missing: ratio_from_rise(
                    hammer_rise_mm=rise, key_travel_mm=KEY_TRAVEL_MM, lost_motion_mm=max(0.0, missing)
                ),
                rise=one.value,
                missing=lost.get(one.key) or Measured(0.0, 0.0),
            )
            for one in rises
        ]
        return estimate_ratio(found), "the hammer's rise for 6 mm of key"
    full = [note for note in notes if note.dip_mm and note.blow_mm and note.set_off_mm and note.aftertouch_mm]
    if not full:
        name = catalogue["hammer_rise_at_6_mm"].names["gb"]
        raise InputError(
            f"nothing tells the ratio of hammer to key; read {name} on two or three notes, or dip, blow, set-off and "
            "aftertouch on the same note",
            name="ratio",
        )
    return estimate_ratio([_full_ratio(note) for note in full]), "notes with dip, blow, set-off and aftertouch"


def _full_ratio(note: MeasuredNote) -> Measured:
    inputs = {
        "dip_mm": note.dip_mm,
        "blow_mm": note.blow_mm,
        "set_off_mm": note.set_off_mm,
        "aftertouch_mm": note.aftertouch_mm,
        "lost_motion_mm": note.lost_motion_mm or Measured(0.0, 0.0),
    }
    known = {name: value for name, value in inputs.items() if value is not None}
    return carry(
        lambda **plain: ratio_from_regulation(**{**plain, "lost_motion_mm": max(0.0, plain["lost_motion_mm"])}), **known
    )


def _figures(
    wanted: Sequence[str], catalogue: Catalogue, action: Action, floats: Floats
) -> dict[str, tuple[float, tuple[float, float] | None, bool]]:
    """Return for each quantity of the action its figure, the range that sources give, and whether it is wanted."""
    figures = dict[str, tuple[float, tuple[float, float] | None, bool]]()
    for name in OF_THE_ACTION:
        nominal = catalogue[name].nominal(action)
        if nominal is not None:
            ends = None if nominal.low is None or nominal.high is None else (nominal.low, nominal.high)
            figures[name] = (nominal.value, ends, False)
    for written in wanted:
        name, equals, figure = written.partition("=")
        if not equals:
            raise InputError.of("want", written, "a name and a value, such as 'blow=45mm'")
        quantity = catalogue.find(name)
        if quantity.id == _QUANTITY_OF.get(floats):
            others = " or ".join(one.value for one in Floats if one is not floats)
            raise InputError(
                f"{floats.value} floats, so it cannot be wanted; let another float: {others}", name="float"
            )
        if quantity.id not in OF_THE_ACTION:
            allowed = ", ".join(catalogue[one].names["gb"] for one in OF_THE_ACTION)
            raise InputError.of("want", written, f"one of {allowed}")
        figures[quantity.id] = (value_of(quantity, figure).value, None, True)
    missing = [name for name in OF_THE_ACTION if name not in figures]
    if missing:
        raise InputError(f"no usual figure is known for {', '.join(missing)}; give your own with --want", name="want")
    return figures


def _targets(
    ratio: Measured, floats: Floats, figures: dict[str, tuple[float, tuple[float, float] | None, bool]]
) -> Targets:
    set_off, lost, checking = (figures[name][0] for name in ("set_off", "lost_motion", "checking"))
    if floats is Floats.SHARED:
        return share_targets(
            ratio,
            set_off_mm=set_off,
            lost_motion_mm=lost,
            checking_mm=checking,
            usual={what: _middle_and_half(figures[name]) for what, name in _QUANTITY_OF.items()},
        )
    given = {what: figures[name][0] for what, name in _QUANTITY_OF.items() if what is not floats}
    return find_targets(
        ratio,
        floats=floats,
        set_off_mm=set_off,
        lost_motion_mm=lost,
        checking_mm=checking,
        dip_mm=given.get(Floats.DIP),
        blow_mm=given.get(Floats.BLOW),
        aftertouch_mm=given.get(Floats.AFTERTOUCH),
    )


def _middle_and_half(figure: tuple[float, tuple[float, float] | None, bool]) -> tuple[float, float]:
    value, ends, _is_wanted = figure
    return (value, 0.0) if ends is None else ((ends[0] + ends[1]) / 2.0, (ends[1] - ends[0]) / 2.0)


def _figure_of(targets: Targets, name: str) -> Measured:
    exact = {"set_off": targets.set_off_mm, "lost_motion": targets.lost_motion_mm, "checking": targets.checking_mm}
    return {
        "blow": targets.blow_mm,
        "key_dip": targets.dip_mm,
        "aftertouch": targets.aftertouch_mm,
        **{quantity: Measured(value or 0.0, 0.0) for quantity, value in exact.items()},
    }[name]


def _lies_within(value: Measured, usual: tuple[float, float]) -> bool | None:
    """Return whether a value lies in a range, ``None`` where its error reaches over an end."""
    half = value.half_width
    if usual[0] <= value.value - half and value.value + half <= usual[1]:
        return True
    return False if value.value + half < usual[0] or value.value - half > usual[1] else None


def _follows(
    targets: Targets, ratio: float, screws: Screws, *, has_rest_rail: bool
) -> tuple[tuple[str, dict[str, float]], ...]:
    """Return what usual changes do to a note that is regulated to the targets."""
    note = NoteState(
        dip_mm=targets.dip_mm.value,
        blow_mm=targets.blow_mm.value,
        set_off_mm=targets.set_off_mm,
        lost_motion_mm=targets.lost_motion_mm,
        checking_mm=targets.checking_mm or 0.0,
        ratio=ratio,
        capstan_ratio=screws.capstan_ratio,
        check_on_whippen=has_rest_rail,
    )
    changes = (
        ("0.4 mm more dip", Change.DIP, 0.4),
        ("1 mm wider set-off", Change.SET_OFF, 1.0),
        *([("rest rail 2 mm nearer to the strings", Change.BLOW, -2.0)] if has_rest_rail else []),
        ("capstan up a quarter turn", Change.CAPSTAN, screws.capstan_pitch_mm / 4.0),
        ("hammers 1 mm shorter after refacing", Change.HAMMER_SHORTER, 1.0),
    )
    moved = ((words, effects(note, change, amount)) for words, change, amount in changes)
    # A grand's hammers rest on no rail.
    rail = () if has_rest_rail else (EFFECT_NAMES["off_rail_mm"],)
    return tuple((words, {name: by for name, by in moves.items() if name not in rail}) for words, moves in moved)
