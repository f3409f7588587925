"""A scale as plain data in schema ``strikeline.scale/1``."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from strikeline.keyboard import key_name
from strikeline.physics.scale import FrameLoad, ScaleNote, ScaleState
from strikeline.physics.scale_against_hearing import ScaleAgainstHearing
from strikeline.physics.scale_jumps import ScaleJump
from strikeline.physics.scale_proposal import ProposalOption
from strikeline.physics.stringing import StringDimensions
from strikeline.plain_data import plain_data

if TYPE_CHECKING:
    from strikeline.workshop.scale import ScaleReport

SCHEMA: Final = "strikeline.scale/1"
_STATE: Final = (
    "tension_n",
    "stress_mpa",
    "breaking_load_n",
    "breaking_share",
    "elongation_mm",
    "linear_density_kg_per_m",
    "impedance_kg_per_s",
    "inharmonicity_b",
    "stiffness_b",
    "winding_b",
    "bare_ends_b",
)


def scale_json(report: ScaleReport) -> dict[str, Any]:
    """Return a scale as plain data; keys of notes stand beside their names."""
    choices = report.choices
    return {
        "schema": SCHEMA,
        "a4_hz": choices.a4_hz,
        "is_pitch_heard": report.is_pitch_heard,
        "wire_grade": choices.grade.value,
        "new_wire_grade": choices.new_grade.value,
        "gauge_system": choices.system.value,
        "plain_limit": choices.plain_limit,
        "wound_limit": choices.wound_limit,
        "reading_errors": plain_data(choices.errors),
        "break_after": None if report.break_after is None else key_name(report.break_after),
        "is_break_found": report.is_break_found,
        "notes": [_note(note) for note in report.state.notes],
        "load": _load(report.state.load),
        "load_by_section": {name: _load(load) for name, load in report.state.load_by_section.items()},
        "jumps": [_jump(jump) for jump in report.jumps],
        "weak_points": [
            {
                "note": key_name(point.key),
                "kind": point.kind.value,
                "value": plain_data(point.value),
                "beside": point.beside,
            }
            for point in report.weak
        ],
        "proposal": _proposal(report),
        "hearing": None if report.hearing is None else _hearing(report.hearing),
        "notices": list(report.notices),
        "cannot_tell": [{"note": key_name(key), "why": why} for key, why in report.cannot_tell],
    }


def dimensions_json(dimensions: StringDimensions) -> dict[str, Any]:
    """Return what was measured on a string as plain data."""
    return {
        "length_mm": plain_data(dimensions.length_mm),
        "core_diameter_mm": plain_data(dimensions.core_diameter_mm),
        "core_material": dimensions.core.name,
        "is_hexagonal": dimensions.is_hexagonal,
        "windings": [
            {"material": one.material.name, "wrap_diameter_mm": plain_data(one.wrap_diameter_mm)}
            for one in dimensions.windings
        ],
        "bare_mm": plain_data(dimensions.bare_mm),
    }


def _note(note: ScaleNote) -> dict[str, Any]:
    row = note.row
    return {
        "note": key_name(row.key),
        "key": row.key,
        "section": str(row.section),
        "n_strings": row.n_strings,
        "filled": list(row.filled),
        **dimensions_json(row.dimensions),
        "f0_hz": plain_data(note.state.f0_hz),
        **{name: plain_data(getattr(note.state, name)) for name in _STATE},
        "tension_of_note_n": plain_data(note.tension_of_note_n),
    }


def _load(load: FrameLoad) -> dict[str, Any]:
    return {**plain_data(load), "tonnes_force": plain_data(load.tonnes_force)}


def _jump(jump: ScaleJump) -> dict[str, Any]:
    data: dict[str, Any] = plain_data(jump)
    names = {"after": key_name(jump.after_key), "before": key_name(jump.before_key)}
    return {
        "kind": jump.kind.value,
        **names,
        **{k: v for k, v in data.items() if k not in ("kind", "after_key", "before_key")},
    }


def _option(option: ProposalOption) -> dict[str, Any]:
    return {
        "n_notes": len(option.changes),
        "n_strings": option.n_strings,
        "roughness_pct": option.roughness_pct,
        "changes": [
            {
                "note": key_name(change.key),
                "n_strings": change.n_strings,
                "from_mm": change.from_mm,
                "to_number": change.to.number,
                "to_mm": change.to.diameter_mm,
                "is_filled": change.is_filled,
            }
            for change in option.changes
        ],
    }


def _proposal(report: ScaleReport) -> dict[str, Any]:
    proposal = report.proposal
    changed = {change.key for change in proposal.changes}
    return {
        "chosen": proposal.chosen,
        "options": [_option(option) for option in proposal.options],
        "before": _states(report.state, changed),
        "after": _states(report.after, changed),
        "load_after": _load(report.after.load),
        "left_out": [{"note": key_name(key), "why": why} for key, why in proposal.left_out],
    }


def _states(state: ScaleState, keys: set[int]) -> list[dict[str, Any]]:
    fields = ("tension_n", "breaking_share", "impedance_kg_per_s", "inharmonicity_b")
    return [
        {"note": key_name(note.key), **{name: plain_data(getattr(note.state, name)) for name in fields}}
        for note in state.notes
        if note.key in keys
    ]


def _hearing(hearing: ScaleAgainstHearing) -> dict[str, Any]:
    def named(record: object) -> dict[str, Any]:
        data: dict[str, Any] = plain_data(record)
        key = data.pop("key")
        return {"note": key_name(key), **data}

    return {
        "notes": [named(note) for note in hearing.notes],
        "disagreements": [
            {
                "notes": [key_name(key) for key in one.keys],
                "difference_pct": plain_data(one.difference_pct),
                "is_wound": one.is_wound,
                "meanings": [
                    {
                        "cause": meaning.cause.value,
                        "note": None if meaning.key is None else key_name(meaning.key),
                        "implied": plain_data(meaning.implied),
                        "implied_pct": plain_data(meaning.implied_pct),
                    }
                    for meaning in one.meanings
                ],
            }
            for one in hearing.disagreements
        ],
        "common_pct": plain_data(hearing.common_pct),
    }
