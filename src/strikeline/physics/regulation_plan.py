"""What to turn on each note: from readings and wanted figures to turns of capstan and button, and papers under keys."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from strikeline.measured import Measured, carry
from strikeline.physics.few_values import median_of
from strikeline.physics.ranges import above_zero
from strikeline.physics.regulation import Change, NoteState, RatioEstimate
from strikeline.physics.regulation_targets import Targets


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredNote:
    """What was read on one note; what was not read is ``None``."""

    key: int
    dip_mm: Measured | None = None
    blow_mm: Measured | None = None
    set_off_mm: Measured | None = None
    lost_motion_mm: Measured | None = None
    checking_mm: Measured | None = None
    aftertouch_mm: Measured | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Screws:
    """What one turn does; measured on one note rather than believed."""

    capstan_pitch_mm: float
    """How far a capstan rises for one turn: the pitch of its thread."""
    capstan_ratio: float
    """Capstan travel over key travel."""
    set_off_mm_per_turn: float | None
    """How far set-off moves for one turn of its button; ``None`` if it was not tried."""
    papers_mm: tuple[float, ...]
    """Thicknesses of washers and papers at hand."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Correction:
    """What to do on one note, in the order of work. ``None`` where the note was not read."""

    key: int
    dip_mm: Measured | None
    """To add to the dip; papers are taken out for plus, put in for minus."""
    papers_mm: tuple[float, ...]
    """Which papers come nearest, thickest first."""
    papers_are_added: bool
    capstan_mm: Measured | None
    """To raise the capstan by."""
    capstan_turns: Measured | None
    set_off_mm: Measured | None
    """To add to the set-off distance."""
    set_off_turns: Measured | None
    check_mm: Measured | None
    """To move the catch away from the string by, after everything else has been done."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """What to do on the whole action, and then on each note."""

    rail_mm: Measured | None
    """How far to move the hammer rest rail, away from the strings for plus; ``None`` where hammers rest on no rail, or
    no blow was read."""
    blow_scatter_mm: float | None
    """Standard deviation of the blow from note to note, which no rail can even out."""
    corrections: tuple[Correction, ...]


def plan_corrections(
    notes: Sequence[MeasuredNote], *, targets: Targets, ratio: RatioEstimate, screws: Screws, has_rest_rail: bool
) -> Plan:
    """Return what brings the notes to the targets.

    On an upright the rest rail moves all hammers at once, by what the middle of the blows lacks; each capstan then
    takes up the lost motion that was read and the one that the rail has opened. On a grand the capstan itself sets the
    blow. The dip that papers change carries the checks along, and so does the capstan of an upright, whose check
    stands on the whippen; both are part of each check's correction.

    Parameters
    ----------
    notes : sequence of MeasuredNote
        As read, before anything is moved.
    targets : Targets
        From `regulation_targets.find_targets` or `share_targets`.
    ratio : RatioEstimate
        From `regulation.estimate_ratio`.
    screws : Screws
        What a turn does here.
    has_rest_rail : bool
        Whether hammers at rest lie on a rail, as in an upright.

    Returns
    -------
    Plan
        Corrections in the order of the notes.

    Raises
    ------
    InputError
        If a screw's figure is not above 0.
    """
    above_zero("capstan_pitch_mm", screws.capstan_pitch_mm)
    above_zero("capstan_ratio", screws.capstan_ratio)
    blows = [note.blow_mm for note in notes if note.blow_mm is not None]
    rail = _rail_mm(blows, targets.blow_mm.value) if has_rest_rail and blows else None
    # A rail that nobody moves opens nothing: the capstans still take up the lost motion that was read.
    moved = rail or (Measured(0.0, 0.0) if has_rest_rail else None)
    return Plan(
        rail_mm=rail,
        blow_scatter_mm=float(np.std([one.value for one in blows], ddof=1)) if len(blows) > 1 else None,
        corrections=tuple(_correction(note, targets, ratio.ratio, screws, moved) for note in notes),
    )


def _rail_mm(blows: Sequence[Measured], wanted_mm: float) -> Measured:
    """Return the move of the rail that brings the median blow to the wanted one."""
    middle = median_of(blows)
    return Measured(wanted_mm - middle.value, middle.se)


def _correction(
    note: MeasuredNote, targets: Targets, ratio: Measured, screws: Screws, rail: Measured | None
) -> Correction:
    dip = None if note.dip_mm is None else _difference(targets.dip_mm.value, note.dip_mm)
    papers = () if dip is None else nearest_papers(abs(dip.value), screws.papers_mm)
    capstan = _capstan_mm(note, targets, ratio, screws, rail)
    set_off = None if note.set_off_mm is None else _difference(targets.set_off_mm, note.set_off_mm)
    per_turn = screws.set_off_mm_per_turn
    return Correction(
        key=note.key,
        dip_mm=dip,
        papers_mm=papers,
        papers_are_added=dip is not None and dip.value < 0,
        capstan_mm=capstan,
        capstan_turns=None if capstan is None else _scaled(capstan, 1.0 / screws.capstan_pitch_mm),
        set_off_mm=set_off,
        set_off_turns=None if set_off is None or per_turn is None else _scaled(set_off, 1.0 / per_turn),
        check_mm=_check_mm(
            note,
            None if dip is None else float(np.copysign(sum(papers), dip.value)),
            targets,
            ratio,
            # In an upright the check stands on the whippen, which the capstan lifts.
            lifted=None if rail is None or capstan is None else _scaled(capstan, 1.0 / screws.capstan_ratio),
        ),
    )


def _difference(wanted: float, read: Measured) -> Measured:
    return Measured(wanted - read.value, read.se)


def _scaled(value: Measured, factor: float) -> Measured:
    return Measured(value.value * factor, value.se * abs(factor))


def _capstan_mm(
    note: MeasuredNote, targets: Targets, ratio: Measured, screws: Screws, rail: Measured | None
) -> Measured | None:
    """Return how far to raise a capstan: with a rail for the lost motion, without one for the blow."""
    k = screws.capstan_ratio
    if rail is not None and note.lost_motion_mm is not None:
        wanted = targets.lost_motion_mm
        # The rail is moved by what is said, however well that was found.
        return carry(
            lambda lost, hammer_ratio: (lost - rail.value / hammer_ratio - wanted) * k,
            lost=note.lost_motion_mm,
            hammer_ratio=ratio,
        )
    if rail is None and note.blow_mm is not None:
        wanted = targets.blow_mm.value
        return carry(
            lambda blow, hammer_ratio: (blow - wanted) / hammer_ratio * k, blow=note.blow_mm, hammer_ratio=ratio
        )
    return None


def _check_mm(
    note: MeasuredNote, deeper_mm: float | None, targets: Targets, ratio: Measured, *, lifted: Measured | None
) -> Measured | None:
    """Return the change of checking still wanted after papers and capstan have carried the check along.

    `lifted` is the rise of the capstan as travel of the key front.
    """
    if targets.checking_mm is None or note.checking_mm is None or deeper_mm is None:
        return None
    wanted = targets.checking_mm
    return carry(
        lambda read, hammer_ratio, up: wanted - (read - hammer_ratio * (deeper_mm + up)),
        read=note.checking_mm,
        hammer_ratio=ratio,
        up=lifted or Measured(0.0, 0.0),
    )


def nearest_papers(amount_mm: float, thicknesses_mm: Sequence[float]) -> tuple[float, ...]:
    """Return the fewest papers whose sum comes within half the thinnest of an amount, thickest first.

    Parameters
    ----------
    amount_mm : float
        To be made up, 0 or more.
    thicknesses_mm : sequence of float
        What is at hand, each as often as needed.

    Examples
    --------
    >>> nearest_papers(0.37, (0.08, 0.13, 0.25)), nearest_papers(0.03, (0.08, 0.13))
    ((0.25, 0.13), ())
    """
    if not thicknesses_mm:
        return ()
    # Whole hundredths of a millimetre: far finer than cloth can be set to, and small enough to try all sums.
    steps = sorted({max(1, round(one * 100)) for one in thicknesses_mm}, reverse=True)
    goal = round(amount_mm * 100)
    best = {0: ()}  # type: dict[int, tuple[int, ...]]
    for total in range(1, goal + steps[-1] + 1):
        options = [(*best[total - step], step) for step in steps if total - step in best]
        if options:
            best[total] = min(options, key=len)
    nearest = min(best, key=lambda total: (abs(total - goal) > steps[-1] / 2, len(best[total]), abs(total - goal)))
    return tuple(step / 100 for step in sorted(best[nearest], reverse=True))


def regulate(note: NoteState, correction: Correction, *, rail_mm: float) -> NoteState:
    """Return a note after its correction has been carried out in the order of work.

    Parameters
    ----------
    note : NoteState
        Before.
    correction : Correction
        From `plan_corrections`; its papers are laid as they come, its turns are made exactly.
    rail_mm : float
        How far the rest rail is moved first, away from the strings for plus; 0 for a grand.
    """
    moved = note.after(Change.BLOW, rail_mm)
    if correction.capstan_mm is not None:
        moved = moved.after(Change.CAPSTAN, correction.capstan_mm.value)
    if correction.set_off_mm is not None:
        moved = moved.after(Change.SET_OFF, correction.set_off_mm.value)
    if correction.papers_mm:
        papers = sum(correction.papers_mm)
        moved = moved.after(Change.DIP, -papers if correction.papers_are_added else papers)
    if correction.check_mm is not None:
        moved = moved.after(Change.CHECK, correction.check_mm.value)
    return moved


EFFECT_NAMES: Final[Mapping[str, str]] = {
    "dip_mm": "dip",
    "blow_mm": "blow",
    "set_off_mm": "set-off",
    "lost_motion_mm": "lost motion",
    "aftertouch_mm": "aftertouch",
    "checking_mm": "checking",
    "off_rail_mm": "distance off the rest rail",
}


def effects(note: NoteState, change: Change, amount_mm: float) -> dict[str, float]:
    """Return what a change moves, in millimetres, by the name of what is moved; what stays is left out.

    Parameters
    ----------
    note : NoteState
        Before.
    change : Change
        What is turned, packed or cut.
    amount_mm : float
        By how much.

    Examples
    --------
    >>> note = NoteState(
    ...     dip_mm=10.0, blow_mm=46.0, set_off_mm=3.0, lost_motion_mm=0.0, checking_mm=15.0, ratio=4.75
    ... )
    >>> {name: round(moved, 2) for name, moved in effects(note, Change.DIP, 0.4).items()}
    {'dip': 0.4, 'aftertouch': 0.4, 'checking': -1.9}
    """
    moved = note.after(change, amount_mm)
    found = {words: getattr(moved, name) - getattr(note, name) for name, words in EFFECT_NAMES.items()}
    return {words: value for words, value in found.items() if abs(value) > 1e-9}
