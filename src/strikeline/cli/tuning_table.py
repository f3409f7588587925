"""Tuning targets as a ledger of plain text: notes, temperament octave, octaves, and the price of each leaning."""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median
from typing import TYPE_CHECKING, Final

from strikeline.cli.cautions import caution_lines
from strikeline.cli.fitted_rows import fitted, gathered
from strikeline.cli.plain_text import bulleted, figure, plain, typed, wrapped
from strikeline.keyboard import key_from_name
from strikeline.measured import Measured
from strikeline.physics.beat_rates import TEMPERAMENT_INTERVALS
from strikeline.physics.overpull import FINE_CENTS
from strikeline.reports.figures import ABSENT, key_ranges, number
from strikeline.workshop.tuning import HIGHEST_BEAT_HZ

if TYPE_CHECKING:
    from strikeline.workshop.tuning import IntervalBeat, LeaningOutcome, NoteTarget, RegisterWidth, Tuning

_SHOWN_OCTAVES: Final = ("octave 2:1", "octave 4:2", "octave 6:3", "octave 8:4", "twelfth 3:1", "double octave 4:1")
_SHOWN_STEPS: Final = (0, 4, 8)
"""Octaves are printed on C, E and G♯; the JSON has all."""
_LEGEND: Final = (
    "± holds the truth in 95 cases of 100, as far as it hangs on B. target: the first partial, which is what a fork, a "
    "pipe or a tuning device is compared with; f0 is lower by √(1+B) and is what strikeline listen prints. cents: from "
    "equal temperament at the same A4. now, move: first partial as heard, and what it has to go (+ sharper)."
)
_BEATS_LEGEND: Final = (
    "Beats a second at the partials named, with every note on its target and each unison clean: + wide, − narrow. "
    "Empty where it is faster than 15."
)


def tuning_table(tuning: Tuning, *, width: int | None) -> str:
    """Return tuning targets as text.

    Parameters
    ----------
    tuning : Tuning
        The result to print.
    width : int or None
        Columns of the terminal; ``None`` to break no line.
    """
    lines = [*(wrapped(text, width) for text in _answer(tuning)), "", wrapped(_heading(tuning), width), ""]
    lines += [*_notes(tuning.notes, width), "", wrapped(_LEGEND, width)]
    if tuning.temperament_beats:
        lines += ["", "Temperament octave F3 to F4, beats a second:", *_temperament(tuning.temperament_beats, width)]
    lines += ["", wrapped("Octaves, twelfths and double octaves from a lower note, beats a second:", width)]
    lines += [*_octaves(tuning.octave_beats, width), wrapped(_BEATS_LEGEND, width)]
    lines += ["", wrapped("What each leaning makes of this piano (mean width in cents, beats a second):", width)]
    lines += [*_trade_off(tuning.trade_off, width), *(wrapped(one, width) for one in _meanings(tuning.trade_off))]
    lines += bulleted("Warnings:", tuning.warnings, width)
    lines += bulleted("Could not be told:", gathered(tuning.cannot_tell), width)
    lines += caution_lines(("string_tension",), width)
    lines += ["", "Details:", wrapped(_criterion(tuning), width), *_weights(tuning, width)]
    return typed("\n".join(lines))


def _heading(tuning: Tuning) -> str:
    place = "" if tuning.break_after is None else f", break after {tuning.break_after}"
    wound = "" if tuning.last_wound is None else f", wound up to {tuning.last_wound}"
    return (
        f"Targets for {len(tuning.notes)} keys, {tuning.compass}{place}{wound}: {tuning.temperament_title}, "
        f"A4 = {tuning.a4_hz:g} Hz, leaning {tuning.leaning}."
    )


def _notes(notes: Sequence[NoteTarget], width: int | None) -> list[str]:
    rows = [["note", "target Hz", "cents", "f0 Hz", "now", "move", "B ×10⁻⁴", "remarks"]]
    rows += [
        [
            note.note,
            _exact_or(note.first_partial_hz),
            _exact_or(note.cents, plus=True),
            figure(note.f0_hz),
            figure(note.now_cents, plus=True),
            figure(note.move_cents, plus=True),
            figure(note.inharmonicity_b, factor=1e4),
            _remark(note),
        ]
        for note in notes
    ]
    return fitted(rows, width, least_first=("remarks", "B ×10⁻⁴", "f0 Hz", "cents", "now"))


def _exact_or(measured: Measured, *, plus: bool = False) -> str:
    """Return a value with its error, or without one where it is set and not measured."""
    if measured.se == 0.0:
        return plain(number(measured.value, places=2, plus=plus))
    return figure(measured, plus=plus)


def _remark(note: NoteTarget) -> str:
    if not note.b_is_heard:
        return "B from the notes about it"
    if not note.b_is_odd or note.b_departure_pct is None:
        return ""
    side = "above" if note.b_departure_pct.value > 0 else "below"
    share = plain(number(abs(note.b_departure_pct.value), places=0))
    own, wish = note.own_part_cents, note.own_wish_cents
    still = " still" if own * wish > 0.0 else ""
    return (
        f"odd B: {share} % {side} its section; so the target is {_lower(own)}, and its octaves would have it "
        f"{_lower(wish)}{still}"
    )


def _lower(cents: float) -> str:
    return f"{plain(number(abs(cents), places=1))} cents {'lower' if cents < 0.0 else 'higher'}"


def _answer(tuning: Tuning) -> list[str]:
    """Return what there is to do, in two or three sentences."""
    moves = [note.move_cents.value for note in tuning.notes if note.move_cents is not None]
    found = []
    if moves:
        middle = median(moves)
        low, high = (plain(number(one, places=1, plus=True)) for one in (min(moves), max(moves)))
        found.append(
            f"The piano is to move by {plain(number(middle, places=1, plus=True))} cents to A4 = {tuning.a4_hz:g} Hz: "
            f"that is the middle of all notes, from {low} to {high}, each to a stretched target of its own."
        )
        found.append(
            "That is more than fine tuning: strikeline pitch says first how many passes it takes and what it does to "
            "the strings. It reads the level of the piano from C3-A5 alone, so its figure may be another."
            if abs(middle) > FINE_CENTS
            else "In the middle that is within fine tuning."
        )
    return [*found, _odd_strings(tuning)]


def _odd_strings(tuning: Tuning) -> str:
    odd = [note.key for note in tuning.notes if note.b_is_odd]
    scatter = plain(number(tuning.b_scatter_pct, places=1))
    text = f"B scatters by {scatter} % from string to string about the curve of its section"
    if not odd:
        return f"{text}; no string is odd."
    return (
        f"{text}. By itself the B of {key_ranges(odd)} is odd, beyond four times that scatter, and the target heeds "
        "that. About one sound string in a hundred is odd so; the sheet of strikeline listen asks whether any of all "
        "strings is beyond chance, and may call the same inharmonicity even."
    )


def _temperament(beats: Sequence[IntervalBeat], width: int | None) -> list[str]:
    names = [f"{one.name} {one.partials}" for one in TEMPERAMENT_INTERVALS]
    return _by_low_note(beats, names, heads=names, width=width)


def _octaves(beats: Sequence[IntervalBeat], width: int | None) -> list[str]:
    shown = [one for one in beats if (key_from_name(one.low) + 8) % 12 in _SHOWN_STEPS]
    heads = [name.replace("double octave", "double") for name in _SHOWN_OCTAVES]
    return _by_low_note(shown, _SHOWN_OCTAVES, heads=heads, width=width)


def _by_low_note(
    beats: Sequence[IntervalBeat], names: Sequence[str], *, heads: Sequence[str], width: int | None
) -> list[str]:
    cells: dict[str, dict[str, str]] = {}
    for beat in beats:
        row = cells.setdefault(beat.low, {})
        row[f"{beat.interval} {beat.partials}"] = figure(beat.beat_hz, plus=True)
    rows = [[low, *(row.get(name, "") for name in names)] for low, row in cells.items()]
    return fitted([["low", *heads], *rows], width, least_first=heads[::-1])


def _trade_off(outcomes: Sequence[LeaningOutcome], width: int | None) -> list[str]:
    rows = [["leaning", "interval", "bass A0-B2", "middle C3-B4", "treble from C5", "lowest", "highest"]]
    for outcome in outcomes:
        by_place = {(f"{one.interval} {one.partials}", one.register): one for one in outcome.widths}
        for name in dict.fromkeys(name for name, _ in by_place):
            is_first = name == next(iter(by_place))[0]
            cells = [_width(by_place.get((name, register))) for register in ("bass", "middle", "treble")]
            ends = (outcome.lowest_cents, outcome.highest_cents) if is_first else ()
            rows.append(
                [
                    (outcome.leaning + (" *" if outcome.is_chosen else "")) if is_first else "",
                    name,
                    *cells,
                    *(plain(number(end, places=1, plus=True)) for end in ends),
                    *([] if ends else ["", ""]),
                ]
            )
    return fitted(rows, width, least_first=("lowest", "highest", "treble from C5"))


def _width(one: RegisterWidth | None) -> str:
    if one is None:
        return ABSENT
    cents = plain(number(one.width_cents, places=1, plus=True))
    is_counted = abs(one.beat_hz) <= HIGHEST_BEAT_HZ
    return f"{cents}, {plain(number(one.beat_hz, places=2, plus=True))}" if is_counted else f"{cents}, fast"


def _meanings(outcomes: Sequence[LeaningOutcome]) -> list[str]:
    return [f"{one.leaning}{' *' if one.is_chosen else ''}: {one.meaning}." for one in outcomes]


def _criterion(tuning: Tuning) -> str:
    return (
        "How it is computed: the curve makes the weighted sum of squares of all interval widths least, measured from "
        "what the temperament has on strings without stiffness, with the weights below. It is smooth over an octave, "
        "and A4 is exactly the reference. An odd string then moves by half of what its own partials ask for; the other "
        f"half stays in its intervals. Temperament: {tuning.temperament_source}. The leaning is a choice; no published "
        "figure says which is right."
    )


def _weights(tuning: Tuning, width: int | None) -> list[str]:
    """Return the weights of the criterion, a line for each interval."""
    rows = [[f"weights, {tuning.leaning}", *tuning.weight_keys]]
    rows += [[name, *(f"{weight:g}" for weight in row)] for name, row in tuning.weights.items()]
    return fitted(rows, width, least_first=())
