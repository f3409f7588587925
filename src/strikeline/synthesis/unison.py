"""Two or three strings on one bridge: the modes of each partial, exactly.

On a bridge that gives way, the strings of a note exchange energy. With one complex amplitude a_s per string, a partial
obeys ``da/dt = M·a``, ``M = diag(iω_s - σ) - κ·11ᵀ`` and ``κ = 2·f0·Z·Y(ω)`` (Z the impedance of a string, Y the
admittance of the bridge): the picture of G. Weinreich, "Coupled piano strings", J. Acoust. Soc. Am. 62, 1474 (1977),
written from memory. The eigenvalues of M are the modes that sound: prompt sound and aftersound where the strings are
close, beats where they are not.

Strings that also swing sideways have a second amplitude each, coupled in the same way by the little that the bridge
gives way sideways. A loose bridge pin adds ``-c·u·uᵀ`` to the two motions of its string, u the direction in which it
gives way: the two are mixed and split, and the string beats with itself.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from strikeline.synthesis.scale import StringUnison
from strikeline.units import amplitude_from_db

_SPLIT_CENTS = 1e-3
"""Strings in exactly the same place are moved apart by this much, far below any effect: equal eigenvalues have no
unique eigenvectors."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class UnisonModes:
    """Modes of the partials of one note: sums of ``weight·e^(pole·t)`` give the force on the bridge."""

    partial: NDArray[np.int64]  # shape (k,)
    pole_per_s: NDArray[np.complex128]  # shape (k, m), -α + iω
    weight: NDArray[np.complex128]  # shape (k, m), for strings released with their share each
    motion: NDArray[np.complex128]
    """Shape (k, m, m): motion of each string (rows; sideways ones last) in each mode (columns), as it is heard."""
    start: NDArray[np.complex128]
    """Shape (k, m): how far each mode is set going, so that ``weight = start·Σ motion`` over the rows. A damper that
    lands meets the strings as ``motion @ (start·e^(pole·t))``."""
    string: NDArray[np.intp]  # shape (m,), place of the string of each row of `motion`, from the left


def string_decay_per_s(partial: NDArray[np.int64], unison: StringUnison) -> NDArray[np.float64]:
    """Return the amplitude decay of a string on a rigid bridge, ``b1 + b2·(nπ/L)²``.

    The law is that of Bensa, Bilbao, Kronland-Martinet & Smith (2003, J. Acoust. Soc. Am. 114:1095, as read in a
    secondary survey), with their ``b2 = 1e-6·f0 + 1e-5`` taken at three tenths and ``b1 = 0.15 + 3e-4·f0``: theirs
    include the bridge, which is counted apart here. The figures were chosen so that the aftersound of partial 1 falls
    by 1.5 dB/s in the bass, 2 at C4, 5 at C6 and 40 at A7, as measured on two recorded grands.
    """
    f0 = unison.mean_f0_hz
    wave_number = partial * np.pi / (unison.speaking_length_mm * 1e-3)
    return np.asarray(0.15 + 3e-4 * f0 + 0.3 * (1e-6 * f0 + 1e-5) * wave_number**2)


def couple_strings(
    unison: StringUnison,
    partial: NDArray[np.int64],
    *,
    admittance_s_per_kg: NDArray[np.complex128],
    share: tuple[float, ...],
    lag_s: tuple[float, ...] = (0.0, 0.0, 0.0),
    sideways_admittance_s_per_kg: NDArray[np.complex128] | None = None,
    muted: Collection[int] = (),
) -> UnisonModes:
    """Return the modes of all partials of a note.

    Parameters
    ----------
    unison : StringUnison
        The strings, each at its own pitch.
    partial : ndarray of int, shape (k,)
        Partial numbers, from 1 on.
    admittance_s_per_kg : ndarray of complex, shape (k,)
        Admittance of the bridge at each partial; 0 for a rigid bridge.
    share : tuple of float
        Starting amplitude of each string over the mean.
    lag_s : tuple of float
        How much later than the first touch the hammer meets each string: partials start with the phase ``-ω·lag``.
    sideways_admittance_s_per_kg : ndarray of complex, shape (k,), or None
        Admittance of the bridge sideways, used where the strings have a polarisation; ``None`` for
        `admittance_s_per_kg`, lowered as the polarisation says.
    muted : collection of int
        Places of strings that are kept from sounding, from the left, 0 for the first.

    Returns
    -------
    UnisonModes
        Poles and weights, shape (k, m), and exact to rounding; one mode per string that is free, two where the strings
        also swing sideways.
    """
    free = np.array([string for string in range(unison.n_strings) if string not in muted], dtype=np.intp)
    frequency_hz = unison.string_partials_hz(
        partial, string_f0_hz=_split_f0_hz(unison) if free.size > 1 else unison.f0_hz
    )
    centre = 2j * np.pi * frequency_hz.mean(axis=1) - string_decay_per_s(partial, unison)
    offset = 2j * np.pi * (frequency_hz - frequency_hz.mean(axis=1, keepdims=True))  # small numbers keep their digits
    matrix = offset[:, free, None] * np.eye(free.size)
    matrix -= _per_second(unison, admittance_s_per_kg)[:, None, None]
    blow = np.asarray(share)[free] * np.exp(-1j * centre.imag[:, None] * np.asarray(lag_s)[free])
    heard = np.ones(free.size)
    sideways = unison.polarisation
    if sideways is not None:
        if sideways_admittance_s_per_kg is None:
            sideways_admittance_s_per_kg = admittance_s_per_kg * float(amplitude_from_db(sideways.admittance_db))
        across = offset[:, free, None] * np.eye(free.size)
        across -= _per_second(unison, sideways_admittance_s_per_kg)[:, None, None]
        matrix = _both_ways(matrix, across)
        _loosen_pins(matrix, unison, free, frequency_hz.mean(axis=1))
        blow = np.concatenate([blow, blow * np.asarray(sideways.blow_ratio)[free]], axis=1)
        heard = np.concatenate([heard, heard * sideways.radiation_ratio])
    value, vector = np.linalg.eig(matrix)
    start = np.linalg.solve(vector, blow[:, :, None])
    motion = heard[:, None] * vector
    return UnisonModes(
        partial=partial,
        pole_per_s=centre[:, None] + value,
        weight=motion.sum(axis=1) * start[:, :, 0],
        motion=motion,
        start=start[:, :, 0],
        string=np.tile(free, heard.size // free.size),
    )


def _split_f0_hz(unison: StringUnison) -> list[float]:
    """Return f0 of each string, moved apart by next to nothing."""
    n = unison.n_strings
    split = np.exp2(_SPLIT_CENTS / 1200.0 * (np.arange(n) - (n - 1) / 2.0))
    return [f0 * float(s) for f0, s in zip(unison.f0_hz, split, strict=True)]


def _per_second(unison: StringUnison, admittance_s_per_kg: NDArray[np.complex128]) -> NDArray[np.complex128]:
    """Return the coupling ``κ = 2·f0·Z·Y``."""
    return np.asarray(2.0 * unison.mean_f0_hz * unison.impedance_kg_per_s * admittance_s_per_kg)


def _both_ways(along: NDArray[np.complex128], across: NDArray[np.complex128]) -> NDArray[np.complex128]:
    """Return the matrix of both motions, those along the blow first, not yet coupled with each other."""
    k, n, _ = along.shape
    matrix = np.zeros((k, 2 * n, 2 * n), dtype=np.complex128)
    matrix[:, :n, :n], matrix[:, n:, n:] = along, across
    return matrix


def _loosen_pins(
    matrix: NDArray[np.complex128], unison: StringUnison, free: NDArray[np.intp], frequency_hz: NDArray[np.float64]
) -> None:
    """Let the pins of strings that beat with themselves give way, each in its own direction: ``-c·u·uᵀ``."""
    for beat in unison.false_beats:
        for place in np.flatnonzero(free == beat.string):
            direction = np.array([np.cos(beat.axis_rad), np.sin(beat.axis_rad)])
            both = np.array([place, place + free.size])
            loose = beat.coupling_per_s(frequency_hz, first_hz=unison.mean_f0_hz)[:, None, None] * np.outer(
                direction, direction
            )
            matrix[:, both[:, None], both[None, :]] -= loose
