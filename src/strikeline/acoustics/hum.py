"""Mains hum standing in the quiet moments of a recording."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import fft

_HUM_RATE_HZ: Final = 4000.0
_HUM_SIZE: Final = 4096
"""About one second: lines 1 Hz apart are told apart."""
_HUM_HARMONICS: Final = range(1, 11)
_MAINS_HZ: Final = (50.0, 60.0)
_MAINS_TOLERANCE_RATIO: Final = 0.005
"""Grids hold their frequency within about 0.2 Hz (common practice, no source). G1 at 49.0 Hz lies 2 % below 50 Hz."""
_AGREEMENT_RATIO: Final = 0.001
"""Lines of one hum are exact multiples; the parabola through a line finds it to a few hundredths of a hertz."""
_LINE_DB: Final = 10.0
"""In noise the largest of five bins exceeds ten times the median by chance in 0.5 % of windows."""
_STEADY_DB: Final = 4.0
_LOWEST_HARMONICS: Final = (1, 2, 3)
_QUIET_SHARE: Final = 0.2
_FEWEST_WINDOWS: Final = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class HumFound:
    """Mains hum in the quiet moments."""

    mains_hz: float
    harmonics: tuple[int, ...]
    level_db: float
    """Of the strongest harmonic, dB re full scale."""
    prominence_db: float
    """Of the strongest harmonic above the noise beside it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Line:
    hz: float
    power: float
    prominence_db: float


class Hum:
    """Look for the mains frequency and its harmonics standing in the quiet moments.

    A partial decays; hum does not. The quietest fifth of the seconds is searched for lines at multiples of 50 or 60 Hz
    (within 0.5 %) that stand 10 dB above their surroundings in at least four fifths of those seconds, with a level
    that changes by less than 4 dB between them. Hum is the first, second or third harmonic with at least one more
    line, all multiples of one frequency within 0.1 %; a lone line may be the last of a partial.

    Parameters
    ----------
    sample_rate_hz : float
        Samples per second.
    """

    def __init__(self, *, sample_rate_hz: float) -> None:
        self._factor = max(1, int(sample_rate_hz // _HUM_RATE_HZ))
        self._rate = sample_rate_hz / self._factor
        self._mean = np.full(self._factor, 1.0 / self._factor, dtype=np.float32)
        self._window = np.hanning(_HUM_SIZE).astype(np.float32)
        self._window *= 2 / self._window.sum()
        self._rest = np.zeros(0, np.float32)
        self._slow = np.zeros(0, np.float32)
        self._top = min(_HUM_SIZE // 2, int(1.1 * max(_MAINS_HZ) * max(_HUM_HARMONICS) / self._rate * _HUM_SIZE))
        self._spectra: list[NDArray[np.float32]] = []
        self._power: list[float] = []

    def feed(self, samples: NDArray[np.float32]) -> None:
        """Take in the next samples, shape (n,)."""
        joined = np.concatenate([self._rest, samples])
        n_slow = len(joined) // self._factor
        # The mean of a group is a low-pass with zeros at the multiples of the new rate: what it folds down onto the
        # mains lines is weak, and a line that holds still in the quiet moments is no partial wherever it came from.
        means = joined[: n_slow * self._factor].reshape(n_slow, self._factor) @ self._mean
        self._rest = joined[n_slow * self._factor :]
        self._slow = np.concatenate([self._slow, means])
        while len(self._slow) >= _HUM_SIZE:
            part, self._slow = self._slow[:_HUM_SIZE], self._slow[_HUM_SIZE:]
            power = np.square(np.abs(fft.rfft((part - part.mean()) * self._window)))
            self._spectra.append(power[: self._top].astype(np.float32))
            self._power.append(float(power[5:].sum()))

    def find(self) -> HumFound | None:
        """Return the hum heard so far, or ``None``."""
        total = np.array(self._power)
        sounding = np.flatnonzero(total > 1e-13)
        if len(sounding) < _FEWEST_WINDOWS:
            return None
        n_quiet = max(_FEWEST_WINDOWS, round(_QUIET_SHARE * len(sounding)))
        quiet = sounding[np.argsort(total[sounding])[:n_quiet]]
        spectra = np.stack([self._spectra[index] for index in quiet]).astype(np.float64)
        found = [hum for mains_hz in _MAINS_HZ if (hum := self._find_series(spectra, mains_hz)) is not None]
        return max(found, key=lambda hum: (len(hum.harmonics), hum.prominence_db), default=None)

    def _find_series(self, spectra: NDArray[np.float64], mains_hz: float) -> HumFound | None:
        lines = {
            harmonic: line
            for harmonic in _HUM_HARMONICS
            if (line := self._find_line(spectra, harmonic * mains_hz)) is not None
        }
        lowest = next((lines[harmonic].hz / harmonic for harmonic in _LOWEST_HARMONICS if harmonic in lines), None)
        if lowest is None:
            return None
        agreeing = {
            harmonic: line
            for harmonic, line in lines.items()
            if abs(line.hz / harmonic / lowest - 1) <= max(_AGREEMENT_RATIO, 0.1 / (harmonic * mains_hz))
        }
        if len(agreeing) < 2:
            return None
        strongest = max(agreeing.values(), key=lambda line: line.power)
        return HumFound(
            mains_hz=mains_hz,
            harmonics=tuple(agreeing),
            level_db=10 * float(np.log10(strongest.power)),
            prominence_db=strongest.prominence_db,
        )

    def _find_line(self, spectra: NDArray[np.float64], line_hz: float) -> _Line | None:
        """Return a line that stands in the quiet windows, or ``None``."""
        spacing_hz = self._rate / _HUM_SIZE
        centre = round(line_hz / spacing_hz)
        if centre + 9 > spectra.shape[1] or centre < 10:
            return None
        near = spectra[:, centre - 8 : centre + 9]
        peak = 8 - 2 + np.argmax(near[:, 6:11], axis=1)
        rows = np.arange(len(near))
        power = near[rows, peak]
        beside = np.median(near[:, [0, 1, 2, 3, 4, 12, 13, 14, 15, 16]], axis=1)
        prominence_db = 10 * np.log10(power / np.maximum(beside, 1e-20))
        below, above = near[rows, peak - 1], near[rows, peak + 1]
        # Peak of the parabola through the three logarithms: a few hundredths of a bin for this window.
        lower, middle, upper = (np.log(np.maximum(value, 1e-30)) for value in (below, power, above))
        bend = np.minimum(lower - 2 * middle + upper, -1e-9)
        found_hz = (centre - 8 + peak + 0.5 * (lower - upper) / bend) * spacing_hz
        in_place = np.abs(found_hz - line_hz) <= max(_MAINS_TOLERANCE_RATIO * line_hz, 0.25)
        stands = in_place & (prominence_db >= _LINE_DB)
        if np.mean(stands) < 0.8:
            return None
        # The three bins of the Hann window's lobe hold 1.5 times the line's power, wherever it falls between them.
        line_power = (below + power + above)[stands] / 1.5
        level_db = 10 * np.log10(line_power)
        if np.ptp(np.percentile(level_db, [10, 90])) > _STEADY_DB:
            return None
        return _Line(
            hz=float(np.median(found_hz[stands])),
            power=float(np.median(line_power)),
            prominence_db=float(np.median(prominence_db[stands])),
        )
