"""A listening nobody recorded: an invented 85-note upright, flat, with worn hammers in the middle.

Brightness is 4 semitones up from F3 to C5, F5 is 20 cents flat, B of D6 is a third high, three notes are hard to read,
one key does not sound. All other departures are the scatter of a well-kept piano.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from strikeline.acoustics.listening import Kind, Listening, Note, Recording
from strikeline.keyboard import SHORT_COMPASS, Compass, key_from_name, key_name
from strikeline.measured import Measured
from strikeline.physics.stretch import natural_stretch, typical_inharmonicity_b
from strikeline.units import ratio_from_cents

WORN: Final = range(key_from_name("F3"), key_from_name("C5") + 1)
FLAT_KEY: Final = key_from_name("F5")
ODD_STRING_KEY: Final = key_from_name("D6")
SILENT_KEY: Final = key_from_name("G#6")
BREAK_AFTER: Final = key_from_name("A#2")
LEVEL_CENTS: Final = -21.0


def fake_listening(
    *,
    seed: int = 1925,
    compass: Compass | None = SHORT_COMPASS,
    only: range | tuple[int, ...] | None = None,
    worn_by: float = 4.5,
    even: bool = False,
) -> Listening:
    """Return the invented listening; `only` keeps some keys, `even` leaves every fault out."""
    rng = np.random.default_rng(seed)
    keys = np.arange(1, 86)
    b = typical_inharmonicity_b(keys) * np.where(keys <= BREAK_AFTER, 0.62, 1.0)
    stretch = natural_stretch(keys, inharmonicity_b=b, a4_inharmonicity_b=float(b[48])).first_partial_cents
    notes = []
    for i, key in enumerate(int(k) for k in keys):
        noise = rng.standard_normal(12)
        if only is not None and key not in only:
            continue
        if key == SILENT_KEY and not even:
            continue
        notes.append(_note(key, float(b[i]), float(stretch[i]), noise, worn_by=worn_by, even=even))
    return Listening(
        recording=Recording(
            sha256="9f1c" * 16,
            sample_rate_hz=48000,
            duration_s=3.6 * len(notes) + 4.2,
            kind=Kind.PASS,
            analyser="0.1.0",
            reference_a4_hz=440.0,
            warnings=() if even else ("mains hum at 50 Hz, 46 dB below the music: it does not disturb these numbers",),
            compass=compass,
            missing_keys=() if even or only is not None else (SILENT_KEY,),
        ),
        notes=tuple(notes),
    )


def _note(key: int, b: float, stretch: float, noise: np.ndarray, *, worn_by: float, even: bool) -> Note:
    x = (key - 44) / 44
    pitch = (0.0 if even else LEVEL_CENTS) + stretch + (3.0 if key <= 20 else 1.8) * noise[0]
    bright = 3.4 - 1.6 * x - 1.0 * x**2 + 1.1 * noise[1]
    ln_b, sustain = float(np.log(b)) + 0.04 * noise[2], 1.9 + 0.9 * x + 0.5 * x**2 + 0.2 * noise[3]
    if not even:
        pitch += -20.0 * (key == FLAT_KEY)
        ln_b += float(np.log(1.33)) * (key == ODD_STRING_KEY)
        bright += worn_by * (0.8 + 0.1 * abs(noise[4])) * (key in WORN)
    value_b = float(np.exp(ln_b))
    et_hz = 440.0 * 2.0 ** ((key - 49) / 12)
    f1_hz = et_hz * float(ratio_from_cents(pitch))
    cannot_tell: list[str] = []
    no_b = not even and (key <= 4 or key >= 83)
    no_sustain = not even and key in (60, 61)
    if no_b:
        cannot_tell.append(
            "inharmonicity_b: the partials are too close together to number"
            if key <= 4
            else f"inharmonicity_b: only {2 if key == 83 else 1} partials above the noise, 3 are needed"
        )
    if no_sustain:
        cannot_tell += [f"{what}: the next note was struck after 0.8 s" for what in ("sustain_db_per_s", "singing_s")]
    return Note(
        key=key,
        onset_s=3.6 * key,
        end_s=3.6 * key + 3.4,
        f0_hz=Measured(f1_hz / float(np.sqrt(1 + value_b)), f1_hz * 2e-5),
        inharmonicity_b=None if no_b else Measured(value_b, value_b * (0.01 + 0.03 * max(0.0, x) ** 2)),
        cents_from_et=Measured(pitch - 865.6 * value_b, 0.06 + 0.6 * max(0.0, x) ** 4),
        pitch_cents=Measured(pitch, 0.06 + 0.6 * max(0.0, x) ** 4),
        brightness=Measured(bright, 0.25 + 0.3 * abs(noise[5])),
        level_db=Measured(-21.0 - 3 * x**2 + 1.9 * noise[6], 0.2),
        knock_db=Measured(-24.0 + 9 * x + 1.8 * noise[7], 1.2),
        sustain_db_per_s=None if no_sustain else Measured(float(np.exp(sustain)), 0.06 * float(np.exp(sustain))),
        singing_s=None if no_sustain else Measured(60.0 / float(np.exp(sustain)), 3.6 / float(np.exp(sustain))),
        cannot_tell=tuple(cannot_tell),
        notices=("clipped",) if not even and key_name(key) == "C3" else (),
    )
