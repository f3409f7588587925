from __future__ import annotations

import json

import numpy as np
import pytest
from tests.closeness import assert_close
from tests.passes import InventedPiano, play_pass

from strikeline.acoustics.listening import Listening
from strikeline.errors import InputError
from strikeline.measured import Measured
from strikeline.physics.climate_drift import DriftVerdict
from strikeline.workshop.climate import ClimateReport, judge_climate, pitch_changes, read_humidity, read_temperature

KEYS = range(21, 77)
DRIFT = {key: float(10.0 * np.exp(-abs(key - 36) / 18.0)) for key in KEYS}


def visit(hand: int, drift: float = 0.0) -> Listening:
    rng = np.random.default_rng(hand)
    moved = {key: drift * cents + float(rng.normal(0, 0.6)) for key, cents in DRIFT.items()}
    return play_pass(InventedPiano(cents=moved), hand=hand)


def judge(**asked: object) -> ClimateReport:
    now = {"rh_pct": Measured(58.0, 1.5), "temperature_degc": Measured(20.0, 0.5)}
    return judge_climate(**now | asked)  # type: ignore[arg-type]  # the tests choose


def test_pitch_is_compared_as_frequency() -> None:
    before, after = visit(1), visit(2, 1.0)
    changes = pitch_changes(before, after)
    assert set(changes) == set(KEYS)
    off = np.array([changes[key].value - DRIFT[key] for key in KEYS])
    assert np.abs(off.mean()) < 0.5, "scatter of 0.6 twice, averaged over 56 notes"


def test_a_drift_with_the_air_fits_climate() -> None:
    report = judge(
        rh_before_pct=Measured(45.0, 1.5),
        temperature_before_degc=Measured(20.0, 0.5),
        heard_before=visit(1),
        heard_after=visit(2, 1.0),
    )
    assert report.drift is not None
    assert report.drift.verdict is DriftVerdict.CLIMATE
    assert report.drift.speaks_for
    assert report.temperature is not None


def test_the_same_drift_without_humidity_cannot_be_told() -> None:
    report = judge(heard_before=visit(1), heard_after=visit(2, 1.0))
    assert report.drift is not None
    assert report.drift.verdict is DriftVerdict.CANNOT_TELL


def test_one_recording_given_twice_is_refused() -> None:
    with pytest.raises(InputError, match="same recording"):
        judge(heard_before=visit(1), heard_after=visit(1))


def test_one_visit_alone_tells_of_the_wood() -> None:
    report = judge()
    assert (report.before, report.panel, report.drift, report.expected) == (None, None, None, ())
    assert 9.0 < report.now.moisture_pct.value < 12.0


def test_a_panel_dries_and_shrinks() -> None:
    report = judge(rh_before_pct=Measured(75.0, 1.5), panel_mm=Measured(900.0, 0.5))
    assert report.panel is not None
    assert report.panel.movement_mm.value < 0


@pytest.mark.parametrize("asked", [{"panel_mm": Measured(900.0, 0.5)}, {"heard_before": visit(1)}])
def test_half_a_question_is_refused(asked: dict[str, object]) -> None:
    with pytest.raises(InputError):
        judge(**asked)


def test_humidity_and_temperature_bring_the_error_of_common_instruments() -> None:
    rh, own = read_humidity("45%", name="rh"), read_humidity("45 ± 1 %", name="rh")
    degc = read_temperature("68 °F", name="temperature")
    ours = [rh.value, rh.se, own.se, degc.value, degc.se]
    assert_close(ours, [45.0, 3 / 1.96, 1 / 1.96, 20.0, 1 / 1.96], rtol=1e-9, atol=1e-9, why="half-widths over 1.96")


@pytest.mark.parametrize("text", ["450%", "0.45"])
def test_a_humidity_that_no_room_has_is_refused(text: str) -> None:
    with pytest.raises(InputError, match="relative humidity"):
        read_humidity(text, name="rh")


def test_the_json_is_plain_and_has_its_schema() -> None:
    data = judge(
        rh_before_pct=Measured(45.0, 1.5),
        panel_mm=Measured(900.0, 0.5),
        heard_before=visit(1),
        heard_after=visit(2, 1.0),
    ).to_json()
    plain = json.loads(json.dumps(data, allow_nan=False))
    assert plain["schema"] == "strikeline.climate/1"
    assert plain["drift"]["verdict"] == "fits climate"
    assert len(plain["changes_cents"]) == len(KEYS)
