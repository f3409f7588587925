"""One piano on its way to one pitch: where its notes stand, what the next pass is, what the strings carry."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from strikeline.errors import InputError
from strikeline.measured import Measured
from strikeline.physics.overpull import (
    FINE_CENTS,
    PassPlan,
    is_old_wire,
    overpull_cap,
    plan_pass,
    usual_overpull,
    within_caps,
)
from strikeline.physics.pitch_change import Offset, offset_of
from strikeline.physics.scale import ScaleState
from strikeline.physics.temperaments import EQUAL, TEMPERAMENTS
from strikeline.physics.tension_give import GiveFit, PassSetting, fit_give, likely_give, pass_setting, settings_for
from strikeline.physics.tuning_leanings import DEFAULT_LEANING, LEANINGS
from strikeline.physics.tuning_targets import TuningTargets, tuning_targets
from strikeline.units import ratio_from_cents
from strikeline.workshop.heard_piano import HeardPiano
from strikeline.workshop.pitch_result import FirstPass, PassAhead
from strikeline.workshop.string_sections import StringSections

Floats = NDArray[np.float64]

_MOST_PASSES: Final = 6
_LEAST_SHOWN_CENTS: Final = 1.0
"""Two recordings of a piano that nobody touched differ by as much: clocks of recorders, warmth of the room (our
reasoning)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WireStory:
    """What is known of the strings beside their sound."""

    year: int | None = None
    rust_grade: int | None = None
    n_broken: int | None = None
    scale_table: str | None = None
    """Text of a typed scale; kept with the plan, so that the next pass knows it."""
    scale: ScaleState | None = None
    """What its strings do; read from `scale_table` where ``None``."""
    is_scale_doubted: bool = False
    """Whether B heard does not fit it, so that nothing of the risk may rest on it."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PitchJob:
    """One piano on its way to one pitch; cents are against the targets at that pitch."""

    a4_hz: float
    targets: TuningTargets
    sections: StringSections
    setting: PassSetting
    factor: Floats
    cap: Floats
    wire: WireStory
    order: str

    @classmethod
    def of(cls, piano: HeardPiano, *, a4_hz: float, wire: WireStory, order: str) -> PitchJob:
        """Return the job of bringing a piano to a pitch.

        Parameters
        ----------
        piano : HeardPiano
            As it was heard.
        a4_hz : float
            Where A4 is to be.
        wire : WireStory
            What is known of the strings beside their sound.
        order : str
            ``"up"`` or ``"down"`` the keyboard.
        """
        if order not in {"up", "down"}:
            raise InputError.of("order", order, "'up' or 'down'")
        targets = tuning_targets(
            piano.curve, temperament=TEMPERAMENTS[EQUAL], leaning=LEANINGS[DEFAULT_LEANING], a4_hz=a4_hz
        )
        keys, ends = targets.key, piano.sections.break_after
        factor = usual_overpull(keys, bass_ends=ends, last_wound_key=piano.sections.last_wound_key)
        return cls(
            a4_hz=a4_hz,
            targets=targets,
            sections=piano.sections,
            setting=pass_setting(
                keys,
                response=factor,
                load=_loads(keys, None if wire.is_scale_doubted else wire.scale),
                bass_bridge_ends=ends,
                order=[int(key) for key in (keys if order == "up" else keys[::-1])],
            ),
            factor=factor,
            cap=overpull_cap(keys, bass_ends=ends, is_old=is_old_wire(wire.year)),
            wire=wire,
            order=order,
        )

    def start(self, piano: HeardPiano) -> tuple[Floats, Floats]:
        """Return where each note stands against its target, cents; notes not heard stand as their section does."""
        now = [piano.now_cents(int(key), a4_hz=self.a4_hz) for key in self.targets.key]
        value = np.array([np.nan if one is None else one.value for one in now]) - self.targets.cents_from_equal
        se = np.array([np.nan if one is None else one.se for one in now])
        se = np.hypot(se, self.targets.stretch_se_cents)
        heard = np.isfinite(value)
        if not heard.any():
            raise InputError("no note of the listening has a pitch; nothing can be said of its level", name="notes")
        for place in np.flatnonzero(~heard):
            near = np.argsort(np.abs(self.targets.key[heard] - self.targets.key[place]))[:9]
            value[place] = np.median(value[heard][near])
            se[place] = 1.4826 * np.median(np.abs(value[heard][near] - value[place])) + 2.0
        return value, se

    def learn(
        self, start: Floats, after: HeardPiano, set_cents: Mapping[int, float] | None
    ) -> tuple[GiveFit, FirstPass]:
        """Fit the give to what the first pass did.

        Parameters
        ----------
        start : ndarray of float, shape (k,)
            Where each note stood against its target.
        after : HeardPiano
            The piano after the pass.
        set_cents : mapping of int to float, or None
            By key, how far above its target each note was put; as common practice plans it if ``None``.
        """
        put = plan_pass(-start, factor=self.factor, cap_cents=self.cap).overpull_cents
        if set_cents is not None:
            put = np.array([set_cents.get(int(key), put[i]) for i, key in enumerate(self.targets.key)])
        now = [after.now_cents(int(key), a4_hz=self.a4_hz) for key in self.targets.key]
        end = np.array([np.nan if one is None else one.value for one in now]) - self.targets.cents_from_equal
        se = np.array([np.nan if one is None else one.se for one in now])
        likely = likely_give(self.setting)
        expected, _ = likely.predict(start_cents=start, set_cents=put)
        low, high = likely.farthest_middle(start_cents=start, set_cents=put)
        heard = np.isfinite(end)
        before, left = middle_move(-start[heard], se[heard]), middle_move(-end[heard], se[heard])
        is_shown = _is_shown((put - start)[heard], (end - start)[heard], np.sqrt(2.0) * se[heard])
        fitted = likely
        if is_shown:
            fitted = fit_give(self.setting, start_cents=start, set_cents=put, end_cents=end, end_se_cents=se)
        return fitted, FirstPass(
            n_notes=int(heard.sum()),
            before=before,
            after=left,
            expected_middle_cents=float(np.median(expected[heard])),
            is_shown=is_shown,
            is_hard_to_believe=is_shown and not low - FINE_CENTS <= -left.cents.value <= high + FINE_CENTS,
        )

    def plan(self, start: Floats, give: GiveFit) -> PassPlan:
        """Return where to put each note: by common practice, or by the give once it was fitted."""
        usual = plan_pass(-start, factor=self.factor, cap_cents=self.cap)
        if give.n_notes == 0 or not usual.overpull_cents.any():
            return usual
        wanted = settings_for(
            self.setting, log_give=give.log_give, start_cents=start, target_cents=np.zeros(start.size)
        )
        return within_caps(wanted, flat_cents=-start, cap_cents=self.cap)

    def passes(self, start: Floats, give: GiveFit) -> tuple[tuple[PassAhead, ...], bool]:
        """Return the passes that the model expects, and whether they end on the targets."""
        found, within = list[PassAhead](), 0.0
        for number in range(1, _MOST_PASSES + 1):
            plan = self.plan(start, give)
            is_fine = (within if number > 1 else float(np.quantile(np.abs(start), 0.9))) <= FINE_CENTS
            put = np.zeros(start.size) if is_fine else plan.overpull_cents
            end, _ = give.predict(start_cents=start, set_cents=put)
            within = _nine_in_ten(end, give.scatter_cents)
            found.append(
                PassAhead(
                    number=number,
                    why="fine tuning, to the targets themselves" if is_fine else plan.why,
                    middle_start_cents=float(np.median(start)),
                    middle_overpull_cents=float(np.median(put)),
                    middle_end_cents=float(np.median(end)),
                    largest_end_cents=within,
                )
            )
            if is_fine:
                return tuple(found), True
            start = end
        return tuple(found), False

    def strain(self, cents: Floats) -> Mapping[int, Measured]:
        """Return the share of the breaking load of each string known, when it stands at `cents` against its target."""
        if self.wire.scale is None:
            return {}
        found = {}
        for place, key in enumerate(self.targets.key):
            note = self.wire.scale.by_key().get(int(key))
            if note is not None and note.state.breaking_share is not None:
                hz = float(self.targets.f0_hz[place] * ratio_from_cents(cents[place]))
                ratio = (hz / note.row.f0_hz.value) ** 2
                share = note.state.breaking_share
                found[int(key)] = Measured(share.value * ratio, share.se * ratio)
        return found

    @property
    def untold_share(self) -> float:
        """Share of the notes whose pull no scale tells that can be trusted."""
        told = () if self.wire.scale is None or self.wire.is_scale_doubted else self.wire.scale.by_key()
        return float(np.mean([int(key) not in told for key in self.targets.key]))

    def load_n(self, cents: Floats) -> Measured | None:
        """Return what all known strings pull with when each note stands at `cents` against its target."""
        if self.wire.scale is None:
            return None
        total, reference = 0.0, 0.0
        by_key = self.wire.scale.by_key()
        for place, key in enumerate(self.targets.key):
            note = by_key.get(int(key))
            if note is not None:
                hz = float(self.targets.f0_hz[place] * ratio_from_cents(cents[place]))
                total += note.tension_of_note_n.value * (hz / note.row.f0_hz.value) ** 2
                reference += note.tension_of_note_n.value
        load = self.wire.scale.load.tension_n
        return Measured(total, load.se * total / reference) if reference else None


def _is_shown(asked: Floats, moved: Floats, se: Floats) -> bool:
    """Return whether notes that were to move moved that way, in the middle; where none was to move it is believed."""
    far = np.abs(asked) > FINE_CENTS
    middle = offset_of((np.sign(asked) * moved)[far], move_se_cents=se[far])
    if middle is None:
        return True
    return middle.cents.value > max(_LEAST_SHOWN_CENTS, middle.cents.half_width)


def _loads(keys: NDArray[np.int64], scale: ScaleState | None) -> Floats:
    """Return what the strings of each note pull with, 1 for all where the scale is not known."""
    if scale is None:
        return np.ones(keys.size)
    known = {note.key: note.tension_of_note_n.value for note in scale.notes}
    middle = float(np.median(list(known.values())))
    return np.array([known.get(int(key), middle) for key in keys])


def _nine_in_ten(end: Floats, scatter_cents: float) -> float:
    """Return within how many cents nine notes in ten end up when single notes stray as well."""
    stray = scatter_cents * ndtri((np.arange(20) + 0.5) / 20.0)
    return float(np.quantile(np.abs(end[:, None] + stray[None, :]), 0.9))


def middle_move(moves: Floats, se: Floats) -> Offset:
    """Return the middle of the moves of notes, at least one."""
    offset = offset_of(moves, move_se_cents=se)
    if offset is None:
        raise InputError("no note was heard", name="notes")
    return offset
