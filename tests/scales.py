"""Scales for tests: a smooth plain one whose truth is known, and the invented upright of the manual."""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path

from strikeline.acoustics.listening import Kind, Listening, Note, Recording
from strikeline.keyboard import equal_tempered_hz
from strikeline.measured import Measured
from strikeline.physics.scale import ScaleRow
from strikeline.physics.scale_sections import PLAIN, SINGLE, Section
from strikeline.physics.stringing import StringDimensions
from strikeline.physics.winding import Winding
from strikeline.physics.wire import MATERIALS
from strikeline.physics.wire_strength import WireGrade, wire_strength
from strikeline.workshop.scale import ScaleReport

EXAMPLE = Path(__file__).parents[1] / "docs" / "examples" / "upright-scale.csv"
PLAIN_SECTION = Section("long bridge", PLAIN)
WOUND_SECTION = Section("bass bridge", SINGLE)


def smooth_length_mm(key: int) -> float:
    """A treble bridge: 54 mm at the top, 1.885 times as long an octave lower."""
    return float(54.0 * 1.885 ** ((88 - key) / 12.0))


def stepped_diameter_mm(key: int) -> float:
    """No. 17 at key 40, half a number thinner every six keys."""
    return 0.9906 - 0.0254 * ((key - 40) // 6)


def plain_row(
    key: int,
    *,
    diameter_mm: float | None = None,
    length_mm: float | None = None,
    errors_mm: tuple[float, float] = (0.25, 0.005),
    ties: Mapping[str, Mapping[str, float]] | None = None,
) -> ScaleRow:
    """A trichord of plain wire on the smooth scale."""
    diameter = stepped_diameter_mm(key) if diameter_mm is None else diameter_mm
    return ScaleRow(
        key=key,
        n_strings=3,
        dimensions=StringDimensions(
            Measured(smooth_length_mm(key) if length_mm is None else length_mm, errors_mm[0]),
            Measured(diameter, errors_mm[1]),
            MATERIALS["steel"],
        ),
        f0_hz=Measured(float(equal_tempered_hz(key, a4_hz=440.0)), 0.0),
        strength=wire_strength(diameter, grade=WireGrade.ASTM_A228),
        section=PLAIN_SECTION,
        ties=ties or {},
    )


def wound_row(key: int, *, with_bare_ends: bool = True) -> ScaleRow:
    """A bichord of copper on steel on a smooth bass bridge."""
    length_mm = 1000.0 * math.exp(-0.012 * (key - 16))
    return ScaleRow(
        key=key,
        n_strings=2,
        dimensions=StringDimensions(
            Measured(length_mm, 0.3),
            Measured(1.1, 0.005),
            MATERIALS["steel"],
            (Winding(Measured(0.85 * math.exp(-0.055 * (key - 16)), 0.005), MATERIALS["copper"]),),
            (Measured(22.0, 1.0), Measured(18.0, 1.0)) if with_bare_ends else None,
        ),
        f0_hz=Measured(float(equal_tempered_hz(key, a4_hz=440.0)), 0.0),
        strength=wire_strength(1.1, grade=WireGrade.ASTM_A228),
        section=WOUND_SECTION,
    )


def heard_scale(report: ScaleReport, *, cents: float, b_factor: dict[int, float]) -> Listening:
    """A pass in which six of seven notes were heard, off by some cents, B off by a factor on some."""
    notes = [
        Note(
            key=note.key,
            onset_s=float(note.key),
            end_s=note.key + 0.9,
            f0_hz=Measured(note.state.f0_hz.value * 2 ** (cents / 1200.0), 0.01),
            inharmonicity_b=Measured(b := note.state.inharmonicity_b.value * b_factor.get(note.key, 1.0), 0.01 * b),
        )
        for note in report.state.notes
        if note.key % 7
    ]
    recording = Recording(
        sha256="", sample_rate_hz=44100, duration_s=90.0, kind=Kind.PASS, analyser="0", reference_a4_hz=440.0
    )
    return Listening(recording=recording, notes=tuple(notes))
