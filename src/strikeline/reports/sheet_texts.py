"""The standing texts of the sheet: how to read it."""

from __future__ import annotations

from typing import Final

BARS: Final = (
    "Bars and ±",
    (
        "Every number carries how sure it is: the truth lies within the bar, or within ± of the number, "
        "in 95 cases of 100 (1.96 standard errors)."
    ),
)
DEFINITIONS: Final = (
    BARS,
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
        "Singing (seconds)",
        (
            "The time from the blow until the note is a quarter as loud: prompt sound and aftersound in one figure; a "
            "larger number is a longer note."
        ),
    ),
    (
        "Prompt sound and aftersound",
        (
            "Most notes fall fast at first and slower later. The dots are the first rate, the circles the second, both "
            "of the strongest partial, in dB per second."
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
    (
        "Unisons",
        (
            "A beat is a swelling and falling of the sound; it is counted in the loudest partial that has one. Uneven: "
            "no whole beat while the note was heard, but the strings work against each other. Strings closer than "
            "about one cent pull each other through the bridge and sound as one; how far they are apart one recording "
            "does not tell, and that is no fault."
        ),
    ),
)
"""Term and explanation, in the order of the sheet."""

DAMPER_LEGEND: Final = (
    "Each dot is a note whose damper stops it as its neighbours are stopped; a full diamond is one that does not, and "
    "the word above it says how, at the top edge if nothing stops it. The bar holds the truth in 95 cases of 100. A "
    "small square could not be told."
)
DAMPER_DEFINITIONS: Final = (
    BARS,
    (
        "Stops, weak, late",
        (
            "Each damper is compared with its neighbours: how short the blows were and how the room rings is common to "
            "them. Weak: the whole note dies away slower. Late: the damper lands later after the blow."
        ),
    ),
    (
        "Leaks",
        (
            "Some partials of the note ring on while the others are stopped. Felt that lies near a node of a partial "
            "leaves it ringing, worst about the break, so that a leak there may be the piano’s own."
        ),
    ),
    (
        "Rings on",
        ("Nothing lands on the string: there is no damper, as on the highest notes, or it does nothing."),
    ),
    (
        "T60 (seconds)",
        ("The time in which the note would fall by 60 dB once the damper has landed; a small number is a dry stop."),
    ),
    (
        "Lands (seconds)",
        ("When the damper lands, counted from the blow. The time the key was down is in it: compare neighbours."),
    ),
    (
        "After-ring",
        (
            "Sound that stays and is no partial of the note: other strings that the blow set going. It is not counted "
            "against the damper."
        ),
    ),
)
PLUCK_LEGEND: Final = (
    "Each dot is a string that the hammer touches; a full diamond is an open one, which the hammer misses; a small "
    "square is a string that could not be told."
)
PLUCK_DEFINITIONS: Final = (
    (
        "Touched and open",
        (
            "The hammer is held gently against its strings and each is plucked. A string that the felt touches is "
            "short and dull; one that it misses rings on."
        ),
    ),
    ("Left, middle, right", ("The strings of a note as one stands in front of them.")),
    (
        "How sure",
        (
            "Very sure: wrong for less than one string in 1000; sure, one in 100; fairly sure, one in 20; a hint: less "
            "sure than that."
        ),
    ),
    (
        "Mated",
        (
            "A hammer is mated when it meets all strings of its note alike. This test hears which strings are missed; "
            "how evenly the others are touched it does not hear."
        ),
    ),
)
"""Term and explanation, in the order of the sheet of plucked strings."""
