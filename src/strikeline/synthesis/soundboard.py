"""An invented soundboard: what the bridge gives way to, and what reaches the microphone.

A plate with evenly dense modes, each with the loss factor and the lowest frequencies that Ege & Boutillon (2010) report
for an upright (109, 189, 250 Hz; 2 %). Its mean resistance at the bridge is set between the 1000 kg/s they and Giordano
(1998) report and the 2700 to 3900 kg/s that the string losses of Bensa et al. (2003, Table I, as read in a secondary
survey) would ask for.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from strikeline.units import amplitude_from_db

_LOWEST_MODES_HZ = (109.0, 189.0, 250.0)
_MODES_PER_HZ = 0.06
_HIGHEST_MODE_HZ = 13_000.0
_LOSS_FACTOR = 0.02
_MEAN_RESISTANCE_KG_PER_S = 2500.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Soundboard:
    """Modes of a soundboard along its bridge."""

    mode_hz: NDArray[np.float64]  # shape (m,)
    loss_factor: float
    modal_mass_kg: float
    waves_along_bridge: NDArray[np.float64]  # shape (m,), half waves over the keyboard
    bridge_phase_rad: NDArray[np.float64]  # shape (m,)
    microphone_weight: NDArray[np.float64]  # shape (m,), mean square 1

    def admittance_s_per_kg(self, key: int, frequency_hz: NDArray[np.float64]) -> NDArray[np.complex128]:
        """Return the driving-point admittance of the bridge at a key, shape of `frequency_hz` (k,).

        ``Y = Σ iω·φ²/(M·(ω_m² - ω² + iη·ω_m²))``, real part above 0; a positive imaginary part is spring-like.
        """
        shape = self._shape_at(key)
        return self._sum_over_modes(frequency_hz, shape**2)

    def sideways_admittance_s_per_kg(
        self, key: int, frequency_hz: NDArray[np.float64], *, admittance_db: float
    ) -> NDArray[np.complex128]:
        """Return the admittance of the bridge along the board, shape of `frequency_hz` (k,).

        Another sum over the same modes, each with the place along the bridge of its neighbour, so that resistance and
        reactance go their own way from partial to partial; lower by `admittance_db` on the whole (invented).

        Parameters
        ----------
        key : int
            Key number.
        frequency_hz : ndarray of float, shape (k,)
            Frequencies.
        admittance_db : float
            Level against `admittance_s_per_kg`, dB.
        """
        shape = np.roll(self._shape_at(key), 1)
        return self._sum_over_modes(frequency_hz, shape**2) * float(amplitude_from_db(admittance_db))

    def radiation_ratio(self, key: int, frequency_hz: NDArray[np.float64]) -> NDArray[np.complex128]:
        """Return sound pressure per bridge force, dimensionless and about 1 in the middle, shape (k,).

        Two thirds of it are smooth, one third follows the modes. Below the lowest modes the board radiates ever less,
        below coincidence somewhat less, and above some kilohertz case, air and microphone place take the top off; the
        corner figures are invented, set so that the spectral centroids come near those of a recorded grand.
        """
        modal = self._sum_over_modes(frequency_hz, self._shape_at(key) * self.microphone_weight)
        modal = modal * _MEAN_RESISTANCE_KG_PER_S
        squared = frequency_hz**2
        low = squared / (squared + 110.0**2) * (0.4 + 0.6 * squared / (squared + 500.0**2))
        high = 1.0 / np.sqrt(1.0 + squared / 5000.0**2)
        return np.asarray((0.65 + 0.35 * modal) * low * high)

    def _shape_at(self, key: int) -> NDArray[np.float64]:
        """Return the shape of each mode at the bridge pin of a key; mean square 1."""
        along = (key - 1) / 87.0
        wave = np.sin(np.pi * self.waves_along_bridge * along + self.bridge_phase_rad)
        return np.asarray(np.sqrt(2.0) * wave)

    def _sum_over_modes(self, frequency_hz: NDArray[np.float64], weight: NDArray[np.float64]) -> NDArray[np.complex128]:
        """Return the modal sum at each frequency, modes weighted by `weight`."""
        omega = 2.0 * np.pi * frequency_hz
        mode_squared = (2.0 * np.pi * self.mode_hz) ** 2
        denominator = mode_squared * (1.0 + 1j * self.loss_factor) - omega[:, None] ** 2
        return np.asarray(1j * omega / self.modal_mass_kg * ((1.0 / denominator) @ weight))


def build_soundboard(seed: int) -> Soundboard:
    """Return an invented soundboard; the same seed gives the same board.

    The modal mass follows from the mean resistance: ``G = n(f)/(4·M)`` with n the modes per hertz (Skudrzyk's mean
    value, from memory).
    """
    rng = np.random.default_rng(seed)
    start = _LOWEST_MODES_HZ[-1] + 1.0 / _MODES_PER_HZ
    regular = np.arange(start, _HIGHEST_MODE_HZ, 1.0 / _MODES_PER_HZ)
    higher = np.sort(regular + rng.uniform(-0.4, 0.4, regular.size) / _MODES_PER_HZ)
    mode_hz = np.concatenate([_LOWEST_MODES_HZ, higher])
    half_waves = np.sqrt(mode_hz / _LOWEST_MODES_HZ[0])  # bending waves: the wave number grows as √f
    return Soundboard(
        mode_hz=mode_hz,
        loss_factor=_LOSS_FACTOR,
        modal_mass_kg=_MODES_PER_HZ / 4.0 * _MEAN_RESISTANCE_KG_PER_S,
        waves_along_bridge=half_waves * rng.uniform(0.6, 1.0, mode_hz.size),
        bridge_phase_rad=rng.uniform(0.0, 2.0 * np.pi, mode_hz.size),
        microphone_weight=rng.standard_normal(mode_hz.size),
    )
