"""Bring a piano to pitch: how far off it is, what each choice of pitch costs, and the next pass, note by note."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from math import hypot
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.acoustics.listening import Listening
from strikeline.errors import InputError
from strikeline.keyboard import key_name
from strikeline.measured import HALF_WIDTHS_PER_SE, Measured
from strikeline.physics.overpull import PassPlan, is_old_wire, tension_ratio
from strikeline.physics.pitch_change import UNTOLD_PULL_SPREAD, Risk, breaking_risk, load_change, offset_of
from strikeline.physics.tension_give import GiveFit, likely_give
from strikeline.units import CENTS_PER_NEPER, cents_from_ratio, ratio_from_cents
from strikeline.workshop.heard_piano import HeardPiano, heard_piano
from strikeline.workshop.pass_needed import check_is_pass, pass_warnings
from strikeline.workshop.pitch_job import PitchJob, WireStory, middle_move
from strikeline.workshop.pitch_result import Decision, FirstPass, Give, NotePlan, Pitch, SectionOffset
from strikeline.workshop.pitch_scale import Fit, ScaleFit, read_scale
from strikeline.workshop.reference_pitch import check_a4_hz
from strikeline.workshop.string_sections import StringSections

Floats = NDArray[np.float64]

_LEVEL_KEYS: Final = (28, 61)
"""C3 to A5, where the pitch level is read."""
_FEWEST_FOR_LEVEL: Final = 3
_FEW_OF_ALL: Final = 1.0 / 3.0
"""Share of the notes heard below which a warning is due (our reasoning)."""
_MOST_STRAINED: Final = 6
_BANDS: Final = ((44, "tenor"), (68, "treble"), (97, "high treble"))
"""Above the bass: up to E4, to E6, to the top (our reasoning: where the overpull of common practice changes)."""


_WHICH_PITCH: Final = (
    "Which pitch is a decision: look for A435 or C517 on the frame; many technicians leave pianos from before 1890, "
    "over-dampers and squares at 435 (a technicians' mailing-list archive, 1998 to 2002). Write down target, reason "
    "and the owner's consent"
)
_LOOK_FIRST: Final = (
    "Do not raise it before wrest pins, pin block, frame, board and bridges were looked at: strikeline pins tells what "
    "the torque of the pins says. Pins that slip, a crack in the frame or a plank that moves come first; the decision "
    "is for somebody experienced, with the owner's consent in writing"
)
_SAY_MORE: Final = "say --year, --rust or --scale to tell it"
_RETUNE_CENTS: Final = (20.0, 50.0)
"""Rises beyond which tuners come again in about half a year, and sooner: a trade page."""


def plan_pitch(
    listening: Listening,
    *,
    sections: StringSections,
    a4_hz: float,
    wire: WireStory,
    order: str = "up",
    after: Listening | None = None,
    set_cents: Mapping[int, float] | None = None,
) -> Pitch:
    """Say what it takes to bring a piano to pitch, and plan the next pass.

    Parameters
    ----------
    listening : Listening
        A pass over the piano as it was found.
    sections : StringSections
        Where its strings change.
    a4_hz : float
        Where A4 is to be, 380 to 480 Hz.
    wire : WireStory
        What is known of the strings beside their sound; a typed scale in it is compared with what was heard.
    order : str
        ``"up"`` if notes are tuned from the bass to the treble, ``"down"`` for the other way.
    after : Listening, optional
        A pass recorded after the first pass of pitch raising; then the give of this piano is fitted, and the second
        pass is planned.
    set_cents : mapping of int to float, optional
        By key, how far above its target each note was put in that pass; as planned by common practice when left out.

    Raises
    ------
    InputError
        If a value leaves its range, a listening is no pass, both are the same recording, or no note has a usable B.
    """
    check_a4_hz(a4_hz)
    check_is_pass(listening, name="listening")
    if after is not None:
        check_is_pass(after, name="after")
        _refuse_the_same(listening, after)
    wire, scale_fit = _with_scale(wire, a4_hz=a4_hz, listening=listening)
    piano = heard_piano(listening, sections)
    job = PitchJob.of(piano, a4_hz=a4_hz, wire=wire, order=order)
    start, start_se = job.start(piano)
    give, first_pass, known = likely_give(job.setting), None, piano
    if after is not None:
        known = _with_new_pitch(piano, after)
        give, first_pass = job.learn(start, known, set_cents)
        start, start_se = job.start(known)
    plan = job.plan(start, give)
    playing = [] if after is None else [*pass_warnings(after, name="after")]
    result = _result(job, known, start, start_se, plan, give, first_pass, scale_fit)
    return replace(result, warnings=(*pass_warnings(listening, name="listening"), *playing, *result.warnings))


def _refuse_the_same(listening: Listening, after: Listening) -> None:
    one, other = listening.recording.sha256, after.recording.sha256
    if one and one == other:
        raise InputError(
            "after is the same recording as the listening before the first pass; record another pass when the first "
            "pass of pitch raising is done, and listen to that",
            name="after",
        )


def _with_scale(wire: WireStory, *, a4_hz: float, listening: Listening) -> tuple[WireStory, ScaleFit | None]:
    """Return what is known of the strings with what the typed scale says of them, and whether it is this piano's."""
    if wire.scale_table is None:
        return wire, None
    state, fit = read_scale(wire.scale_table, year=wire.year, a4_hz=a4_hz, listening=listening)
    return replace(wire, scale=wire.scale or state, is_scale_doubted=fit.fit is Fit.OTHER), fit


def _with_new_pitch(piano: HeardPiano, after: Listening) -> HeardPiano:
    """Return the piano as it stands after a pass: its strings are the same, so is its B."""
    return HeardPiano(
        notes=after.best_by_key(),
        compass=piano.compass,
        curve=piano.curve,
        sections=piano.sections,
        reference_a4_hz=after.recording.reference_a4_hz,
    )


def _result(
    job: PitchJob,
    piano: HeardPiano,
    start: Floats,
    start_se: Floats,
    plan: PassPlan,
    give: GiveFit,
    first_pass: FirstPass | None,
    scale_fit: ScaleFit | None,
) -> Pitch:
    keys = job.targets.key
    heard = np.array([piano.now_cents(int(key), a4_hz=job.a4_hz) is not None for key in keys])
    inside = heard & (keys >= _LEVEL_KEYS[0]) & (keys <= _LEVEL_KEYS[1])
    if inside.sum() < _FEWEST_FOR_LEVEL:
        first, last = (key_name(key) for key in _LEVEL_KEYS)
        raise InputError.of(
            "notes",
            f"{int(inside.sum())} heard from {first} to {last}",
            f"{_FEWEST_FOR_LEVEL} or more, for the level of a piano is read there",
            advice="record a pass over the whole keyboard",
        )
    level = middle_move(start[inside], start_se[inside]).cents
    a4_now = job.a4_hz * float(ratio_from_cents(level.value))
    passes, _ = job.passes(start, give)
    decisions = _decisions(job, start, start_se, heard, give, a4_now)
    wanted = next(one for one in decisions if one.a4_hz == job.a4_hz)
    at_most = job.strain(plan.overpull_cents)
    return Pitch(
        a4_hz=job.a4_hz,
        a4_now_hz=Measured(a4_now, a4_now * level.se / CENTS_PER_NEPER),
        level_cents=level,
        level_over=f"{key_name(int(keys[inside][0]))}-{key_name(int(keys[inside][-1]))}",
        year=job.wire.year,
        rust_grade=job.wire.rust_grade,
        n_broken=job.wire.n_broken,
        is_old_wire=is_old_wire(job.wire.year),
        scale_table=job.wire.scale_table,
        scale_fit=scale_fit,
        break_after=_named(job.sections.break_after),
        last_wound=_named(job.sections.last_wound_key),
        order=job.order,
        sections=_section_offsets(job, start, start_se, heard),
        first_pass=first_pass,
        decisions=decisions,
        passes=passes,
        notes=_note_plans(job, start, start_se, heard, plan, give),
        give=_give_words(job, give),
        strained=tuple(key_name(key) for key in sorted(at_most, key=lambda one: -at_most[one].value)[:_MOST_STRAINED]),
        load_now_n=job.load_n(start),
        look_first=_LOOK_FIRST if wanted.risk.risk is Risk.HIGH else None,
        advice=(_WHICH_PITCH, *_again(float(np.median(-start[heard])))),
        cautions=("string_tension", *(["old_wire"] if is_old_wire(job.wire.year) else [])),
        warnings=(*_sparse(heard), *_warnings(job, give, first_pass)),
        cannot_tell=_cannot_tell(job, keys[~heard], first_pass),
    )


def _named(key: int | None) -> str | None:
    return None if key is None else key_name(key)


def _band(job: PitchJob, key: int) -> str:
    if job.sections.break_after is None and key <= 26:
        return "bass"
    name = job.sections.name_of(key)
    if "bass" in name or name == "wound tenor":
        return name
    return next(band for last, band in _BANDS if key <= last)


def _section_offsets(
    job: PitchJob, start: Floats, start_se: Floats, heard: NDArray[np.bool_]
) -> tuple[SectionOffset, ...]:
    keys = job.targets.key
    bands = np.array([_band(job, int(key)) for key in keys])
    found = []
    for band in dict.fromkeys(bands.tolist()):
        places = np.flatnonzero(bands == band)
        told = places[heard[places]]
        offset = offset_of(-start[told], move_se_cents=start_se[told])
        first, last = key_name(int(keys[places[0]])), key_name(int(keys[places[-1]]))
        found.append(SectionOffset(section=band, first=first, last=last, offset=offset))
    return tuple(found)


def _decisions(
    job: PitchJob, start: Floats, start_se: Floats, heard: NDArray[np.bool_], give: GiveFit, a4_now: float
) -> tuple[Decision, ...]:
    stay = round(a4_now, 1)
    wanted = {f"to {a4:g}": a4 for a4 in dict.fromkeys([job.a4_hz, 440.0, 435.0])}
    chosen = {**dict(sorted(wanted.items(), key=lambda item: -item[1])), f"stay, at {stay:g}": stay}
    return tuple(_decision(name, a4, job, start, start_se, heard, give) for name, a4 in chosen.items())


def _decision(
    name: str, a4_hz: float, job: PitchJob, start: Floats, start_se: Floats, heard: NDArray[np.bool_], give: GiveFit
) -> Decision:
    """Return what one pitch costs; the stretch hardly hangs on it, so all targets move alike."""
    shift = float(cents_from_ratio(a4_hz / job.a4_hz))
    there = start - shift
    plan = job.plan(there, give)
    sections = [one.offset for one in _section_offsets(job, there, start_se, heard) if one.offset is not None]
    peak = job.strain(plan.overpull_cents + shift)
    rise = max(one.cents.value for one in sections) + float(np.max(plan.overpull_cents))
    passes, is_done = job.passes(there, give)
    now_n, then_n = job.load_n(start), job.load_n(np.full(start.size, shift))
    share = load_change(
        -there,
        move_se_cents=start_se,
        load=job.setting.load * tension_ratio(start),
        is_guessed=~heard,
        load_spread=UNTOLD_PULL_SPREAD * job.untold_share,
    )
    change_n = None
    if now_n is not None and then_n is not None:
        change = then_n.value - now_n.value
        change_n = Measured(change, hypot(change * now_n.se / now_n.value, share.se * now_n.value))
    risk = breaking_risk(
        rise_cents=rise,
        single_cents=float(np.max((plan.overpull_cents - there)[heard])),
        year=job.wire.year,
        rust_grade=job.wire.rust_grade,
        n_broken=job.wire.n_broken,
        highest_share=None
        if job.wire.is_scale_doubted
        else max(peak.values(), key=lambda one: one.value, default=None),
    )
    if risk.risk is Risk.UNKNOWN:
        risk = replace(risk, reasons=(*risk.reasons, _SAY_MORE))
    return Decision(
        name=name,
        a4_hz=a4_hz,
        move=middle_move(-there[heard], start_se[heard]),
        largest_section_cents=max((one.cents.value for one in sections), key=abs),
        tension_change_pct=Measured(100.0 * share.value, 100.0 * share.se),
        load_change_n=change_n,
        n_passes=len(passes) if is_done else None,
        risk=risk,
    )


def _note_plans(
    job: PitchJob, start: Floats, start_se: Floats, heard: NDArray[np.bool_], plan: PassPlan, give: GiveFit
) -> tuple[NotePlan, ...]:
    end, end_se = give.predict(start_cents=start, set_cents=plan.overpull_cents)
    now, at_most = job.strain(start), job.strain(plan.overpull_cents)
    change = 100.0 * (tension_ratio(-start) - 1.0)
    set_hz = job.targets.first_partial_hz * ratio_from_cents(plan.overpull_cents)
    return tuple(
        NotePlan(
            note=key_name(int(key)),
            key=int(key),
            section=_band(job, int(key)),
            now_cents=Measured(float(start[i]), float(start_se[i])) if heard[i] else None,
            overpull_cents=float(plan.overpull_cents[i]),
            is_capped=bool(plan.is_capped[i]),
            set_first_partial_hz=float(set_hz[i]),
            expected_cents=Measured(float(end[i]), float(end_se[i])),
            tension_change_pct=float(change[i]),
            breaking_share_now=now.get(int(key)),
            breaking_share_at_most=at_most.get(int(key)),
        )
        for i, key in enumerate(job.targets.key)
    )


def _give_words(job: PitchJob, give: GiveFit) -> Give:
    ends = HALF_WIDTHS_PER_SE * np.sqrt(np.diag(give.covariance))
    held = [
        (float(np.exp(log)), float(np.exp(log - half)), float(np.exp(log + half)))
        for log, half in zip(give.log_give, ends, strict=True)
    ]
    n = job.targets.key.size
    raised = {"start_cents": np.full(n, -1.0), "set_cents": np.zeros(n)}
    end, _ = give.predict(**raised)
    lost, lost_se = -float(np.mean(end)), give.mean_slope_se(**raised)
    bridges = ["bass bridge", "long bridge"] if len(held) == 4 else ["bridge"]
    return Give(
        rests_on="what is likely beforehand, after common practice"
        if give.n_notes == 0
        else f"the first pass, {give.n_notes} notes heard before and after",
        n_notes=give.n_notes,
        lost_share=Measured(lost, lost_se),
        settling=held[0],
        shared=held[1],
        local=dict(zip(bridges, held[2:], strict=True)),
        scatter_cents=give.scatter_cents,
    )


def _again(rise_cents: float) -> tuple[str, ...]:
    """Return when a piano that was raised so far wants to be tuned again."""
    usual, large = _RETUNE_CENTS
    if rise_cents <= usual:
        return ()
    when = "again in about six months" if rise_cents <= large else "again well within six months"
    return (f"Raised by more than {usual if rise_cents <= large else large:g} cents, tune it {when} (a trade page)",)


def _sparse(heard: NDArray[np.bool_]) -> tuple[str, ...]:
    if heard.mean() >= _FEW_OF_ALL:
        return ()
    told = f"only {int(heard.sum())} of {heard.size} notes were heard; all others are taken as their neighbours are"
    return (f"{told}: record a pass before anything is decided",)


def _warnings(job: PitchJob, give: GiveFit, first_pass: FirstPass | None) -> tuple[str, ...]:
    found = []
    if first_pass is not None and first_pass.is_hard_to_believe:
        found.append(
            "hardly any piano gives so much, or so little, that the first pass ends there: was another plan followed, "
            "or is --after another listening? Pins that slip, a frame or a plank that gives way do it, too: look for "
            "that before anything is raised further. What follows from this pass is not to be relied on"
        )
    if job.wire.year is None:
        found.append("no year was given: the strings are treated as old wire, never more than 10 cents above target")
    if job.sections.break_after is None:
        found.append("the break was not found: the bass is taken to end at A#2; say --break NOTE if you see it")
    if give.n_notes == 0 and first_pass is None:
        found.append(
            "overpulls are common practice, not of this piano; record a pass after the first one and give it as --after"
        )
    return tuple(found)


def _cannot_tell(
    job: PitchJob, silent: Sequence[int] | NDArray[np.int64], first_pass: FirstPass | None
) -> tuple[str, ...]:
    found = [f"{key_name(int(key))}: where it stands; it is taken as its neighbours are" for key in silent]
    if first_pass is not None and not first_pass.is_shown:
        found.append(
            "how this piano gives: the first pass does not show in this recording; give as --after a pass that was "
            "recorded when it was done"
        )
    if job.wire.is_scale_doubted:
        found.append("breaking margin of each string: B heard does not fit this scale; the risk does not rest on it")
    if job.wire.scale is None:
        found.append(
            "breaking margin of each string, and the load in newton: they need lengths and diameters; give --scale"
        )
    return tuple(found)
