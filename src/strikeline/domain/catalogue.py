"""The catalogue of quantities: what is measured at the bench, how, in which unit, and what a reading means.

The entries are data, in ``quantities.toml`` beside this file. A workshop or a maker's leaflet can override the figures
for one instrument; nothing else about an entry changes then.
"""

from __future__ import annotations

import difflib
import functools
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum
from importlib import resources
from types import MappingProxyType
from typing import Final

from strikeline.domain.fields import Fields
from strikeline.errors import InputError
from strikeline.measured import Measured
from strikeline.units import UNITS

SCHEMA: Final = "strikeline.quantities/1"
HEARD: Final = frozenset({"brightness", "repetition"})
"""What a quantity may disturb that is heard or felt, not measured at the bench."""


class Action(StrEnum):
    """Kinds of action; nominal values differ between them."""

    UPRIGHT_UNDER_DAMPER = "upright_under_damper"
    UPRIGHT_OVER_DAMPER = "upright_over_damper"
    GRAND = "grand"


class Per(StrEnum):
    """What a reading belongs to."""

    KEY = "key"
    HAMMER = "hammer"
    STRING = "string"
    PIN = "pin"
    CENTRE = "centre"
    BRIDGE = "bridge"
    PEDAL = "pedal"
    PLACE = "place"
    PIANO = "piano"


class Sampling(StrEnum):
    """Which notes to measure first."""

    ALL = "all"
    ENDS = "ends"
    BREAKS = "breaks"
    EVERY_C_AND_F = "every_c_and_f"
    SAMPLE_NOTES = "sample_notes"
    EACH = "each"
    """Each one that matters: there is no plan over the compass."""
    ONCE = "once"


class Evidence(StrEnum):
    """How well a figure is founded."""

    PUBLISHED = "published"
    """Read in the source named, or in a survey of it."""
    COMMON = "common"
    """Common practice, no source."""
    MEMORY = "memory"
    REASONING = "reasoning"
    MAKER = "maker"
    """The maker's own figure for this instrument."""
    WORKSHOP = "workshop"
    """Chosen by the workshop for this instrument."""


class Place(StrEnum):
    """Where a reading lies against its nominal figure."""

    WITHIN = "within"
    LOW = "low"
    HIGH = "high"
    CANNOT_TELL = "cannot tell"
    """The reading is too uncertain to say on which side of the limit it lies."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Nominal:
    """What a quantity should be on some kinds of action."""

    actions: frozenset[Action]
    value: float
    tolerance: float
    """How far a reading may leave `value`, in the quantity's unit."""
    low: float | None = None
    high: float | None = None
    """The range of figures that sources give for `value` itself, from which a workshop may choose."""
    evidence: Evidence
    source: str

    def place_of(self, reading: Measured, *, figure: float | None = None) -> Place:
        """Return where a reading lies: a limit counts as passed only where the reading is sure of it.

        Parameters
        ----------
        reading : Measured
            In the quantity's unit.
        figure : float, optional
            The figure chosen for this piano, if it is not `value`.
        """
        middle = self.value if figure is None else figure
        half = reading.half_width
        away = reading.value - middle
        if abs(away) + half <= self.tolerance:
            return Place.WITHIN
        if abs(away) - half > self.tolerance:
            return Place.HIGH if away > 0 else Place.LOW
        # A reading without an error of its own is taken as it stands; with one, the limit lies inside its reach.
        return Place.CANNOT_TELL


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """One thing that is measured at the bench."""

    id: str
    names: Mapping[str, str]
    """By usage, ``"gb"`` and ``"us"``."""
    also: tuple[str, ...]
    unit: str
    per: Per
    method: str
    condition: str
    """Load or state to be kept with a reading; empty if none matters."""
    half_width: float
    """What a careful hand repeats to: the half-width of 95 cases of 100, in `unit`."""
    possible: tuple[float, float]
    sampling: tuple[Sampling, ...]
    disturbs: tuple[str, ...]
    if_high: str
    if_low: str
    cautions: tuple[str, ...]
    nominals: tuple[Nominal, ...] = field(default=())

    def nominal(self, action: Action) -> Nominal | None:
        """Return what it should be on a kind of action, ``None`` where no figure is known."""
        return next((one for one in self.nominals if action in one.actions), None)


@dataclass(frozen=True, slots=True)
class Catalogue:
    """All quantities, in the order of the file."""

    quantities: Mapping[str, Quantity]

    def __getitem__(self, quantity_id: str) -> Quantity:
        try:
            return self.quantities[quantity_id]
        except KeyError:
            raise InputError.of("quantity", quantity_id, "an id of the catalogue") from None

    def find(self, name: str) -> Quantity:
        """Return the quantity that goes by a name: its id, its British or American name, or another word for it.

        Raises
        ------
        InputError
            If no quantity goes by it; the message has the nearest names.

        Examples
        --------
        >>> [the_catalogue().find(name).id for name in ("let-off", "Set-off", "touch depth")]
        ['set_off', 'set_off', 'key_dip']
        """
        known = {
            _plain(word): one for one in self.quantities.values() for word in (one.id, *one.names.values(), *one.also)
        }
        found = known.get(_plain(name))
        if found is None:
            near = difflib.get_close_matches(_plain(name), known, n=3, cutoff=0.6)
            advice = f"did you mean {' or '.join(near)}?" if near else ""
            expected = "something that is measured at the bench, such as blow, set-off or key dip"
            raise InputError.of("quantity", name, expected, advice=advice)
        return found

    def cautions_of(self, quantity_ids: Iterable[str]) -> tuple[str, ...]:
        """Return the cautions that belong to some quantities, each once, in the order of the quantities."""
        return tuple(dict.fromkeys(caution for one in quantity_ids for caution in self[one].cautions))

    def disturbed_by(self, quantity_id: str) -> tuple[str, ...]:
        """Return what moves a quantity when it is moved itself."""
        return tuple(one.id for one in self.quantities.values() if quantity_id in one.disturbs)

    def with_figures(
        self, figures: Mapping[str, float], *, action: Action, evidence: Evidence, source: str
    ) -> Catalogue:
        """Return the catalogue for one instrument, where its maker's or the workshop's figures override the usual ones.

        Parameters
        ----------
        figures : mapping of str to float
            Figure by quantity id, in the quantity's unit.
        action : Action
            The instrument's action.
        evidence : Evidence
            `Evidence.MAKER` or `Evidence.WORKSHOP`.
        source : str
            Where the figures stand.

        Raises
        ------
        InputError
            If a quantity is not in the catalogue, or a figure cannot be meant.
        """
        changed = dict(self.quantities)
        for quantity_id, value in figures.items():
            quantity = self[quantity_id]
            low, high = quantity.possible
            if not low <= value <= high:
                raise InputError.of(quantity_id, value, f"{low:g} to {high:g} {quantity.unit}")
            usual = quantity.nominal(action)
            # A figure without a tolerance of its own keeps the usual one; without any, what a careful hand repeats to.
            tolerance = quantity.half_width if usual is None else usual.tolerance
            own = Nominal(
                actions=frozenset({action}), value=value, tolerance=tolerance, evidence=evidence, source=source
            )
            changed[quantity_id] = replace(quantity, nominals=(own, *quantity.nominals))
        return Catalogue(MappingProxyType(changed))


def _plain(name: str) -> str:
    return " ".join(name.casefold().replace("_", " ").replace("-", " ").split())


def catalogue_from_toml(text: str) -> Catalogue:
    """Return a catalogue read from TOML text in the form of ``quantities.toml``.

    Raises
    ------
    InputError
        If the text is no TOML, or an entry lacks a field, has an unknown one, or holds what it cannot hold; the message
        names the entry and the field.
    """
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"the catalogue is no TOML: {error}", name="catalogue") from error
    whole = Fields(data, "catalogue")
    if whole.text("schema") != SCHEMA:
        raise whole.wrong("schema", repr(SCHEMA))
    found = dict[str, Quantity]()
    for entry in whole.parts("quantity"):
        quantity = _quantity(entry)
        if quantity.id in found:
            raise entry.wrong("id", "each id once")
        found[quantity.id] = quantity
    whole.finish()
    for quantity in found.values():
        unknown = [other for other in quantity.disturbs if other not in found and other not in HEARD]
        if unknown:
            raise InputError.of(f"{quantity.id}.disturbs", unknown, "ids of the catalogue")
    _refuse_shared_names(found.values())
    return Catalogue(MappingProxyType(found))


def _refuse_shared_names(quantities: Iterable[Quantity]) -> None:
    owner = dict[str, str]()
    for one in quantities:
        for word in {_plain(word) for word in (one.id, *one.names.values(), *one.also)}:
            if word in owner:
                raise InputError(f"{word!r} means both {owner[word]} and {one.id}; a name may mean one thing only")
            owner[word] = one.id


def _quantity(entry: Fields) -> Quantity:
    quantity_id = entry.text("id")
    entry = entry.named(quantity_id)
    unit = entry.text("unit")
    if unit not in UNITS:
        raise entry.wrong("unit", f"one of {', '.join(UNITS)}")
    low, high = entry.pair("possible")
    quantity = Quantity(
        id=quantity_id,
        names=MappingProxyType({"gb": entry.text("gb"), "us": entry.text("us")}),
        also=entry.texts("also"),
        unit=unit,
        per=entry.word("per", Per),
        method=entry.text("method"),
        condition=entry.text("condition", default=""),
        half_width=entry.number("half_width", low=0.0),
        possible=(low, high),
        sampling=tuple(entry.words("sampling", Sampling)),
        disturbs=entry.texts("disturbs"),
        if_high=entry.text("if_high", default=""),
        if_low=entry.text("if_low", default=""),
        cautions=entry.texts("cautions"),
        nominals=tuple(_nominal(part, low, high) for part in entry.parts("nominal", is_needed=False)),
    )
    entry.finish()
    return quantity


def _nominal(part: Fields, low: float, high: float) -> Nominal:
    nominal = Nominal(
        actions=frozenset(part.words("actions", Action)),
        value=part.number("value", low=low, high=high),
        tolerance=part.number("tolerance", low=0.0),
        low=part.number("low", low=low, high=high, default=None),
        high=part.number("high", low=low, high=high, default=None),
        evidence=part.word("evidence", Evidence),
        source=part.text("source"),
    )
    part.finish()
    return nominal


@functools.cache
def the_catalogue() -> Catalogue:
    """Return the catalogue that ships with the program."""
    return catalogue_from_toml(resources.files(__package__).joinpath("quantities.toml").read_text("utf-8"))
