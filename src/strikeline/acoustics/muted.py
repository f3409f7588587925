"""The easy way to the strings of a note: a recording of all of them, and of each alone with the others muted.

What departs from the stiff-string law alike in all strings of a note (the bridge pulls them alike, their wires are of
one make) cancels when two of them are compared partial by partial. So their intervals are told far better than each f0.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import combinations
from typing import Final

import numpy as np
import scipy.special

from strikeline.acoustics.coupling import CouplingFit, Poles, estimate_coupling
from strikeline.acoustics.listening import Mode, Note
from strikeline.acoustics.muted_result import Agreement, Coupling, StringAlone, StringsOfNote
from strikeline.acoustics.pluck_result import StringPlace
from strikeline.acoustics.string_intervals import interval_cents, loudest, pitches, rivals
from strikeline.acoustics.unison_result import Beat, Unison, UnisonVerdict
from strikeline.errors import InputError
from strikeline.keyboard import key_name
from strikeline.measured import Measured
from strikeline.units import CENTS_PER_NEPER, DB_PER_NEPER, cents_from_ratio, cents_se

PLACES: Final = (StringPlace.LEFT, StringPlace.MIDDLE, StringPlace.RIGHT, StringPlace.ONLY)
_ALIKE_SHARE: Final = 0.15
"""A mode nearer to another string than this share of the distance between the two is taken for that string."""
_APART_CENTS: Final = 1.0
"""Nearer strings pull each other: which of them is heard cannot be told."""
_CLEARLY_SE: Final = 3.0
_FEWEST_PARTIALS: Final = 3
_HEARD_SHARE: Final = 0.6
_ALIKE_RATES: Final = 0.1
_SMALLEST_SD_PER_S: Final = 1e-5
_MOST_PARTIALS: Final = 10
_HIGHEST_PARTIAL: Final = 20
"""Those whose modes are all resolved, see `strikeline.acoustics.unison_modes`."""
_COUPLING_SE: Final = 2.5
"""A coupling is told if it exceeds so many standard errors."""
_SAME: Final = 1e-9


def compare_strings(together: Note, alone: Mapping[StringPlace, Note], *, n_strings: int | None) -> StringsOfNote:
    """Return what the strings of one note are, alone and together.

    Parameters
    ----------
    together : Note
        The note with all its strings.
    alone : mapping of StringPlace to Note
        The same note with all strings but one muted; one to three of them.
    n_strings : int or None
        Strings of the note; ``None`` if they are as many as were recorded alone, where these are two or three.

    Returns
    -------
    StringsOfNote

    Raises
    ------
    InputError
        If there is no string alone, the notes differ, or two of them are the same recording.
    """
    places = [place for place in PLACES if place in alone]
    _check(together, [alone[place] for place in places], n_strings)
    offsets = _offsets_cents([alone[place] for place in places])
    strings = tuple(
        StringAlone(
            string=place,
            f0_hz=alone[place].f0_hz,
            inharmonicity_b=alone[place].inharmonicity_b,
            from_mean_cents=offset,
            false_beats=_beats(alone[place].unison),
            also_heard=tuple(
                other for other in places if other is not place and is_heard_in(alone[other], alone[place])
            ),
        )
        for place, offset in zip(places, offsets, strict=True)
    )
    is_complete = len(places) == n_strings if n_strings is not None else len(places) > 1
    spread = _spread_cents([alone[place] for place in places])
    coupling = _couplings(together, [alone[place] for place in places]) if is_complete and len(places) > 1 else ()
    return StringsOfNote(
        key=_key(together),
        strings=strings,
        is_complete=is_complete,
        spread_cents=spread,
        together=together.unison,
        agreement=_agreement(together.unison, [string.from_mean_cents for string in strings], is_complete=is_complete),
        coupling=coupling,
        rests_on=_rests_on(strings, coupling, is_assumed=is_complete and n_strings is None),
        cannot_tell=(
            *_beats_not_told(alone),
            *_cannot_tell(strings, spread, coupling, is_complete=is_complete),
        ),
        notices=_notices(strings),
    )


def is_heard_in(other: Note, note: Note) -> bool:
    """Return whether a string that should be muted sounds in the recording of another one.

    It seems so if most partials of `note` have a second mode at the pitch of `other`; a string that beats with itself
    may have one there by chance. Strings within a cent of each other cannot be told so; they count as not heard.
    """
    theirs = pitches(other)
    hits = []
    for partial in note.partials:
        if partial.n not in theirs or not partial.modes:
            continue
        main = loudest(partial)
        apart = float(cents_from_ratio(theirs[partial.n].value / main.f_hz.value))
        se = cents_se(main.f_hz.value, float(np.hypot(main.f_hz.se, theirs[partial.n].se)))
        if abs(apart) > max(_APART_CENTS, _CLEARLY_SE * se):
            near = [
                abs(float(cents_from_ratio(theirs[partial.n].value / mode.f_hz.value))) < _ALIKE_SHARE * abs(apart)
                for mode in partial.modes
            ]
            hits.append(any(near))
    return len(hits) >= _FEWEST_PARTIALS and sum(hits) >= _HEARD_SHARE * len(hits)


def _beats(unison: Unison | None) -> tuple[Beat, ...] | None:
    """Return the beats heard, none or more; ``None`` where no verdict says whether there are any."""
    return None if unison is None or unison.verdict is UnisonVerdict.CANNOT_TELL else unison.beats


def _why_no_unison(note: Note) -> str:
    """Return why nothing is told of the unison of a note, in the words of the note."""
    for reason in note.cannot_tell:
        what, _, why = reason.partition(":")
        if not {"unison", "everything"}.isdisjoint(name.strip() for name in what.split(",")):
            return why.strip()
    return "too little was heard of it"


def _check(together: Note, alone: list[Note], n_strings: int | None) -> None:
    if not alone:
        raise InputError("no string was recorded alone; give the recording of one string or more", name="alone")
    if n_strings is not None and not max(2, len(alone)) <= n_strings <= 3:
        raise InputError.of("n_strings", n_strings, f"{max(2, len(alone))} to 3")
    for note in alone:
        if note.key != together.key:
            alone_name, name = key_name(_key(note)), key_name(_key(together))
            raise InputError(
                f"one string alone sounds {alone_name}, all strings together {name}; give recordings of one note",
                name="alone",
            )
    for one, other in combinations([together, *alone], 2):
        if _is_same(one, other):
            raise InputError("two of the recordings hold the same sound; give one of each string", name="alone")


def _key(note: Note) -> int:
    if note.key is None:
        raise InputError.of("note", None, "a note with a name")
    return note.key


def _is_same(one: Note, other: Note) -> bool:
    """Return whether two notes are one sound, perhaps in two files: no two blows agree to nine digits."""
    first, second = ([partial.f_hz.value for partial in note.partials] for note in (one, other))
    return bool(first) and len(first) == len(second) and np.allclose(first, second, rtol=_SAME, atol=0.0)


def _offsets_cents(alone: list[Note]) -> list[Measured | None]:
    """Return how far each string lies above the mean of all; ``None`` for all where an interval cannot be told.

    The strings are compared in pairs; how far a string lies above the mean is the mean of its intervals.
    """
    n = len(alone)
    intervals = _intervals(alone)
    if intervals is None:
        return [None] * n
    away = np.zeros((n, n))
    variance = np.zeros((n, n))
    for (i, j), interval in intervals.items():
        away[i, j], away[j, i] = interval.value, -interval.value
        variance[i, j] = variance[j, i] = interval.se**2
    # the variance of a pair is that of its two strings together: Σ_j V_ij = (n - 2)·v_i + Σv and ΣV = 2(n - 1)·Σv
    whole = float(variance.sum()) / (2.0 * (n - 1))
    own = (variance.sum(axis=1) - whole) / (n - 2) if n > 2 else np.full(n, whole / 2.0)
    own = np.maximum(own, 0.0)
    se = np.sqrt((n - 2) / n * own + own.sum() / n**2)
    return [Measured(float(value), float(one)) for value, one in zip(away.mean(axis=1), se, strict=True)]


def _intervals(alone: list[Note]) -> dict[tuple[int, int], Measured] | None:
    """Return the interval of each pair of strings; ``None`` where one is missing or there is no pair."""
    found = {(i, j): interval_cents(alone[i], alone[j]) for i, j in combinations(range(len(alone)), 2)}
    told = {pair: interval for pair, interval in found.items() if interval is not None}
    return told if told and len(told) == len(found) else None


def _spread_cents(alone: list[Note]) -> Measured | None:
    """Return the interval between the lowest and the highest string."""
    intervals = _intervals(alone)
    if intervals is None:
        return None
    widest = max(intervals.values(), key=lambda interval: abs(interval.value))
    return Measured(abs(widest.value), widest.se)


def _couplings(together: Note, alone: list[Note]) -> tuple[Coupling, ...]:
    """Return the coupling of each partial in which it can be told."""
    sounding = {partial.n: partial for partial in together.partials if partial.modes}
    strings = [{partial.n: partial for partial in note.partials if partial.modes} for note in alone]
    found = []
    shared = [n for n in set(sounding).intersection(*strings) if n <= _HIGHEST_PARTIAL]
    loudest_first = sorted(shared, key=lambda n: -sounding[n].level_db.value)
    for n in sorted(loudest_first[:_MOST_PARTIALS]):
        own = [string[n] for string in strings]
        beats = any(beat.partial == n for note in alone for beat in _beats(note.unison) or ())
        if beats or any(len(rivals(partial)) > 1 for partial in own):
            continue  # a string that beats with itself has no pole of its own
        fit = estimate_coupling(_poles([loudest(partial) for partial in own]), _poles(sounding[n].modes))
        if fit is not None and abs(fit.kappa_per_s) > _COUPLING_SE * fit.se_per_s:
            found.append(_coupling(n, fit, omega=2.0 * np.pi * sounding[n].f_hz.value))
    return tuple(found)


def _poles(modes: Sequence[Mode]) -> Poles:
    return Poles(
        pole_per_s=np.array(
            [-mode.decay_db_per_s.value / DB_PER_NEPER + 2j * np.pi * mode.f_hz.value for mode in modes]
        ),
        sd_per_s=np.array([max(2.0 * np.pi * mode.f_hz.se, _SMALLEST_SD_PER_S) for mode in modes]),
        level_db=np.array([mode.level_db for mode in modes]),
    )


def _coupling(partial: int, fit: CouplingFit, *, omega: float) -> Coupling:
    kappa, se = fit.kappa_per_s, fit.se_per_s
    cents_per_kappa = 2.0 * CENTS_PER_NEPER / omega
    return Coupling(
        partial=partial,
        loss_per_s=Measured(kappa.real, se),
        pull_hz=Measured(-kappa.imag / (2.0 * np.pi), se / (2.0 * np.pi)),
        locks_below_cents=Measured(abs(kappa) * cents_per_kappa, se * cents_per_kappa),
        n_modes=fit.n_modes,
    )


def _agreement(blind: Unison | None, offsets: list[Measured | None], *, is_complete: bool) -> Agreement:
    """Compare the strings by the intervals above the lowest one."""
    told = sorted((offset for offset in offsets if offset is not None), key=lambda offset: offset.value)
    if not is_complete or len(told) < len(offsets) or len(told) < 2:
        return Agreement.ALONE_CANNOT_TELL
    if blind is None or blind.string_f0_hz is None:
        return Agreement.BLIND_CANNOT_TELL
    if len(blind.string_f0_hz) != len(told):
        return Agreement.DISAGREES
    low = blind.string_f0_hz[0]
    most = float(scipy.special.ndtri(1.0 - 0.025 / (len(told) - 1)))
    for f0, offset in zip(blind.string_f0_hz[1:], told[1:], strict=True):
        heard = float(cents_from_ratio(f0.value / low.value))
        se = np.hypot(np.hypot(cents_se(low.value, low.se), cents_se(f0.value, f0.se)), np.hypot(offset.se, told[0].se))
        if abs(heard - (offset.value - told[0].value)) > most * se:
            return Agreement.DISAGREES
    return Agreement.AGREES


def _rests_on(strings: tuple[StringAlone, ...], coupling: tuple[Coupling, ...], *, is_assumed: bool) -> tuple[str, ...]:
    return (
        *(("the strings kept their pitch from one recording to the next",) if len(strings) > 1 else ()),
        *((f"the note has {len(strings)} strings, as many as were recorded alone",) if is_assumed else ()),
        *(
            ("the bridge gives way to all strings of the note alike, and muted strings take no part",)
            if coupling
            else ()
        ),
    )


def _beats_not_told(alone: Mapping[StringPlace, Note]) -> tuple[str, ...]:
    return tuple(
        f"false beats of the {place.value} string: {_why_no_unison(alone[place])}"
        for place in PLACES
        if place in alone and _beats(alone[place].unison) is None
    )


def _cannot_tell(
    strings: tuple[StringAlone, ...], spread: Measured | None, coupling: tuple[Coupling, ...], *, is_complete: bool
) -> tuple[str, ...]:
    reasons = [
        f"f0 of the {string.string.value} string: too few of its partials stand clear or agree on one string"
        for string in strings
        if string.f0_hz is None
    ]
    if spread is None:
        few = len(strings) == 1
        reasons.append(
            f"spread: {'only one string was recorded alone' if few else 'the strings share no clear partial'}"
        )
    if not is_complete:
        reasons.append("coupling: needs every string of the note alone")
    elif not coupling and any(string.false_beats for string in strings):
        reasons.append("coupling: a string that beats with itself has no one pitch to start from")
    elif not coupling:
        reasons.append(
            "coupling: in no partial do the modes of all strings follow from those alone beyond their errors"
        )
    return tuple(reasons)


def _notices(strings: tuple[StringAlone, ...]) -> tuple[str, ...]:
    notices = []
    for string in strings:
        notices += [_second_string_in_words(string, other) for other in string.also_heard]
        if string.false_beats and not string.also_heard:
            notices.append(_beats_in_words(string.string, string.false_beats))
    return tuple(notices)


def _second_string_in_words(string: StringAlone, other: StringPlace) -> str:
    where = f"in the recording of the {string.string.value} string a second pitch sounds, that of the {other.value} one"
    return f"{where}: mute that better and record again; if it is still there, the string beats with itself"


def _beats_in_words(string: StringPlace, beats: tuple[Beat, ...]) -> str:
    """Say how a string beats with itself, and what else that could be."""
    first = beats[0]
    text = (
        f"the {string.value} string beats with itself, {first.rate_hz.value:.2f} times a second in partial "
        f"{first.partial}"
    )
    if len(beats) > 1:
        text += f", and in {len(beats) - 1} more"
    relative = np.array([beat.rate_hz.value / beat.partial for beat in beats])
    if len(beats) >= _FEWEST_PARTIALS and float(relative.std()) < _ALIKE_RATES * float(relative.mean()):
        text += "; the beats grow in step with the partials, as those of two strings do: see that the mutes hold"
    return text
