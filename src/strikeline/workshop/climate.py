"""Take in the climate of one visit or two, and the listenings made at them; give back wood, pitch and what they say."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from strikeline.acoustics.listening import Listening
from strikeline.errors import InputError
from strikeline.keyboard import A4_KEY, key_name
from strikeline.measured import HALF_WIDTHS_PER_SE, Measured, carry
from strikeline.physics.climate_drift import DriftJudgement, judge_drift
from strikeline.physics.climate_effects import (
    BANDS_SOURCE,
    STEADY_FIRST,
    Band,
    TemperatureDrift,
    humidity_band,
    rh_drift_cents,
    temperature_drift,
)
from strikeline.physics.drift_shape import REPEATS_CENTS
from strikeline.physics.wood import (
    SHRINKAGE_SE_RATIO,
    SPECIES,
    PanelMovement,
    panel_movement,
    settled_moisture_pct,
)
from strikeline.plain_data import plain_data
from strikeline.units import CENTS_PER_NEPER, cents_from_ratio
from strikeline.workshop.bench_cells import quantity_cell

SCHEMA: Final = "strikeline.climate/1"
HYGROMETER_ERROR_PCT: Final = 3.0
"""Half-width, for 95 cases of 100, of a relative humidity without ± (common for small instruments, no source)."""
THERMOMETER_ERROR_DEGC: Final = 1.0
"""The same of a temperature."""
PANEL_SPECIES: Final = "Sitka spruce"
_DRIFT_KEYS: Final = (A4_KEY - 12, A4_KEY)


@dataclass(frozen=True, slots=True, kw_only=True)
class Climate:
    """The air at one visit, and the wood in it."""

    rh_pct: Measured
    temperature_degc: Measured
    moisture_pct: Measured
    """What spruce settles at in this air, % of its dry mass."""
    band: Band


@dataclass(frozen=True, slots=True, kw_only=True)
class ExpectedDrift:
    """What reports of humidity lead to expect of one note."""

    key: int
    note: str
    cents: Measured


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ClimateReport:
    """All that can be said of the climate and of what it does to the piano."""

    now: Climate
    before: Climate | None
    panel_mm: Measured | None
    panel: PanelMovement | None
    """How a free panel of that width moves from before to now."""
    expected: tuple[ExpectedDrift, ...]
    """Drift of pitch that the change of humidity leads to expect, once settled."""
    temperature: TemperatureDrift | None
    changes_cents: Mapping[int, Measured]
    """How far each note moved between two listenings, by key number; empty without them."""
    drift: DriftJudgement | None
    """What two listenings say; ``None`` without them."""
    steady_first: str = STEADY_FIRST
    bands_source: str = BANDS_SOURCE

    def to_json(self) -> dict[str, Any]:
        """Return the report as plain data in schema ``strikeline.climate/1``."""
        names = (
            "now", "before", "panel_mm", "panel", "expected", "temperature", "changes_cents", "drift",
            "steady_first", "bands_source",
        )  # fmt: skip
        data = {name: plain_data(getattr(self, name)) for name in names}
        return {"schema": SCHEMA, **data}


def judge_climate(
    *,
    rh_pct: Measured,
    temperature_degc: Measured,
    rh_before_pct: Measured | None = None,
    temperature_before_degc: Measured | None = None,
    panel_mm: Measured | None = None,
    heard_before: Listening | None = None,
    heard_after: Listening | None = None,
    break_after: int | None = None,
    repeats_cents: float = REPEATS_CENTS,
) -> ClimateReport:
    """Return what the climate of one visit or two does to a piano.

    Parameters
    ----------
    rh_pct, temperature_degc : Measured
        Air now, or at the second visit.
    rh_before_pct, temperature_before_degc : Measured, optional
        Air at the first visit; the temperature is taken to be the same where only the humidity was noted.
    panel_mm : Measured, optional
        Width of a spruce panel across the grain; needs a first visit to compare with.
    heard_before, heard_after : Listening, optional
        Passes recorded at the visits, both or none, with no tuning between.
    break_after : int, optional
        Last key on the bass bridge.
    repeats_cents : float
        Standard deviation with which one note repeats from one recording to the next.

    Returns
    -------
    ClimateReport

    Raises
    ------
    InputError
        If only one listening is given, both are of one recording, or a value leaves its range.
    """
    if (heard_before is None) != (heard_after is None):
        raise InputError("a drift needs a listening of both visits; give before and after", name="before")
    if heard_before is not None and heard_after is not None and _is_same_sound(heard_before, heard_after):
        raise InputError("before and after are listenings to the same recording; give that of each visit", name="after")
    if panel_mm is not None and rh_before_pct is None:
        raise InputError("a panel moves between two climates; give the humidity before, too", name="rh_before_pct")
    before = None
    if rh_before_pct is not None:
        start = temperature_degc if temperature_before_degc is None else temperature_before_degc
        before = _climate(rh_before_pct, start)
    rh_change = None if rh_before_pct is None else _difference(rh_pct, rh_before_pct)
    warmer = None if temperature_before_degc is None else _difference(temperature_degc, temperature_before_degc)
    drift, changes = None, dict[int, Measured]()
    if heard_before is not None and heard_after is not None:
        changes = pitch_changes(heard_before, heard_after)
        drift = judge_drift(
            changes,
            rh_change_pct=rh_change,
            temperature_change_degc=warmer,
            break_after=break_after,
            repeats_cents=repeats_cents,
        )
    return ClimateReport(
        now=_climate(rh_pct, temperature_degc),
        before=before,
        panel_mm=panel_mm,
        panel=None if panel_mm is None or before is None else _panel(panel_mm, before, rh_pct, temperature_degc),
        expected=_expected(rh_change),
        temperature=None if warmer is None else temperature_drift(warmer),
        changes_cents=changes,
        drift=drift,
    )


def _is_same_sound(before: Listening, after: Listening) -> bool:
    return bool(before.recording.sha256) and before.recording.sha256 == after.recording.sha256


def pitch_changes(before: Listening, after: Listening) -> dict[int, Measured]:
    """Return how far each note moved from one listening to another, in cents, by key number.

    f0 of the stiff-string law is compared as a frequency, whatever A4 each listening was compared with.

    Parameters
    ----------
    before, after : Listening
        Passes over the same piano.
    """
    changes = {}
    later = after.best_by_key()
    for key, note in before.best_by_key().items():
        again = later.get(key)
        if note.f0_hz is None or again is None or again.f0_hz is None:
            continue
        first, second = note.f0_hz, again.f0_hz
        relative = ((first.se / first.value) ** 2 + (second.se / second.value) ** 2) ** 0.5
        changes[key] = Measured(float(cents_from_ratio(second.value / first.value)), CENTS_PER_NEPER * relative)
    return changes


def _climate(rh_pct: Measured, temperature_degc: Measured) -> Climate:
    return Climate(
        rh_pct=rh_pct,
        temperature_degc=temperature_degc,
        moisture_pct=settled_moisture_pct(rh_pct, temperature_degc=temperature_degc),
        band=humidity_band(rh_pct.value),
    )


def _difference(after: Measured, before: Measured) -> Measured:
    return carry(lambda after, before: after - before, after=after, before=before)


def _panel(width: Measured, before: Climate, rh_pct: Measured, temperature_degc: Measured) -> PanelMovement:
    shrinkage = SPECIES[PANEL_SPECIES].radial_shrinkage_pct
    return panel_movement(
        width,
        rh_before_pct=before.rh_pct,
        rh_after_pct=rh_pct,
        temperature_before_degc=before.temperature_degc,
        temperature_after_degc=temperature_degc,
        shrinkage_pct=Measured(shrinkage, SHRINKAGE_SE_RATIO * shrinkage),
    )


def _expected(rh_change: Measured | None) -> tuple[ExpectedDrift, ...]:
    if rh_change is None:
        return ()
    drifts = [(key, rh_drift_cents(rh_change, key=key)) for key in _DRIFT_KEYS]
    return tuple(ExpectedDrift(key=key, note=key_name(key), cents=cents) for key, cents in drifts if cents is not None)


def read_humidity(text: str, *, name: str) -> Measured:
    """Return a relative humidity as written, with the error of a common hygrometer where it has no ±.

    Parameters
    ----------
    text : str
        Such as ``45%`` or ``45 ± 2 %``.
    name : str
        What it is, for the message.
    """
    se = HYGROMETER_ERROR_PCT / HALF_WIDTHS_PER_SE
    return quantity_cell(name, unit="%", low=1.0, high=100.0, what="a relative humidity", se=se)(text)


def read_temperature(text: str, *, name: str) -> Measured:
    """Return a temperature as written, with the error of a common thermometer where it has no ±.

    Parameters
    ----------
    text : str
        Such as ``20C`` or ``68 °F``.
    name : str
        What it is, for the message.
    """
    se = THERMOMETER_ERROR_DEGC / HALF_WIDTHS_PER_SE
    return quantity_cell(name, unit="°C", low=-10.0, high=50.0, what="the temperature of a room", se=se)(text)
