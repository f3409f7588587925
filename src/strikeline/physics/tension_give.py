"""How pulling one string lowers the others: frame and board give, fitted to what a first pass really did.

The model, in cents. Notes are tuned one after the other. When note i is set, it is raised from where it is at that
moment by p_i. Every other note j then sinks by C_ji·p_i, and note i itself loses s·p_i later, as its wire settles on
the bridge and in its coils::

    C_ji = r_j·v_i·( g/n + l·exp(-|i - j|/L)/(2L), if both are on the same bridge )

g is the give that all strings share (the frame, and the board as a whole), l that of the bridge close by, s the
settling. r_j says how much a string answers to the same movement, v_i how much pull a note changes per cent: both have
the mean 1. Three numbers (s, g, and l for each bridge) are all that is fitted. A pass from start to end is then one
triangular system: what a note loses hangs on all that is tuned after it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.linalg import solve_triangular

from strikeline.errors import InputError
from strikeline.physics.ranges import above_zero, finite

Floats = NDArray[np.float64]

LOCAL_KEYS: Final = 6.0
"""L: how far along a bridge the give of one pull reaches, keys (our reasoning: about ten centimetres of bridge)."""
LIKELY_GIVE: Final = {"settling": 0.07, "shared": 0.13, "local": 0.13}
"""Medians before anything is measured: equal parts that together lose a fifth of each pull, as the overpulls of common
practice answer (a quarter of the flatness; see `overpull`). How it divides is our reasoning."""
_LOG_SPREAD: Final = 0.7
"""Standard deviation of the logarithm of each before anything is measured: a factor of 4 either way (our reasoning)."""
LIKELY_SCATTER_CENTS: Final = 2.0
"""How far single notes end up from any such model: setting, rendering, unisons (our reasoning)."""
_TAIL_DOF: Final = 5.0
_ROUNDS: Final = 40
_FEWEST_NOTES: Final = 12


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PassSetting:
    """What a model of the give needs to know of a piano and of the way it is tuned."""

    key: NDArray[np.int64]  # shape (k,), ascending
    order: NDArray[np.int64]
    """Places in `key` in the order of tuning, shape (k,)."""
    bridge: NDArray[np.int64]
    """Number of the bridge each note is on: 0 for the bass bridge, 1 for the long one, shape (k,)."""
    response: Floats
    """r_j, shape (k,), above 0; made to have the mean 1."""
    load: Floats
    """v_i, shape (k,), above 0; made to have the mean 1."""

    @property
    def n_parameters(self) -> int:
        """Settling, shared give, and one local give for each bridge."""
        return 2 + int(self.bridge.max()) + 1

    @property
    def prior(self) -> Floats:
        """Logarithms of what is likely before anything is measured, shape (n_parameters,)."""
        n_bridges = self.n_parameters - 2
        likely = [LIKELY_GIVE["settling"], LIKELY_GIVE["shared"], *[LIKELY_GIVE["local"]] * n_bridges]
        return np.asarray(np.log(np.array(likely)))


def pass_setting(
    key: ArrayLike, *, response: ArrayLike, load: ArrayLike, bass_bridge_ends: int | None, order: Sequence[int]
) -> PassSetting:
    """Return the setting of a pass.

    Parameters
    ----------
    key : array_like of int, shape (k,)
        Keys, ascending.
    response : array_like of float, shape (k,)
        How much each note sinks for the same movement of frame and board; only ratios count. Above 0.
    load : array_like of float, shape (k,)
        Tension of all strings of each note; only ratios count. Above 0.
    bass_bridge_ends : int or None
        Last key on the bass bridge; ``None`` takes all strings as on one bridge.
    order : sequence of int
        Keys in the order they are tuned, each once.

    Raises
    ------
    InputError
        If the shapes differ, or the order is not one of these keys.
    """
    keys = np.asarray(key, dtype=np.int64)
    answers, loads = above_zero("response", response), above_zero("load", load)
    if not keys.shape == answers.shape == loads.shape:
        raise InputError.of("response", answers.shape, f"the shape of key, {keys.shape}")
    if sorted(order) != sorted(int(one) for one in keys):
        raise InputError.of("order", list(order), "every key once")
    bridge = np.zeros(keys.size, dtype=np.int64)
    if bass_bridge_ends is not None and keys[0] <= bass_bridge_ends < keys[-1]:
        bridge = (keys > bass_bridge_ends).astype(np.int64)
    return PassSetting(
        key=keys,
        order=np.searchsorted(keys, np.asarray(order, dtype=np.int64)),
        bridge=bridge,
        response=answers / answers.mean(),
        load=loads / loads.mean(),
    )


def after_pass(setting: PassSetting, *, log_give: Floats, start_cents: ArrayLike, set_cents: ArrayLike) -> Floats:
    """Return where each note ends up after a pass.

    Parameters
    ----------
    setting : PassSetting
        Piano and order of tuning.
    log_give : ndarray of float, shape (n_parameters,)
        Logarithms of settling, shared give, and local give of each bridge.
    start_cents, set_cents : array_like of float, shape (k,)
        Where each note was before the pass, and where it was put when its turn came, from the same line.

    Returns
    -------
    ndarray of float
        Cents from the same line, shape (k,).
    """
    start, put = finite("start_cents", start_cents), finite("set_cents", set_cents)
    settling, give = float(np.exp(log_give[0])), _give(setting, log_give)
    turn = setting.order
    in_turn = give[np.ix_(turn, turn)]
    before, after = np.tril(in_turn, -1), np.triu(in_turn, 1)
    # A note that sank before its turn has farther to go: (1 - before)·pull = set - start.
    pull = solve_triangular(np.eye(turn.size) - before, (put - start)[turn], lower=True)
    end = np.empty(turn.size)
    end[turn] = put[turn] - settling * pull - after @ pull
    return end


def settings_for(setting: PassSetting, *, log_give: Floats, start_cents: ArrayLike, target_cents: ArrayLike) -> Floats:
    """Return where to put each note so that it ends up on its target when the pass is done.

    Parameters
    ----------
    setting : PassSetting
        Piano and order of tuning.
    log_give : ndarray of float, shape (n_parameters,)
        As for `after_pass`.
    start_cents, target_cents : array_like of float, shape (k,)
        Where each note is, and where it is to end up, from the same line.

    Returns
    -------
    ndarray of float
        Cents from the same line, shape (k,).
    """
    start, target = finite("start_cents", start_cents), finite("target_cents", target_cents)
    none = np.zeros(start.size)
    # The end is a straight line in what is set: its matrix column by column.
    columns = [after_pass(setting, log_give=log_give, start_cents=none, set_cents=unit) for unit in np.eye(start.size)]
    rest = after_pass(setting, log_give=log_give, start_cents=start, set_cents=none)
    return np.asarray(np.linalg.solve(np.column_stack(columns), target - rest))


def _give(setting: PassSetting, log_give: Floats) -> Floats:
    """Return C, shape (k, k): cents the note of the row sinks for each cent the note of the column is pulled."""
    shared, local = float(np.exp(log_give[1])), np.exp(log_give[2:])
    apart = np.abs(setting.key[:, None] - setting.key[None, :])
    same = setting.bridge[:, None] == setting.bridge[None, :]
    near = same * np.exp(-apart / LOCAL_KEYS) / (2.0 * LOCAL_KEYS) * local[setting.bridge][None, :]
    give = setting.response[:, None] * setting.load[None, :] * (shared / setting.key.size + near)
    np.fill_diagonal(give, 0.0)
    return np.asarray(give)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GiveFit:
    """The give of one piano, with what is not known of it."""

    setting: PassSetting
    log_give: Floats  # shape (n_parameters,)
    covariance: Floats  # shape (n_parameters, n_parameters), of the logarithms
    scatter_cents: float
    """How far single notes end up from the model."""
    n_notes: int
    """Notes it was fitted to; 0 for what is likely before anything is measured."""

    def predict(self, *, start_cents: ArrayLike, set_cents: ArrayLike) -> tuple[Floats, Floats]:
        """Return where each note will end up after a pass, and the standard errors.

        Parameters
        ----------
        start_cents, set_cents : array_like of float, shape (k,)
            Where each note is, and where it is to be put when its turn comes.

        Returns
        -------
        tuple of ndarray
            Cents from the same line, and their errors: of the give, and the scatter of single notes; shape (k,) each.
        """
        end = after_pass(self.setting, log_give=self.log_give, start_cents=start_cents, set_cents=set_cents)
        slope = _slope(self.setting, self.log_give, start_cents, set_cents)
        tail = _TAIL_DOF / (_TAIL_DOF - 2.0)
        variance = np.sum((slope @ self.covariance) * slope, axis=1) + tail * self.scatter_cents**2
        return end, np.sqrt(variance)

    def mean_slope_se(self, *, start_cents: ArrayLike, set_cents: ArrayLike) -> float:
        """Return the standard error that the give brings to the mean of all notes after a pass, cents.

        Parameters
        ----------
        start_cents, set_cents : array_like of float, shape (k,)
            As for `predict`.
        """
        slope = np.mean(_slope(self.setting, self.log_give, start_cents, set_cents), axis=0)
        return float(np.sqrt(slope @ self.covariance @ slope))

    def farthest_middle(self, *, start_cents: ArrayLike, set_cents: ArrayLike) -> tuple[float, float]:
        """Return between what the median of all notes ends up unless every give is far from likely, cents.

        The ends are those of gives that all differ the same way, together by 2.5 standard errors of their logarithms,
        as one piano in eighty would if likely gives are as taken.

        Parameters
        ----------
        start_cents, set_cents : array_like of float, shape (k,)
            As for `predict`.
        """
        apart = 2.5 * float(np.sqrt(np.mean(np.diag(self.covariance)) / self.log_give.size))
        ends = [
            float(
                np.median(
                    after_pass(
                        self.setting,
                        log_give=self.log_give + sign * apart,
                        start_cents=start_cents,
                        set_cents=set_cents,
                    )
                )
            )
            for sign in (1.0, -1.0)
        ]
        return min(ends), max(ends)


def likely_give(setting: PassSetting) -> GiveFit:
    """Return what is likely of the give before anything is measured."""
    prior = setting.prior
    return GiveFit(
        setting=setting,
        log_give=prior,
        covariance=_LOG_SPREAD**2 * np.eye(prior.size),
        scatter_cents=LIKELY_SCATTER_CENTS,
        n_notes=0,
    )


def fit_give(
    setting: PassSetting,
    *,
    start_cents: ArrayLike,
    set_cents: ArrayLike,
    end_cents: ArrayLike,
    end_se_cents: ArrayLike,
) -> GiveFit:
    """Fit the give of a piano to the measured result of a pass.

    Parameters
    ----------
    setting : PassSetting
        Piano and order of tuning.
    start_cents, set_cents : array_like of float, shape (k,)
        Where each note was before the pass, and where it was put.
    end_cents, end_se_cents : array_like of float, shape (k,)
        Where it ended up, with the standard error of that; NaN in the first for notes that were not heard.

    Returns
    -------
    GiveFit
        The most likely values by what is likely beforehand and what was measured, single notes that went astray
        counting less (Student's t with five degrees of freedom); their covariance, and the scatter of single notes.

    Raises
    ------
    InputError
        If fewer than 12 notes were heard afterwards.

    References
    ----------
    .. [1] K. Lange, R. Little and J. Taylor, J. Am. Stat. Assoc. 84, 881-896 (1989) (from memory): Student's t by
       weights (ν + 1)/(ν + r²/s²), and (ν + 3)/(ν + 1) times the variance.
    """
    start, put = finite("start_cents", start_cents), finite("set_cents", set_cents)
    end, se = np.asarray(end_cents, dtype=np.float64), np.asarray(end_se_cents, dtype=np.float64)
    heard = np.isfinite(end) & np.isfinite(se)
    if heard.sum() < _FEWEST_NOTES:
        advice = "record a whole pass after the first one"
        raise InputError.of("end_cents", int(heard.sum()), f"{_FEWEST_NOTES} notes or more", advice=advice)
    noise = se[heard] ** 2
    prior = setting.prior
    logs, scatter, weight = prior.copy(), LIKELY_SCATTER_CENTS, np.ones(int(heard.sum()))
    information = np.eye(prior.size) / _LOG_SPREAD**2
    for _ in range(_ROUNDS):
        expected = after_pass(setting, log_give=logs, start_cents=start, set_cents=put)
        residual = end[heard] - expected[heard]
        slope = _slope(setting, logs, start, put)[heard]
        weight = (_TAIL_DOF + 1.0) / (_TAIL_DOF + residual**2 / (scatter**2 + noise))
        scatter = _scatter(residual, noise, weight)
        precision = weight / (scatter**2 + noise)
        information = slope.T @ (precision[:, None] * slope) + np.eye(prior.size) / _LOG_SPREAD**2
        step = np.linalg.solve(information, slope.T @ (precision * residual) - (logs - prior) / _LOG_SPREAD**2)
        logs = logs + np.clip(step, -0.5, 0.5)
        if np.abs(step).max() < 1e-8:
            break
    return GiveFit(
        setting=setting,
        log_give=logs,
        covariance=np.asarray(np.linalg.inv(information) * (_TAIL_DOF + 3.0) / (_TAIL_DOF + 1.0)),
        scatter_cents=scatter,
        n_notes=int(heard.sum()),
    )


def _scatter(residual: Floats, noise: Floats, weight: Floats) -> float:
    """Return the scatter beyond the noise of the measurement, the likely value counting as four notes do."""
    likely = 4.0 * LIKELY_SCATTER_CENTS**2
    square = float(np.sum(weight * residual**2 - noise)) + likely
    return float(np.sqrt(max(square / (residual.size + 4.0), (0.1 * LIKELY_SCATTER_CENTS) ** 2)))


def _slope(setting: PassSetting, log_give: Floats, start_cents: ArrayLike, set_cents: ArrayLike) -> Floats:
    """Return the derivative of `after_pass` by each logarithm, shape (k, n_parameters)."""
    columns = []
    for place in range(log_give.size):
        step = np.zeros(log_give.size)
        step[place] = 1e-4
        up, down = (
            after_pass(setting, log_give=log_give + sign * step, start_cents=start_cents, set_cents=set_cents)
            for sign in (1.0, -1.0)
        )
        columns.append((up - down) / 2e-4)
    return np.column_stack(columns)
