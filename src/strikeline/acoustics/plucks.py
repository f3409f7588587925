"""A plucked section told: for each note its strings from left to right, touched by the hammer's felt or not.

The sounds are put beside the strings (`plucks_sequence`), each is followed as it falls (`plucks_ringing`), the decays
are weighed (`plucks_touch`), and both uncertainties are carried into one probability per string.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit

from strikeline.acoustics.pluck_result import Pluck, StringPlace
from strikeline.acoustics.plucks_cut import LONGEST_S
from strikeline.acoustics.plucks_evidence import PluckEvidence
from strikeline.acoustics.plucks_ringing import Ringing, measure_ringing
from strikeline.acoustics.plucks_sequence import Alignment, align_plucks
from strikeline.acoustics.plucks_touch import weigh_touch
from strikeline.acoustics.strikes import Strike
from strikeline.keyboard import equal_tempered_hz
from strikeline.physics.stretch import typical_inharmonicity_b
from strikeline.physics.strings import partial_frequencies_hz

Real = NDArray[np.float64]

_N_PARTIALS: Final = 14
_HIGHEST_HZ: Final = 7000.0
_PART_OF_NYQUIST: Final = 0.45
_LARGEST_GAP_S: Final = 0.02
_CLEAR_SCORE: Final = 6.0
_NEAR_SEMITONES: Final = 0.8
_PLUCKED: Final = 0.5
_FAINTEST_P: Final = 0.02
_FEWEST_STRINGS_TO_VOICES: Final = 1.0
_MOST_VOICES: Final = 0.2
_FALLS_DB: Final = -5.0
_FEWEST_UNPITCHED: Final = 3.0
_FEWEST_OF_LISTED: Final = 0.6
TOLD_FROM: Final = 0.7
"""Below this probability, about two to one, it is not told which of the two a string is."""
_HEARD_FROM: Final = 0.85
"""Two plucks for three strings leave each of them heard with two in three: then none is told from the other two."""
_UNHEARD_MISTAKES: Final = 0.02
"""Two strings plucked in each other's place sound like two in their own: nothing is surer than this leaves it (our own
guess of how often hands err unheard)."""
_PLACES: Final = {
    1: (StringPlace.ONLY,),
    2: (StringPlace.LEFT, StringPlace.RIGHT),
    3: (StringPlace.LEFT, StringPlace.MIDDLE, StringPlace.RIGHT),
}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ToldNote:
    """One note of a plucked section."""

    key: int
    onset_s: float
    end_s: float
    """Both 0 for a note of which no pluck was heard."""
    plucks: tuple[Pluck, ...]
    n_plucks: float
    """Plucks that were heard of it, as far as is sure: the sum of their probabilities."""
    n_heard: float
    """Strings that were heard of it, each counted once."""
    cannot_tell: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ToldPlucks:
    """A whole plucked section."""

    notes: tuple[ToldNote, ...]
    alignment: Alignment
    is_listed: bool
    """Whether the notes were given."""

    holds_plucks: bool
    """Whether there are plucks at all beyond doubt, not talk or noises."""

    @property
    def n_strings(self) -> int:
        """Strings of all notes."""
        return sum(len(note.plucks) for note in self.notes)

    @property
    def n_heard(self) -> float:
        """Strings heard, as far as is sure."""
        return sum(note.n_heard for note in self.notes)


def tell_plucks(
    evidence: Sequence[PluckEvidence], *, notes: Sequence[int] | None, n_strings: int | None, a4_hz: float
) -> ToldPlucks:
    """Return which strings of a plucked section the felt touches.

    Parameters
    ----------
    evidence : sequence of PluckEvidence
        The sounds in the order of time, at least one.
    notes : sequence of int or None
        Keys in the order in which they were plucked; ``None`` to have them found from the sounds.
    n_strings : int or None
        Strings of every note, 1 to 3; ``None`` to have them found.
    a4_hz : float
        Frequency of A4 at which the instrument is meant to stand.

    Returns
    -------
    ToldPlucks
        Notes in the order of the list, or upwards; with a list also those that were not heard.
    """
    alignment = align_plucks(evidence, notes=notes, n_strings=n_strings)
    by_note = alignment.probability.sum(axis=2)
    note = by_note.argmax(axis=1)
    is_pluck = by_note.sum(axis=1) > _FAINTEST_P
    key = np.array(alignment.keys)[note]
    laws = {int(k): _law(evidence, int(k), note_of=key, level=alignment.pitch_level, a4_hz=a4_hz) for k in set(key)}
    ringing = tuple(
        _ringing(_until_next_pluck(evidence, i, by_note.sum(axis=1)), *laws[int(key[i])]) if is_pluck[i] else None
        for i in range(len(evidence))
    )
    odds = weigh_touch(ringing, key)
    heard = np.flatnonzero(by_note.sum(axis=0) > _PLUCKED)
    told = range(len(alignment.keys)) if notes is not None else heard
    return ToldPlucks(
        notes=tuple(_told_note(int(number), evidence, alignment, odds.touched) for number in told),
        alignment=alignment,
        is_listed=notes is not None,
        holds_plucks=_holds_plucks(evidence, by_note.sum(axis=1), n_listed=None if notes is None else len(notes)),
    )


def _holds_plucks(evidence: Sequence[PluckEvidence], is_pluck: Real, *, n_listed: int | None) -> bool:
    """Return whether some sounds are strings beyond doubt and most that could be voices are not.

    Where nothing has a clear pitch, all strings may lie under felt: then a row of sounds that fall at once will do, if
    the notes were listed.
    """
    taken = [one for one, share in zip(evidence, is_pluck, strict=True) if share > _PLUCKED]
    n_voices = sum(one.is_voice_like for one in taken)
    n_strings = sum(one.is_pitched for one in taken) - n_voices
    if n_strings:
        return n_strings >= _FEWEST_STRINGS_TO_VOICES * n_voices
    if n_listed is None or not taken or n_voices > _MOST_VOICES * len(taken):
        return False
    falls = float(np.median([one.late_attack_db for one in taken])) < _FALLS_DB
    return falls and float(is_pluck.sum()) >= max(_FEWEST_UNPITCHED, _FEWEST_OF_LISTED * n_listed)


def _law(
    evidence: Sequence[PluckEvidence], key: int, *, note_of: NDArray[np.int64], level: float, a4_hz: float
) -> tuple[float, float]:
    """Return f0 and B of a note, from its clearest plucks or else from where the piano stands."""
    f0_hz, b = [], []
    for one, of in zip(evidence, note_of, strict=True):
        near = np.abs(one.position - key - level) < _NEAR_SEMITONES if of == key else np.zeros(0, dtype=bool)
        if near.any() and one.score[near].max() > _CLEAR_SCORE:
            best = int(np.flatnonzero(near)[one.score[near].argmax()])
            f0_hz.append(one.f0_hz[best])
            b.append(one.inharmonicity_b[best])
    if f0_hz:
        return float(np.median(f0_hz)), float(np.median(b))
    typical_b = float(typical_inharmonicity_b(key))
    first_hz = float(equal_tempered_hz(key, a4_hz=a4_hz)) * float(np.exp2(level / 12.0))
    return first_hz / float(np.sqrt(1.0 + typical_b)), typical_b


def _until_next_pluck(evidence: Sequence[PluckEvidence], at: int, is_pluck: Real) -> Strike:
    """Return the sound of one pluck, with the sounds after it joined on that are no plucks."""
    sound = evidence[at].sound
    rate, parts = sound.sample_rate_hz, [sound.samples]
    size = sound.samples.size
    for later in range(at + 1, len(evidence)):
        after = evidence[later].sound
        n_gap = round((after.onset_s - sound.start_s) * rate) - size
        is_near = 0 <= n_gap <= min(round(_LARGEST_GAP_S * rate), after.onset_sample)
        if is_pluck[later] > 1.0 - TOLD_FROM or not is_near or size - sound.onset_sample > LONGEST_S * rate:
            break
        parts.append(after.samples[after.onset_sample - n_gap :])
        size += parts[-1].size
    return replace(sound, samples=np.concatenate(parts)[: sound.onset_sample + round(LONGEST_S * rate)])


def _ringing(sound: Strike, f0_hz: float, inharmonicity_b: float) -> Ringing:
    rate = sound.sample_rate_hz
    partial_hz = partial_frequencies_hz(np.arange(1, _N_PARTIALS + 1), f0_hz=f0_hz, inharmonicity_b=inharmonicity_b)
    inside = partial_hz < min(_HIGHEST_HZ, _PART_OF_NYQUIST * rate)
    inside[0] = True
    return measure_ringing(
        sound.samples,
        sample_rate_hz=rate,
        onset_sample=sound.onset_sample,
        partial_hz=partial_hz[inside],
        spacing_hz=f0_hz,
    )


def _told_note(number: int, evidence: Sequence[PluckEvidence], alignment: Alignment, touched: Real) -> ToldNote:
    """Join the sounds of one note, each with its probability, into one answer per string."""
    of_note = alignment.probability[:, number]
    counts = alignment.count_probability[number]
    n_strings = int(counts.argmax()) + 1 if counts.sum() > 0.0 else 3
    plucks, cannot_tell = [], []
    for string, place in enumerate(_PLACES[n_strings]):
        pluck, why = _told_string(place, of_note[:, string], evidence, touched)
        plucks.append(pluck)
        if why is not None:
            cannot_tell.append(why)
    mine = set(np.flatnonzero(of_note.sum(axis=1) > _PLUCKED).tolist())
    # A string that no one sound surely was still has its likeliest one, which the note then begins or ends with.
    mine |= {int(of_note[:, string].argmax()) for string, pluck in enumerate(plucks) if pluck.at_s is not None}
    onsets = [evidence[i].onset_s for i in mine]
    return ToldNote(
        key=alignment.keys[number],
        onset_s=min(onsets, default=0.0),
        end_s=max((evidence[i].end_s for i in mine), default=0.0),
        plucks=tuple(plucks),
        n_plucks=float(of_note.sum()),
        n_heard=float(np.minimum(of_note.sum(axis=0), 1.0).sum()),
        cannot_tell=tuple(cannot_tell),
    )


def _told_string(
    place: StringPlace, share: Real, evidence: Sequence[PluckEvidence], touched: Real
) -> tuple[Pluck, str | None]:
    """Return the answer for one string; `share` is the probability that each sound was this string."""
    name = "string" if place is StringPlace.ONLY else f"{place.value} string"
    whole = float(share.sum())
    at = int(share.argmax())
    if whole < _PLUCKED and share[at] < _PLUCKED:
        pluck = Pluck(string=place, at_s=None, is_touched=None, confidence=0.5)
        return pluck, f"plucks: no pluck of the {name} was heard"
    p_touched = 0.5 + (1.0 - _UNHEARD_MISTAKES) * (_pooled(share, touched) - 0.5)
    at_s = evidence[at].onset_s
    if max(p_touched, 1.0 - p_touched) < TOLD_FROM or whole < _HEARD_FROM:
        pluck = Pluck(string=place, at_s=at_s, is_touched=None, confidence=0.5)
        if share[at] < TOLD_FROM:
            return pluck, f"plucks: which pluck was the {name} cannot be told; pluck this note again, left to right"
        return pluck, f"plucks: the {name} rings neither clearly short nor clearly long; pluck it again, alone"
    is_touched = p_touched > 0.5
    pluck = Pluck(
        string=place, at_s=at_s, is_touched=is_touched, confidence=p_touched if is_touched else 1.0 - p_touched
    )
    return pluck, None


def _pooled(share: Real, touched: Real) -> float:
    """Return the probability that a string is touched.

    Each sound speaks for the string with the probability of being its pluck. Repeated plucks, each likely its own, add
    up as evidence; where it is open which of several it was, and where none may have been, their answers are averaged.
    """
    sure = np.flatnonzero(share > _PLUCKED)
    if sure.size > 1:
        odds = np.log(touched[sure] + 1e-9) - np.log(1.0 - touched[sure] + 1e-9)
        joint = float(expit(odds.mean() * np.sqrt(sure.size)))
        trust = float(share[sure].mean())
        return trust * joint + (1.0 - trust) * 0.5
    whole = max(1.0, float(share.sum()))
    return float(share @ touched + max(0.0, 1.0 - float(share.sum())) * 0.5) / whole
