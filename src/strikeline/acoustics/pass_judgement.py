"""What a pass over the keyboard says of the piano as a whole, beside its notes: evenness, and the toning list."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from strikeline.acoustics.evenness import judge_evenness
from strikeline.acoustics.evenness_result import Area, ChangeVerdict, Evenness, Standout
from strikeline.acoustics.listening import Kind, Listening
from strikeline.acoustics.toning import toning_list
from strikeline.acoustics.toning_result import ToningList
from strikeline.keyboard import key_name
from strikeline.measured import Measured


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PassJudgement:
    """One pass judged."""

    evenness: Evenness
    toning: ToningList


def judge_pass(listening: Listening) -> PassJudgement | None:
    """Judge a pass as a whole; ``None`` for every other kind of playing, whose notes were not meant to be alike."""
    if listening.recording.kind is not Kind.PASS:
        return None
    evenness = judge_evenness(listening)
    return PassJudgement(evenness=evenness, toning=toning_list(listening, evenness))


def judged_listening_json(listening: Listening, judgement: PassJudgement | None) -> dict[str, Any]:
    """Return a listening as plain data in schema ``strikeline.listening/1``, with what its pass says as a whole.

    Parameters
    ----------
    listening : Listening
        The listening.
    judgement : PassJudgement or None
        From `judge_pass`.

    Returns
    -------
    dict
        `Listening.to_json` with ``evenness`` and ``toning``, each ``None`` without a judgement.
    """
    return {
        **listening.to_json(),
        "evenness": None if judgement is None else evenness_json(judgement.evenness),
        "toning": None if judgement is None else judgement.toning.to_json(),
    }


def evenness_json(evenness: Evenness) -> dict[str, Any]:
    """Return what stands out, where the scale changes, and the steps there as plain data."""
    return {
        "change_points": [_change_json(one) for one in evenness.change_verdicts],
        "steps": [step.to_json() for step in evenness.steps],
        "areas": [_area_json(area) for area in evenness.areas],
        "standouts": [_standout_json(standout) for standout in evenness.standouts],
    }


def _change_json(one: ChangeVerdict) -> dict[str, Any]:
    return {
        "after": key_name(one.change.after_key),
        "change": one.change.kind.value,
        "given": one.change.is_given,
        "p_false": one.change.p_false,
        "ends_winding": one.change.ends_winding,
        "verdict": one.verdict.value,
        "p_value": one.p_value,
        "heard_in": [quantity.field for quantity in one.heard_in],
    }


def _area_json(area: Area) -> dict[str, Any]:
    return {
        "quantity": area.quantity.field,
        "unit": area.quantity.deviation_unit,
        "first": key_name(area.first_key),
        "last": key_name(area.last_key),
        "n_notes": area.n_notes,
        "n_departing": area.n_departing,
        "departure": _measured_json(area.departure),
        "p_false": area.p_false,
        "word": area.word,
    }


def _standout_json(standout: Standout) -> dict[str, Any]:
    return {
        "quantity": standout.quantity.field,
        "unit": standout.quantity.deviation_unit,
        "first": key_name(standout.first_key),
        "last": key_name(standout.last_key),
        "n_notes": standout.n_notes,
        "departure": _measured_json(standout.departure),
        "low": standout.low,
        "high": standout.high,
        "p_false": standout.p_false,
    }


def _measured_json(measured: Measured) -> dict[str, float]:
    return {"value": measured.value, "se": measured.se}
