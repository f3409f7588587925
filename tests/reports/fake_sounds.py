"""Unisons, dampers and plucked strings nobody recorded, to be set into a fake listening.

Of the pass: C5 beats at 2.3 per second, twelve notes of the tenor beat slowly, D4 and E4 are uneven, A7 cannot be told.
Of the short blows: A♯2, B2 and D3 leak, F4 is late, C5 is weak, E6 rings on; from F♯6 up there are no dampers.
Of the plucked strings: of F3 to C5 A4 left and B4 middle and right are open, D4 right cannot be told.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np
from tests.reports.fake_listening import fake_listening

from strikeline.acoustics.damping_result import DampedPartial, DamperVerdict, Damping
from strikeline.acoustics.listening import Decay, Kind, Listening, Mode, Note, Partial
from strikeline.acoustics.pluck_result import Pluck, StringPlace
from strikeline.acoustics.unison_result import Beat, Unison, UnisonVerdict
from strikeline.keyboard import SHORT_COMPASS, key_from_name
from strikeline.measured import Measured

FASTEST: Final = key_from_name("C5")
SLOW: Final = range(key_from_name("C3"), key_from_name("C3") + 12)
UNEVEN: Final = (key_from_name("D4"), key_from_name("E4"))
UNTOLD: Final = key_from_name("A7")
LEAKING: Final = {key_from_name("A#2"): (3, 6), key_from_name("B2"): (3,), key_from_name("D3"): (5,)}
LATE: Final = key_from_name("F4")
WEAK: Final = key_from_name("C5")
RINGS: Final = key_from_name("E6")
FIRST_UNDAMPED: Final = key_from_name("F#6")
PLUCKED: Final = range(key_from_name("F3"), key_from_name("C5") + 1)
OPEN: Final = {key_from_name("A4"): (StringPlace.LEFT,), key_from_name("B4"): (StringPlace.MIDDLE, StringPlace.RIGHT)}
UNTOLD_STRING: Final = key_from_name("D4")


def fake_pass() -> Listening:
    """Return the invented upright with a unison and two stages of decay for every note."""
    listening = fake_listening()
    return replace(listening, notes=tuple(_with_unison(note) for note in listening.notes))


def _with_unison(note: Note) -> Note:
    key = note.key or 0
    hz = 0.0 if note.f0_hz is None else note.f0_hz.value
    early = 9.0 * 2.0 ** ((key - 40) / 24)
    one = Mode(f_hz=Measured(hz, 0.01), decay_db_per_s=Measured(early, 0.5), level_db=-20.0)
    other = replace(one, f_hz=Measured(hz + 0.4, 0.01), level_db=-26.0)
    late = Measured(0.3 * early, 0.1 * early) if key > 20 else None
    partial = Partial(
        n=1,
        f_hz=Measured(hz, 0.01),
        level_db=Measured(-20.0, 0.2),
        decay_db_per_s=Decay(early=Measured(early, 0.04 * early), late=late, crossing_s=None),
        modes=(one, other),
        law_cents=0.1,
        in_law=True,
    )
    return replace(note, partials=(partial,), unison=_unison(key, hz), singing_s=Measured(12.0 - 0.1 * key, 0.5))


def _unison(key: int, hz: float) -> Unison:
    if key == FASTEST:
        beats = tuple(Beat(partial=n, rate_hz=Measured(2.3 * n, 0.02), depth_db=11.0) for n in (1, 2))
        strings = (Measured(hz - 1.1, 0.02), Measured(hz, 0.02), Measured(hz + 1.2, 0.02))
        return Unison(
            verdict=UnisonVerdict.BEATING,
            beats=beats,
            string_f0_hz=strings,
            spread_cents=Measured(7.6, 0.1),
            rests_on="3 strings, by the modes of 4 partials; alike in wire, struck at the same moment",
        )
    if key in SLOW:
        beat = Beat(partial=2, rate_hz=Measured(0.3 + 0.02 * (key - SLOW[0]), 0.01), depth_db=6.0)
        return Unison(verdict=UnisonVerdict.BEATING, beats=(beat,))
    if key == UNTOLD:
        return Unison(verdict=UnisonVerdict.CANNOT_TELL)
    return Unison(verdict=UnisonVerdict.UNEVEN if key in UNEVEN else UnisonVerdict.LOCKED)


def fake_staccato(*, even: bool = False) -> Listening:
    """Return short blows up the invented upright; `even` leaves every fault out."""
    rng = np.random.default_rng(7)
    notes = []
    for key in range(1, 86):
        scatter = float(rng.standard_normal())
        notes.append(
            Note(
                key=key,
                onset_s=2.5 * key,
                end_s=2.5 * key + 2.4,
                damping=_damping(key, scatter, even=even),
                notices=("the damper lands 0.15 s later than its neighbours'",) if key == LATE and not even else (),
                cannot_tell=("damping: the blow is hidden by the note before",) if key == 1 else (),
            )
        )
    whole = fake_listening(even=True).recording
    return Listening(recording=replace(whole, kind=Kind.STACCATO, compass=SHORT_COMPASS), notes=tuple(notes))


def _damping(key: int, scatter: float, *, even: bool) -> Damping:
    if key == 1:
        return Damping(verdict=DamperVerdict.CANNOT_TELL)
    t60_s = 0.45 * float(np.exp(-0.008 * key + 0.1 * scatter))
    lands_s = Measured(0.16 + 0.01 * scatter, 0.008)
    leaking: tuple[int, ...] = ()
    verdict = DamperVerdict.STOPS
    ringing: tuple[float, ...] = ()
    if key >= FIRST_UNDAMPED or (key == RINGS and not even):
        return Damping(verdict=DamperVerdict.NONE)
    if not even and key in LEAKING:
        verdict, leaking, t60_s = DamperVerdict.LEAKS, LEAKING[key], 2.1
    elif not even and key == LATE:
        verdict, lands_s = DamperVerdict.LATE, Measured(0.31, 0.01)
    elif not even and key == WEAK:
        verdict, t60_s, ringing = DamperVerdict.WEAK, 1.2, (262.1, 784.9)
    partials = tuple(
        DampedPartial(n=n, decay_db_per_s=Measured(60.0 / t60_s, 4.0), leaks=n in leaking) for n in range(1, 8)
    )
    return Damping(
        verdict=verdict,
        lands_s=lands_s,
        t60_s=Measured(t60_s, 0.05 * t60_s),
        partials=partials,
        after_ring_hz=ringing,
    )


def fake_plucks(*, even: bool = False) -> Listening:
    """Return a plucked section of the invented upright; `even` leaves every open string out."""
    notes = []
    for key in PLUCKED:
        strings = []
        for i, place in enumerate((StringPlace.LEFT, StringPlace.MIDDLE, StringPlace.RIGHT)):
            at_s = 3.0 * (key - PLUCKED[0]) + 0.6 * i
            missed = not even and place in OPEN.get(key, ())
            unsure = not even and key == UNTOLD_STRING and place is StringPlace.RIGHT
            strings.append(
                Pluck(
                    string=place,
                    at_s=at_s,
                    is_touched=None if unsure else not missed,
                    confidence=0.5 if unsure else 0.97 if missed else 0.9995,
                )
            )
        notes.append(
            Note(
                key=key,
                onset_s=3.0 * (key - PLUCKED[0]),
                end_s=3.0 * (key - PLUCKED[0]) + 2.8,
                plucks=tuple(strings),
                cannot_tell=("plucks: the right string is covered by noise",)
                if not even and key == UNTOLD_STRING
                else (),
            )
        )
    whole = fake_listening(even=True).recording
    return Listening(
        recording=replace(whole, kind=Kind.PLUCKS, compass=None, missing_keys=(), duration_s=61.0), notes=tuple(notes)
    )
