"""The standard tuning frequency, ISO 16:1975 (from memory)."""

from __future__ import annotations

from tests.closeness import assert_close

from strikeline.keyboard import FULL_COMPASS, equal_tempered_hz, key_from_name
from strikeline.physics.stretch import natural_stretch
from strikeline.synthesis.instrument import piano
from strikeline.units import A4_STANDARD_HZ


def test_a4_is_440_hz() -> None:
    a4_hz = equal_tempered_hz(key_from_name("A4"), a4_hz=A4_STANDARD_HZ)
    assert_close(a4_hz, 440.0, rtol=0, atol=0, why="exact by definition")


def test_the_stretch_leaves_the_first_partial_of_a4_on_the_fork() -> None:
    stretch = natural_stretch([49], inharmonicity_b=[7e-4], a4_inharmonicity_b=7e-4)
    assert_close(stretch.first_partial_cents, [0.0], rtol=0, atol=1e-9, why="by construction; rounding only")


def test_a_piano_at_standard_pitch_keeps_the_standard_tolerance() -> None:
    level_hz = [
        piano(compass=FULL_COMPASS, seed=seed, pitch_level_cents=0.0)[49].unison.mean_f0_hz for seed in range(20)
    ]
    mean_hz = sum(level_hz) / 20
    assert_close(mean_hz, 440.0, rtol=0, atol=0.5, why="±0.5 Hz of ISO 16; 20 pianos of 0.5 Hz scatter average to 0.1")
