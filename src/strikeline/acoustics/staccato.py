"""One short blow in, one `Note` out: its pitch from the free sound, and what its damper does."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np

from strikeline.acoustics.damping import HIGHEST_DAMPED_KEY, measure_damping
from strikeline.acoustics.damping_landing import Landing, find_landing, listen_to_channels
from strikeline.acoustics.listening import Note
from strikeline.acoustics.measure import measure_strike
from strikeline.acoustics.strikes import Strike
from strikeline.physics.stretch import typical_inharmonicity_b

_BEFORE_LANDING_S: Final = 0.01
_TOLD: Final = ("everything", "level", "pitch", "f0", "inharmonicity")
"""What a short blow is asked for besides its damper."""


def measure_staccato(strike: Strike, *, key: int, f0_start_hz: float, a4_hz: float) -> Note:
    """Measure one short blow whose key is known.

    Parameters
    ----------
    strike : Strike
        The blow with all that follows, long enough to hold the end of the note.
    key : int
        Key number, 49 for A4.
    f0_start_hz : float
        f0 to within about 20 cents.
    a4_hz : float
        Reference for ``cents_from_et`` and ``pitch_cents``, hertz.

    Returns
    -------
    Note
        Pitch, inharmonicity, partials and level from the sound before the damper lands, and `damping`.

    Raises
    ------
    InputError
        If `f0_start_hz` or `a4_hz` is not above 0, or the samples are not finite.
    """
    landing = _landing(strike, key, f0_start_hz)
    free = strike if landing is None or not landing.is_sure else _before(strike, landing.at_s.value)
    note = measure_strike(free, key=key, f0_start_hz=f0_start_hz, a4_hz=a4_hz)
    f0_hz = f0_start_hz if note.f0_hz is None else note.f0_hz.value
    b = float(typical_inharmonicity_b(key)) if note.inharmonicity_b is None else note.inharmonicity_b.value
    damping = measure_damping(strike, key=key, f0_hz=f0_hz, inharmonicity_b=b, landing=landing)
    told = tuple(reason for reason in note.cannot_tell if reason.startswith(_TOLD))
    return replace(
        note,
        end_s=strike.end_s,
        sustain_db_per_s=None,
        singing_s=None,
        knock_db=None,
        unison=None,
        damping=damping,
        cannot_tell=(*told, *damping.cannot_tell),
    )


def _landing(strike: Strike, key: int, f0_hz: float) -> Landing | None:
    """Return when the damper lands, by what is known before the note is measured."""
    before, sound = strike.samples[: strike.onset_sample], strike.samples[strike.onset_sample :]
    if key > HIGHEST_DAMPED_KEY or sound.size < 64 or not f0_hz > 0.0 or not np.isfinite(strike.samples).all():
        return None  # what is wrong is told where the note is measured
    channels = listen_to_channels(
        sound,
        before,
        sample_rate_hz=strike.sample_rate_hz,
        f0_hz=f0_hz,
        inharmonicity_b=float(typical_inharmonicity_b(key)),
    )
    return None if channels is None else find_landing(channels)


def _before(strike: Strike, landing_s: float) -> Strike:
    """Return the strike up to the landing of the damper."""
    free_s = max(landing_s - _BEFORE_LANDING_S, 0.0)
    return replace(strike, samples=strike.samples[: strike.onset_sample + round(free_s * strike.sample_rate_hz)])
