"""One strike in, one measured `Note` out."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.acoustics.bands import Spectrum
from strikeline.acoustics.brightness import estimate_brightness
from strikeline.acoustics.decay import estimate_decays
from strikeline.acoustics.law import LawFit, fit_law
from strikeline.acoustics.listening import Mode, Note, Partial
from strikeline.acoustics.loudness import estimate_knock_db, estimate_level_db, estimate_sustain_db_per_s
from strikeline.acoustics.partials import MeasuredPartials, measure_partials
from strikeline.acoustics.release import find_release
from strikeline.acoustics.singing import estimate_singing
from strikeline.acoustics.strikes import Strike
from strikeline.acoustics.tracking import PartialTrack, track_partials
from strikeline.acoustics.unison import judge_unison
from strikeline.acoustics.unison_modes import PartialModes, modes_of, resolve_modes
from strikeline.errors import InputError
from strikeline.keyboard import equal_tempered_hz
from strikeline.measured import Measured
from strikeline.physics.stretch import typical_inharmonicity_b
from strikeline.physics.strings import partial_frequencies_hz
from strikeline.units import DB_PER_NEPER, cents_from_ratio, cents_se

Complex = NDArray[np.complex128]
Real = NDArray[np.float64]
Real32 = NDArray[np.float32]

_LONGEST_S: Final = 4.0
"""Sound beyond this adds little and would make long notes differ from short ones."""
_SHORTEST_S: Final = 0.08
_EARLY_S: Final = 0.2
_BLOW_S: Final = 0.04
_LAST_DAMPED_KEY: Final = 70
"""F♯6: dampers end between E6 and G6 (from memory); above, every fall is the string's own."""
_HIGHEST_SHARE: Final = 0.46
"""Of the sample rate: above, the converters' filters colour the sound."""
_HIGHEST_HZ: Final = 10_000.0
_HIGHEST_OF_F0: Final = 6.0
_MOST_PARTIALS: Final = 90
_CLEAR_DB: Final = 13.0
"""Energy over noise density. In noise alone the best of a hundred places reaches 7 dB; below 13 dB the error of a
frequency is no longer normal."""
_RULY_PARTIALS: Final = 30.0
_RULY_LEVEL_DB: Final = -70.0
_PLAIN_SCATTER_CENTS: Final = 0.99
_WOUND_SCATTER_CENTS: Final = 3.81
"""RMS departure of partials from the law: H. Fletcher 1964, Table VI, strings 54 and 23 (read in a secondary text)."""
_LAST_WOUND_KEY: Final = 28
_MOST_RELATIVE_B_SE: Final = 0.5
_MOST_F0_SE_CENTS: Final = 30.0
_TYPICAL_B_SD: Final = 0.3
"""Spread of ln B between instruments at one key: in the treble, where a note may show a single partial, the grands in
tests/reference lie within 25 % of `typical_inharmonicity_b`, and Fletcher's upright (1964) up to 40 % below."""
_SMALLEST_IN_LAW_WEIGHT: Final = 0.25
"""A partial four standard deviations off the law; it did not take part to speak of."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Pitch:
    f0_hz: Measured | None = None
    inharmonicity_b: Measured | None = None
    first_partial_hz: Measured | None = None
    """f0·√(1 + B): what sounds if partial 1 obeys the law."""
    law: LawFit | None = None
    reasons: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Colour:
    brightness: Measured | None = None
    sustain_db_per_s: Measured | None = None
    singing_s: Measured | None = None
    knock_db: Measured | None = None
    reasons: tuple[str, ...] = ()


def measure_strike(strike: Strike, *, key: int, f0_start_hz: float, a4_hz: float, n_strings: int | None = None) -> Note:
    """Measure one struck note whose key is known.

    Parameters
    ----------
    strike : Strike
        The sound of the blow, with what rang before it.
    key : int
        Key number, 49 for A4.
    f0_start_hz : float
        f0 to within about 20 cents.
    a4_hz : float
        Reference for ``cents_from_et`` and ``pitch_cents``, hertz.
    n_strings : int or None
        How many strings sound, if that is known: 1, 2 or 3.

    Returns
    -------
    Note
        Whatever can be told; the rest is ``None`` with its reason in ``cannot_tell``.

    Raises
    ------
    InputError
        If `f0_start_hz` or `a4_hz` is not above 0, `n_strings` is none of those, or the samples are not finite.
    """
    if n_strings not in {None, 1, 2, 3}:
        raise InputError.of("n_strings", n_strings, "1, 2 or 3")
    rate_hz = strike.sample_rate_hz
    before, sound = _before_and_after(strike, key, f0_start_hz)
    note = Note(key=key, onset_s=strike.onset_s, end_s=strike.end_s)
    if sound.size < _SHORTEST_S * rate_hz:
        return replace(note, cannot_tell=(f"everything: {sound.size / rate_hz:.2f} s of sound is too short",))
    if not sound.any():
        return replace(note, cannot_tell=("everything: there is only silence",))
    level = estimate_level_db(sound, before, sample_rate_hz=rate_hz)
    reasons = [] if level is not None else ["level: hidden by what sounded before"]
    highest_hz = min(_HIGHEST_SHARE * rate_hz, max(_HIGHEST_HZ, _HIGHEST_OF_F0 * f0_start_hz))
    track = track_partials(
        sound[int(_BLOW_S * rate_hz) :],
        sample_rate_hz=rate_hz,
        key=key,
        f0_hz=f0_start_hz,
        highest_hz=highest_hz,
        most=min(_MOST_PARTIALS, int(highest_hz / f0_start_hz) + 1),
    )
    if track is None:
        reasons.append(
            "pitch, brightness, sustain, singing, knock: "
            f"no partial below {highest_hz:.0f} Hz stands clear of the noise"
        )
        return replace(note, level_db=level, cannot_tell=tuple(reasons))
    spectrum = Spectrum(sound, sample_rate_hz=rate_hz)
    found = measure_partials(spectrum, track.partial, expected_hz=track.f_hz, spacing_hz=track.f0_hz)
    clear = found.signal_to_noise_db > _CLEAR_DB
    pitch = _estimate_pitch(found, clear, track, key)
    colour = _estimate_colour(spectrum, before, found, clear, key=key, law_hz=_law_hz(track, highest_hz))
    modes = resolve_modes(found, clear)
    unison, untold = judge_unison(
        tuple(modes.values()),
        heard_s=spectrum.duration_s,
        f0_hz=pitch.f0_hz,
        inharmonicity_b=pitch.inharmonicity_b,
        n_strings=n_strings,
        level_db=found.level_db[list(modes)].tolist(),
    )
    return replace(
        note,
        f0_hz=pitch.f0_hz,
        inharmonicity_b=pitch.inharmonicity_b,
        cents_from_et=_cents_from_et(pitch.f0_hz, key, a4_hz),
        pitch_cents=_cents_from_et(pitch.first_partial_hz, key, a4_hz),
        partials=_partials(found, clear, pitch.law, modes, n_strings=n_strings or (3 if key > _LAST_WOUND_KEY else 2)),
        brightness=colour.brightness,
        level_db=level,
        knock_db=colour.knock_db,
        sustain_db_per_s=colour.sustain_db_per_s,
        singing_s=colour.singing_s,
        unison=unison,
        heard_s=spectrum.duration_s,
        cannot_tell=(*reasons, *pitch.reasons, *colour.reasons, *untold),
    )


def _before_and_after(strike: Strike, key: int, f0_start_hz: float) -> tuple[Real32, Real32]:
    """Return what sounded before the blow, and the sound from the onset to the damper, at most `_LONGEST_S`; no DC."""
    if not (np.isfinite(f0_start_hz) and f0_start_hz > 0.0):
        raise InputError.of("f0_start_hz", f0_start_hz, "above 0 Hz")
    mean = strike.samples.mean(dtype=np.float64) if strike.samples.size else 0.0
    if not np.isfinite(mean):  # as it is if a single sample is not
        raise InputError.of("strike", "NaN or infinity", "finite sound")
    rate_hz = strike.sample_rate_hz
    samples = strike.samples - np.float32(mean)
    before, sound = samples[: strike.onset_sample], samples[strike.onset_sample :][: int(_LONGEST_S * rate_hz)]
    if key > _LAST_DAMPED_KEY:
        return before, sound
    released_s = find_release(sound, sample_rate_hz=rate_hz)
    return before, sound if released_s is None else sound[: int(released_s * rate_hz)]


def _estimate_colour(
    spectrum: Spectrum,
    before: Real32,
    found: MeasuredPartials,
    clear: NDArray[np.bool_],
    *,
    key: int,
    law_hz: Real,
) -> _Colour:
    if found.bands.is_cut_short:
        what = "brightness, decay, sustain, singing, knock"
        reason = f"{what}: {spectrum.duration_s:.2f} s of sound is too short for this key"
        return _Colour(reasons=(reason,))
    reasons = []
    power, power_se = _early_power(found)
    brightness = estimate_brightness(
        found.f_hz[clear], np.sqrt(power[clear]), 0.5 * power_se[clear] / np.sqrt(power[clear]), key=key
    )
    if brightness is None:
        reasons.append("brightness: fewer than two partials stand clear of the noise")
    sustain = estimate_sustain_db_per_s(found.bands, found.floor_variance)
    if sustain is None:
        reasons.append("sustain: too short a sound, or the noise is reached too soon")
    singing, open_still = estimate_singing(found, clear, duration_s=spectrum.duration_s)
    reasons += [open_still] if open_still else []
    knock = estimate_knock_db(
        spectrum,
        before,
        partial_hz=law_hz,
        spacing_hz=float(law_hz[0]),
        tone_energy=float(found.single.energy.sum()) / found.bands.rate_hz / 2.0,
        heard=found.sounding_modes(),
    )
    if knock is None:
        reasons.append("knock: hidden by noise or by the partials, or nothing was heard before the blow")
    return _Colour(
        brightness=brightness,
        sustain_db_per_s=sustain,
        singing_s=singing,
        knock_db=knock,
        reasons=tuple(reasons),
    )


def _law_hz(track: PartialTrack, highest_hz: float) -> Real:
    number = np.arange(1.0, highest_hz / track.f0_hz + 2.0)
    return partial_frequencies_hz(number, f0_hz=track.f0_hz, inharmonicity_b=track.inharmonicity_b)


def _early_power(found: MeasuredPartials) -> tuple[Real, Real]:
    """Return the mean square of each band over its first 0.2 s less the noise, and its standard error from noise."""
    early = found.bands.time_s < found.bands.time_s[0] + _EARLY_S
    noise = found.floor_variance * found.bands.noise_share
    total = np.mean(np.abs(found.bands.signal[:, early]) ** 2, axis=1)
    power = np.maximum(total - noise, 1e-3 * total + 1e-30)
    looks = max(1.0, float(early.sum()) * found.bands.noise_share)
    return power, np.sqrt((2.0 * power * noise + noise**2) / looks)


def _estimate_pitch(found: MeasuredPartials, clear: NDArray[np.bool_], track: PartialTrack, key: int) -> _Pitch:
    number = found.partial[clear].astype(np.float64)
    if number.size == 0:
        return _Pitch(reasons=("pitch: no partial stands clear of the noise",))
    if number.size == 1:
        return _from_one_partial(found, clear, key)
    power = 10.0 ** (found.level_db[clear] / 10.0)
    ideal = number.size > 2 and power[found.is_double[clear]].sum() < 0.5 * power.sum()
    known = _PLAIN_SCATTER_CENTS if key > _LAST_WOUND_KEY else _WOUND_SCATTER_CENTS
    law = fit_law(
        number,
        f_hz=found.f_hz[clear],
        se_cents=found.se_cents[clear],
        f0_hz=track.f0_hz,
        inharmonicity_b=track.inharmonicity_b,
        unruliness=_unruliness(found, clear),
        known_scatter_cents=None if ideal else known,
    )
    f0_se_cents = cents_se(law.f0_hz, law.f0_se_hz)
    if f0_se_cents > _MOST_F0_SE_CENTS:
        reason = f"f0, inharmonicity: the partials do not agree on a string (f0 only to {f0_se_cents:.0f} cents)"
        return _Pitch(first_partial_hz=_partial_1_hz(found, clear), law=law, reasons=(reason,))
    f0, first = Measured(law.f0_hz, law.f0_se_hz), _first_partial_hz(law)
    if law.b_se > _MOST_RELATIVE_B_SE * law.inharmonicity_b:
        reason = f"inharmonicity: {number.size} partials fix it only to {100 * law.b_se / law.inharmonicity_b:.0f} %"
        return _Pitch(f0_hz=f0, first_partial_hz=first, law=law, reasons=(reason,))
    return _Pitch(f0_hz=f0, inharmonicity_b=Measured(law.inharmonicity_b, law.b_se), first_partial_hz=first, law=law)


def _from_one_partial(found: MeasuredPartials, clear: NDArray[np.bool_], key: int) -> _Pitch:
    """Return f0 from a single partial and the typical B of its key."""
    row = int(np.flatnonzero(clear)[0])
    n, typical_b = int(found.partial[row]), float(typical_inharmonicity_b(key))
    f_hz, relative_se = float(found.f_hz[row]), float(found.se_hz[row] / found.f_hz[row])
    reason = f"inharmonicity: only partial {n} stands clear of the noise"

    def carried_down_to(partial: int) -> Measured:
        """Return partial `partial`, 0 for f0, by the law with the typical B and its spread."""
        at_n, at_p = 1.0 + typical_b * n**2, 1.0 + typical_b * partial**2
        value = f_hz * max(partial, 1) / n * float(np.sqrt(at_p / at_n))
        from_b = 0.5 * typical_b * _TYPICAL_B_SD * abs(n**2 / at_n - partial**2 / at_p)
        return Measured(value, value * float(np.hypot(relative_se, from_b)))

    f0, first = carried_down_to(0), carried_down_to(1)
    if cents_se(f0.value, f0.se) <= _MOST_F0_SE_CENTS:
        return _Pitch(f0_hz=f0, first_partial_hz=first, reasons=(f"{reason}; f0 rests on a typical inharmonicity",))
    if n == 1:
        return _Pitch(first_partial_hz=first, reasons=(reason, "f0: the inharmonicity it needs is not known"))
    return _Pitch(reasons=(reason, f"pitch: only partial {n} stands clear of the noise"))


def _unruliness(found: MeasuredPartials, clear: NDArray[np.bool_]) -> Real:
    """Return how much farther high and faint partials stray from the law than low and strong ones.

    Measured on open recordings of two grands: beyond about the thirtieth partial the departures grow steadily, and
    partials 70 dB under the strongest are often not the string's own (phantoms, crumbs of lossy coding).
    """
    number, level_db = found.partial[clear], found.level_db[clear]
    faint = 10.0 ** ((_RULY_LEVEL_DB - (level_db - level_db.max())) / 10.0)
    return np.asarray(np.sqrt((1.0 + (number / _RULY_PARTIALS) ** 4) * (1.0 + faint)))


def _partial_1_hz(found: MeasuredPartials, clear: NDArray[np.bool_]) -> Measured | None:
    """Return partial 1 as it sounds, if it was heard."""
    row = np.flatnonzero(clear & (found.partial == 1))
    return Measured(float(found.f_hz[row[0]]), float(found.se_hz[row[0]])) if row.size else None


def _first_partial_hz(law: LawFit) -> Measured:
    slope = np.array([1.0, 0.5 / (1.0 + law.inharmonicity_b)])
    value = law.f0_hz * float(np.sqrt(1.0 + law.inharmonicity_b))
    return Measured(value, value * float(np.sqrt(slope @ law.covariance @ slope)))


def _cents_from_et(frequency_hz: Measured | None, key: int, a4_hz: float) -> Measured | None:
    if frequency_hz is None:
        return None
    cents = float(cents_from_ratio(frequency_hz.value / float(equal_tempered_hz(key, a4_hz=a4_hz))))
    return Measured(cents, cents_se(frequency_hz.value, frequency_hz.se))


def _partials(
    found: MeasuredPartials,
    clear: NDArray[np.bool_],
    law: LawFit | None,
    modes: dict[int, PartialModes],
    *,
    n_strings: int,
) -> tuple[Partial, ...]:
    decays = estimate_decays(found, modes, n_strings=n_strings)
    lone = _lone_modes(found)
    in_law = np.zeros(found.partial.size, dtype=bool)
    law_cents: dict[int, float] = {}
    if law is not None:
        in_law[clear] = law.weight > _SMALLEST_IN_LAW_WEIGHT
        law_cents = dict(zip(np.flatnonzero(clear).tolist(), law.departure_cents.tolist(), strict=True))
    rows = np.flatnonzero(clear)
    f_hz = _measured(found.f_hz[rows], found.se_hz[rows])
    level_db = _measured(found.level_db[rows], found.level_se_db[rows])
    return tuple(
        Partial(
            n=int(found.partial[row]),
            f_hz=f,
            level_db=level,
            decay_db_per_s=decays[row],
            modes=_sounding(found, row, modes, lone[row]),
            law_cents=law_cents.get(row),
            in_law=bool(in_law[row]),
        )
        for row, f, level in zip(rows.tolist(), f_hz, level_db, strict=True)
    )


def _measured(value: Real, se: Real) -> list[Measured]:
    return [Measured(*both) for both in zip(value.tolist(), se.tolist(), strict=True)]


def _lone_modes(found: MeasuredPartials) -> list[Mode]:
    """Return the one mode that each partial would be."""
    single = found.single
    pole = single.exponent[:, 0] + 2j * np.pi * found.bands.centre_hz
    return _as_told(pole, single.exponent_sd[:, 0], single.onset[:, 0])


def _sounding(found: MeasuredPartials, row: int, resolved: dict[int, PartialModes], lone: Mode) -> tuple[Mode, ...]:
    """Return the modes of a partial; where one is all there is, it is the one whose level the partial has."""
    if not found.is_double[row] and (row not in resolved or resolved[row].onset.size == 1):
        return (lone,)
    return _modes(resolved[row] if row in resolved else modes_of(found, row))


def _modes(modes: PartialModes) -> tuple[Mode, ...]:
    """Return the modes of a partial, loudest first."""
    loudest = np.argsort(-np.abs(modes.onset), kind="stable")
    return tuple(_as_told(modes.pole_per_s[loudest], modes.pole_sd_per_s[loudest], modes.onset[loudest]))


def _as_told(pole_per_s: Complex, pole_sd_per_s: Real, onset: Complex) -> list[Mode]:
    """Return modes as they are told, arrays of shape (m,), in the same order."""
    f_hz = _measured(pole_per_s.imag / (2 * np.pi), pole_sd_per_s / (2 * np.pi))
    decay = _measured(-DB_PER_NEPER * pole_per_s.real, DB_PER_NEPER * pole_sd_per_s)
    level_db = 20.0 * np.log10(np.maximum(np.abs(onset), 1e-15))
    return [Mode(f_hz=f, decay_db_per_s=d, level_db=x) for f, d, x in zip(f_hz, decay, level_db.tolist(), strict=True)]
