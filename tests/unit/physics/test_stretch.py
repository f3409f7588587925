from __future__ import annotations

import numpy as np
import pytest
from tests.closeness import assert_close

from strikeline.errors import InputError
from strikeline.physics.stretch import natural_stretch, typical_inharmonicity_b

KEYS = np.arange(1, 89)
B = typical_inharmonicity_b(KEYS)


def test_the_stretch_rises_from_bass_to_treble() -> None:
    stretch = natural_stretch(KEYS, inharmonicity_b=B, a4_inharmonicity_b=float(B[48]))
    assert (np.diff(stretch.first_partial_cents) > 0).all()
    assert stretch.first_partial_cents[0] < -5 < 25 < stretch.first_partial_cents[-1]


def test_without_inharmonicity_there_is_no_stretch() -> None:
    stretch = natural_stretch(KEYS, inharmonicity_b=np.zeros(88), a4_inharmonicity_b=0.0)
    assert_close(stretch.first_partial_cents, np.zeros(88), rtol=0, atol=1e-9, why="rounding only")


def test_first_partial_and_f0_differ_by_root_one_plus_b() -> None:
    stretch = natural_stretch(KEYS, inharmonicity_b=B, a4_inharmonicity_b=float(B[48]))
    difference = stretch.first_partial_cents - stretch.f0_cents
    assert_close(difference, 600 * np.log2(1 + B), rtol=0, atol=1e-9, why="definition; rounding only")


@pytest.mark.parametrize("b", [[1e-4], [[1e-4, 2e-4]]])
def test_one_b_per_key_is_asked_for(b: list[float]) -> None:
    with pytest.raises(InputError, match="inharmonicity_b"):
        natural_stretch([1, 2], inharmonicity_b=b, a4_inharmonicity_b=7e-4)


def test_an_octave_type_below_one_is_refused() -> None:
    with pytest.raises(InputError, match="octave_type_k"):
        natural_stretch([1], inharmonicity_b=[1e-4], a4_inharmonicity_b=7e-4, octave_type_k=0.5)
