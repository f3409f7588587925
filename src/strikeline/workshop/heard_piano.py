"""What a listening tells of a piano for its tuning: its notes, its compass, and B of every key."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from strikeline.acoustics.listening import Listening, Note
from strikeline.keyboard import FULL_COMPASS, Compass
from strikeline.measured import Measured
from strikeline.physics.inharmonicity_curve import InharmonicityCurve, inharmonicity_curve
from strikeline.units import cents_from_ratio
from strikeline.workshop.string_sections import StringSections


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HeardPiano:
    """What a listening tells of a piano for its tuning."""

    notes: Mapping[int, Note]
    compass: Compass
    curve: InharmonicityCurve
    sections: StringSections
    reference_a4_hz: float

    def now_cents(self, key: int, *, a4_hz: float) -> Measured | None:
        """Return the first partial of a note against equal temperament at an A4 of choice, cents.

        Parameters
        ----------
        key : int
            Which note.
        a4_hz : float
            The A4.
        """
        pitch = self.notes[key].pitch_cents if key in self.notes else None
        if pitch is None:
            return None
        return Measured(pitch.value + float(cents_from_ratio(self.reference_a4_hz / a4_hz)), pitch.se)


def heard_piano(listening: Listening, sections: StringSections) -> HeardPiano:
    """Return what a listening tells of the piano: its compass, its notes, and B of every key.

    Parameters
    ----------
    listening : Listening
        A pass, or any listening with notes that ring.
    sections : StringSections
        Where the strings change.

    Raises
    ------
    InputError
        If no note has a usable B.
    """
    notes = listening.best_by_key()
    compass = listening.recording.compass or FULL_COMPASS
    lowest, highest = min([compass.lowest, *notes]), max([compass.highest, *notes])
    with_b = {key: note.inharmonicity_b for key, note in notes.items() if note.inharmonicity_b is not None}
    keys = list(with_b)
    curve = inharmonicity_curve(
        np.arange(lowest, highest + 1),
        measured_key=np.array(keys, dtype=np.int64),
        measured_b=np.array([b.value for b in with_b.values()]),
        measured_b_se=np.array([b.se for b in with_b.values()]),
        sections_end_after=[end for end in sections.ends_after if lowest <= end < highest],
    )
    return HeardPiano(
        notes=notes,
        compass=Compass(lowest, highest),
        curve=curve,
        sections=sections,
        reference_a4_hz=listening.recording.reference_a4_hz,
    )
