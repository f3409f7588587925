"""Published strings, synthesised and heard again: how near the truth the measuring core must come."""

from __future__ import annotations

from tests.closeness import assert_close
from tests.struck import Struck

from strikeline.acoustics.measure import measure_strike
from strikeline.units import cents_from_ratio, ratio_from_cents

B_RTOL = 0.003
F0_ATOL_CENTS = 0.05


def assert_heard(struck: Struck, *, key: int) -> None:
    """Assert that f0 comes back within 0.05 cent and B within 0.3 %, the search begun 10 cents off."""
    start_hz = struck.f0_hz * float(ratio_from_cents(10.0))
    note = measure_strike(struck.strike, key=key, f0_start_hz=start_hz, a4_hz=440.0)
    assert note.f0_hz is not None, note.cannot_tell
    assert note.inharmonicity_b is not None, note.cannot_tell
    b_why = "0.3 %, as the best published estimator reaches on synthetic notes (Rigaud, David & Daudet 2013: 0.33 %)"
    assert_close(note.inharmonicity_b.value, struck.inharmonicity_b, rtol=B_RTOL, atol=0, why=b_why)
    off_cents = float(cents_from_ratio(note.f0_hz.value / struck.f0_hz))
    assert_close(off_cents, 0.0, rtol=0, atol=F0_ATOL_CENTS, why="a tenth of what an ear tells")
