r"""The strings of one partial, found from the modes that they make together on a bridge that gives way.

With a complex amplitude a_s for each of N strings, ``da/dt = M·a``, ``M = z·I + diag(iδ_s) − κ·11ᵀ``: z = iω̄ − σ is
their mean frequency and their common loss, δ_s how far string s lies from the mean (Σδ_s = 0), κ what the bridge takes
from all of them together (G. Weinreich, J. Acoust. Soc. Am. 62, 1474 (1977), written from memory). The bridge hears
y(t) = 1ᵀ·exp(Mt)·g with g_s the share of the blow on string s (mean 1); y = Σ_m c_m·exp(λ_m t) is what was measured.

The way back is closed. The trace gives Σλ_m/N = z − κ. The slope at the blow gives Σc_m·λ_m/Σc_m = z − Nκ + iω̄q with
ω̄q = Σδ_s·g_s/N, which vanishes for an even blow. The two together give κ and z. With μ_m = λ_m − z, the determinant
lemma says Π(μ − μ_m) = P(μ) + κ·P'(μ) for P(μ) = Π(μ − iδ_s): the coefficients of P follow one after another, and its
roots are the strings. M then gives the shares from the amplitudes.

Two things are known beforehand. The *lean* q is one number for all partials, and leans on the imaginary part of κ in
proportion to frequency; the bridge is springy at some partials and heavy at others, so q is what leaves the imaginary
parts of κ lying about zero (`estimate_lean`). And an old hammer does not meet its strings in one instant: some 20 µs
(0.05 mm of uneven felt at 2.5 m/s; invented) turn the shares against each other the more, the higher the partial, until
the slope says nothing of κ. There, κ is taken from what it can be: its real part lies between nothing and the whole
decay. Both are weighed by their errors.

Nothing forces the δ_s to be real, the shares to be positive, or either to agree from partial to partial. That they do
is the evidence that these modes are strings; two polarisations of one string, or a mode of the bridge, do not obey it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.acoustics.unison_modes import PartialModes
from strikeline.measured import Measured
from strikeline.units import CENTS_PER_NEPER

Complex = NDArray[np.complex128]
Real = NDArray[np.float64]

_MEETS_WITHIN_S: Final = 2e-5
_SMALLEST_SD_CENTS: Final = 0.003
"""Real strings are not uniform to better than this (invented; a hundredth of a hertz at 5 kHz)."""
_CURVATURE: Final = 1.5
_PULL_SHARE: Final = 0.1
_EVEN: Final = Measured(0.0, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PartialStrings:
    """The strings of one partial, sorted by frequency."""

    partial: int
    offset_cents: Complex
    """Shape (n,): from their mean. The imaginary part is 0 if the modes are those of strings on one bridge."""
    offset_sd_cents: float
    share: Complex
    """Shape (n,): of the blow, mean 1; real and positive if the modes are those of strings struck together."""
    mean_hz: float
    """Mean frequency of the strings, without the pull of the bridge."""
    mean_sd_cents: float
    coupling_per_s: complex
    """κ."""
    faintest_mode_ratio: float
    """Amplitude of the faintest mode that was used, over that of the loudest."""
    next_mode_ratio: float
    """Amplitude of the loudest mode that was left out, over that of the loudest mode; 0 if all were used."""

    @property
    def coupling_cents(self) -> float:
        """Size of κ as an interval at this partial: strings much closer than this pull together."""
        return CENTS_PER_NEPER * abs(self.coupling_per_s) / (2 * np.pi * self.mean_hz)

    @property
    def spread_cents(self) -> float:
        """Highest over lowest string."""
        return float(self.offset_cents[-1].real - self.offset_cents[0].real)


@dataclass(frozen=True, slots=True, eq=False)
class _Loudest:
    """The loudest modes of a partial about their mean, and what they say at first sight."""

    centre: complex
    pole: Complex
    onset: Complex
    sd_per_s: float
    faintest_ratio: float
    next_ratio: float
    coupling: complex
    """κ for an even blow."""

    @classmethod
    def of(cls, modes: PartialModes, n_strings: int) -> _Loudest | None:
        if modes.onset.size < n_strings:
            return None
        order = np.argsort(-np.abs(modes.onset), kind="stable")
        kept = order[:n_strings]
        centre = complex(modes.pole_per_s[kept].mean())
        pole, onset = modes.pole_per_s[kept] - centre, modes.onset[kept]  # small numbers keep their digits
        slope = complex((onset * pole).sum() / onset.sum())
        size = np.abs(modes.onset[order])
        return cls(
            centre=centre,
            pole=pole,
            onset=onset,
            sd_per_s=float(np.sqrt(np.mean(modes.pole_sd_per_s[kept] ** 2))),
            faintest_ratio=float(size[n_strings - 1] / size[0]),
            next_ratio=float(size[n_strings] / size[0]) if size.size > n_strings else 0.0,
            coupling=-slope / (n_strings - 1),
        )


def estimate_lean(modes: Iterable[PartialModes], *, n_strings: int) -> Measured:
    """Return the lean q of a unison: the mean of the strings' offsets, weighted by the blow, over their frequency.

    The weighted median, over the partials, of what would leave κ without an imaginary part. Fewer than three partials
    do not tell, and the blow is taken to be even.

    Parameters
    ----------
    modes : iterable of PartialModes
        Partials with fewer modes than strings are passed over.
    n_strings : int
        2 or 3.
    """
    seen = [loudest for one in modes if (loudest := _Loudest.of(one, n_strings)) is not None]
    if len(seen) < 3:
        return _EVEN
    omega = np.array([one.centre.imag + one.coupling.imag for one in seen])
    lean = -(n_strings - 1) * np.array([one.coupling.imag for one in seen]) / omega
    weight = omega / (1.0 + (3.0 * omega * _MEETS_WITHIN_S) ** 2)
    value = weighted_median(lean, weight)
    # 1.4826 times the median deviation is the standard deviation, and √(π/2)/√n of that the error of a median.
    spread = 1.4826 * weighted_median(np.abs(lean - value), weight)
    return Measured(value, float(np.sqrt(np.pi / 2.0)) * spread / float(np.sqrt(len(seen))))


def separate_strings(modes: PartialModes, *, n_strings: int, lean: Measured = _EVEN) -> PartialStrings | None:
    """Return the strings that make the modes of one partial; ``None`` if there are fewer modes than strings.

    Of more modes the loudest at the onset are taken.

    Parameters
    ----------
    modes : PartialModes
        What sounds.
    n_strings : int
        2 or 3.
    lean : Measured
        From `estimate_lean`; an even blow if left out.
    """
    seen = _Loudest.of(modes, n_strings)
    if seen is None:
        return None
    omega, decay_per_s = seen.centre.imag, -seen.centre.real
    by_slope = seen.coupling + 1j * omega * lean.value / (n_strings - 1)
    width = float(np.ptp(seen.pole.imag))
    slope_sd = max(omega * float(np.hypot(width * _MEETS_WITHIN_S, lean.se)) / (n_strings - 1), 1e-9)
    slope_weight, prior_weight = slope_sd**-2, (0.5 * decay_per_s) ** -2
    coupling = (by_slope * slope_weight + 0.5 * decay_per_s * prior_weight) / (slope_weight + prior_weight)
    coupling_sd = (slope_weight + prior_weight) ** -0.5
    offset = _offsets(seen.pole - coupling, coupling)
    omega += coupling.imag
    spread = max(float(np.ptp(offset.real)), 1e-9)
    # δ² = κ² − (λ₁ − λ₂)²/4 for two strings: an error of κ moves δ by κ/δ of itself, and by no more than δ.
    bent = min(_CURVATURE * abs(coupling) * coupling_sd / spread, spread)
    noise = CENTS_PER_NEPER * seen.sd_per_s / omega
    pulled = CENTS_PER_NEPER * coupling_sd / omega
    return PartialStrings(
        partial=modes.partial,
        offset_cents=CENTS_PER_NEPER * offset / omega,
        offset_sd_cents=_rms(noise, CENTS_PER_NEPER * bent / omega, _PULL_SHARE * pulled, _SMALLEST_SD_CENTS),
        share=_shares(offset.real, coupling, seen.pole - coupling, seen.onset),
        mean_hz=omega / (2 * np.pi),
        mean_sd_cents=_rms(noise, pulled, _SMALLEST_SD_CENTS),
        coupling_per_s=coupling,
        faintest_mode_ratio=seen.faintest_ratio,
        next_mode_ratio=seen.next_ratio,
    )


def weighted_median(value: Real, weight: Real) -> float:
    """Return the value below which half of the weight lies, arrays of shape (n,)."""
    order = np.argsort(value, kind="stable")
    cumulated = np.cumsum(weight[order])
    return float(value[order][np.searchsorted(cumulated, 0.5 * cumulated[-1])])


def _rms(*errors: float) -> float:
    return float(np.sqrt(np.sum(np.square(errors))))


def _offsets(mu: Complex, coupling: complex) -> Complex:
    """Return δ_s, sorted, from the modes about z and the coupling."""
    pairs = (mu.sum() ** 2 - (mu**2).sum()) / 2.0
    if mu.size == 2:
        root = np.sqrt(pairs) * np.array([-1.0, 1.0])
    else:
        # The companion matrix of x³ + pairs·x + rest, whose sum of roots is 0: Σδ = 0.
        rest = -mu.prod() - coupling * pairs
        root = np.linalg.eigvals(np.array([[0.0, -pairs, -rest], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])) / 1j
    return np.asarray(root[np.argsort(root.real, kind="stable")])


def _shares(offset: Real, coupling: complex, mu: Complex, onset: Complex) -> Complex:
    """Return g_s from the amplitudes of the modes: c_m = (1ᵀv_m)·(V⁻¹g)_m."""
    value, vector = np.linalg.eig(np.diag(1j * offset) - coupling)
    place = [int(np.argmin(np.abs(mu - one))) for one in value]
    amplitude = onset[place] / onset.sum() * offset.size
    return np.asarray(vector @ (amplitude / vector.sum(axis=0)))
