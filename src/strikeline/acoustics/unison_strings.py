r"""The strings of one note, found from the modes that they make together on a bridge that gives way.

In one partial, with a complex amplitude a_s for each of N strings, ``da/dt = M·a``, ``M = z·I + diag(iδ_s) − κ·11ᵀ``:
z = iω̄ − σ is their mean frequency and their common loss, δ_s how far string s lies from the mean (Σδ_s = 0), κ what the
bridge takes from all of them together (G. Weinreich, J. Acoust. Soc. Am. 62, 1474 (1977), written from memory). The
bridge hears y(t) = 1ᵀ·exp(Mt)·g, g_s the share of the blow on string s, and y = Σ_m c_m·exp(λ_m t) is what was measured.

The way back is closed. The trace gives Σλ_m/N = z − κ. The slope at the blow gives Σc_m λ_m/Σc_m = z − Nκ + i·Σδ_s g_s/N.
For an even blow the last term vanishes: the two together give κ and z. With μ_m = λ_m − z, the determinant lemma gives
``Π(μ − μ_m) = P(μ) + κ·P'(μ)`` with ``P(μ) = Π(μ − iδ_s)``, whose coefficients follow one after another; its roots are
the strings. M then gives the shares from the amplitudes, and the shares correct the slope, until both agree.

Nothing forces the δ_s to be real, the shares to be positive, or either to agree from partial to partial (in cents, and
in full). That they do is the evidence that these modes are strings; two polarisations of one string, or a mode of the
bridge, do not obey it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.acoustics.unison_modes import PartialModes
from strikeline.units import CENTS_PER_NEPER

Complex = NDArray[np.complex128]
Real = NDArray[np.float64]

_N_ROUNDS: Final = 4
_UNEVEN_BLOW: Final = 0.15
"""Standard deviation of the shares of the blow about even (invented): what they leave open in κ, and so in δ."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PartialStrings:
    """The strings of one partial, sorted by frequency."""

    partial: int
    offset_cents: Complex
    """Shape (n,): from their mean. The imaginary part is 0 if the modes are those of strings on one bridge."""
    offset_sd_cents: Real
    """Shape (n,)."""
    share: Complex
    """Shape (n,): of the blow, mean 1; real and positive if the modes are those of strings struck together."""
    mean_hz: float
    """Mean frequency of the strings, without the pull of the bridge."""
    coupling_per_s: complex
    """κ."""


def separate_strings(modes: PartialModes, *, n_strings: int, share: Real | None = None) -> PartialStrings | None:
    """Return the strings that make the modes of one partial; ``None`` if there are fewer modes than strings.

    Of more modes the loudest at the onset are taken.

    Parameters
    ----------
    modes : PartialModes
        What sounds.
    n_strings : int
        2 or 3.
    share : ndarray of float, shape (n_strings,), optional
        Shares of the blow, sorted by the frequency of the strings, mean 1; an even blow if left out.
    """
    if modes.onset.size < n_strings:
        return None
    loudest = np.argsort(-np.abs(modes.onset), kind="stable")[:n_strings]
    pole, onset = modes.pole_per_s[loudest], modes.onset[loudest]
    centre = pole.mean()
    pole = pole - centre  # small numbers keep their digits
    slope = complex((onset * pole).sum() / onset.sum())
    uneven, offset, coupling = 0.0j, np.zeros(n_strings, dtype=np.complex128), 0.0j
    for _ in range(1 if share is None else _N_ROUNDS):
        coupling = (-slope + uneven) / (n_strings - 1)
        offset = _offsets(pole - coupling, coupling)
        if share is not None:
            uneven = 1j * complex(offset.real @ share) / n_strings
    omega = float(centre.imag + coupling.imag)
    sd_per_s = np.hypot(float(np.sqrt(np.mean(modes.pole_sd_per_s[loudest] ** 2))), _UNEVEN_BLOW * abs(coupling))
    return PartialStrings(
        partial=modes.partial,
        offset_cents=CENTS_PER_NEPER * offset / omega,
        offset_sd_cents=np.full(n_strings, CENTS_PER_NEPER * float(sd_per_s) / omega),
        share=_shares(offset.real, coupling, pole - coupling, onset),
        mean_hz=omega / (2 * np.pi),
        coupling_per_s=complex(coupling),
    )


def _offsets(mu: Complex, coupling: complex) -> Complex:
    """Return δ_s, sorted, from the modes about z and the coupling."""
    whole = np.poly(mu)
    strings = whole.copy()
    strings[1] = 0.0  # Σδ = 0
    if mu.size == 3:
        strings[3] = whole[3] - coupling * whole[2]
    root = np.roots(strings) / 1j
    return np.asarray(root[np.argsort(root.real, kind="stable")])


def _shares(offset: Real, coupling: complex, mu: Complex, onset: Complex) -> Complex:
    """Return g_s from the amplitudes of the modes: c_m = (1ᵀv_m)·(V⁻¹g)_m."""
    value, vector = np.linalg.eig(np.diag(1j * offset) - coupling)
    place = [int(np.argmin(np.abs(mu - one))) for one in value]
    amplitude = onset[place] / onset.sum() * offset.size
    return np.asarray(vector @ (amplitude / vector.sum(axis=0)))
