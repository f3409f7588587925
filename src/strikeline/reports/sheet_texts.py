"""The standing texts of the sheet: how to read it."""

from __future__ import annotations

from typing import Final

DEFINITIONS: Final = (
    (
        "Bars and ±",
        (
            "Every number carries how sure it is: the truth lies within the bar, or within ± of the number, "
            "in 95 cases of 100 (1.96 standard errors)."
        ),
    ),
    (
        "Standing out",
        (
            "Each note is compared with the trend of its neighbours. It stands out when it departs by more "
            "than measurement, trend and the scatter of a well-kept piano explain. Very sure: an even piano "
            "shows the like anywhere on its sheet less than once in 1000 times; sure, once in 100; fairly "
            "sure, once in 20; a hint, once in 5. A range said to hold mostly leaves out the outer tenths of a long "
            "run. What causes it, the sound alone does not say: how the piano was strung and built is among it."
        ),
    ),
    (
        "Pitch (cents)",
        (
            "How far the first partial of the note sounds from equal temperament; 100 cents are a semitone. "
            "Stiff strings ask for a tuning that is stretched at both ends, the natural stretch (model of "
            "Rigaud, David and Daudet, 2011)."
        ),
    ),
    (
        "Inharmonicity B",
        (
            "How far stiffness spreads the partials of a string: partial n sounds at n·f0·√(1 + B·n²). It "
            "belongs to the string, not to the tuning; printed times 10 000."
        ),
    ),
    (
        "Brightness (semitones)",
        (
            "Where the strength of the sound lies: the mean frequency of the partials, weighted by their "
            "amplitude, over the first 0.2 s, above that of an even piano at the same key. Compare it only "
            "between recordings made from the same place."
        ),
    ),
    (
        "Sustain (dB per second)",
        ("How fast the note falls between 0.06 and 1.6 s after the blow: a larger number is a shorter note."),
    ),
    (
        "Level (dB)",
        (
            "How loud the first half second is, against the loudest the recording can hold. It moves with the"
            " player’s hand."
        ),
    ),
    (
        "Knock (dB)",
        ("The noise of the blow against the tone, in its first moments."),
    ),
)
"""Term and explanation, in the order of the sheet."""
