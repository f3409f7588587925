"""What a scale says, in sentences: load, weak points, jumps, the proposal and what the sound may mean."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import Final

from strikeline.measured import HALF_WIDTHS_PER_SE, Measured
from strikeline.physics.scale import FrameLoad
from strikeline.physics.scale_against_hearing import Cause, Disagreement, Meaning, ScaleAgainstHearing
from strikeline.physics.scale_jumps import JumpKind, ScaleJump, Step
from strikeline.physics.scale_proposal import ScaleProposal
from strikeline.physics.scale_weak import LEAST_MEANT, MOST_MEANT, WeakKind, WeakPoint, fitting_length_units
from strikeline.physics.wire_gauge import StockSize
from strikeline.reports.figures import (
    ABSENT,
    count,
    key_range,
    key_ranges,
    listed,
    note_name,
    number,
    sentence,
    with_error,
)

_N_PER_KN: Final = 1000.0
_PERCENT: Final = 100.0
_FRACTIONS: Final = {0.25: "¼", 0.5: "½", 0.75: "¾"}
CAUTION: Final = (
    "Strings hold up to about 1000 N each and the frame carries all of them. Wear eye protection, stand to one side, "
    "change tension in small steps and evenly over the compass, never loosen frame bolts while strings are at tension. "
    "Restringing and rescaling are work for someone trained and insured for it; local rules come first."
)
PROPOSAL_CAUTION: Final = (
    "A proposal is arithmetic, not a verdict: it knows nothing of tone, of the maker's intention or of the worth of "
    "original wire. Keeping the original scale is always possible."
)


def gauge_words(size: StockSize) -> str:
    """Return a stock size by its number and diameter.

    Examples
    --------
    >>> gauge_words(StockSize(15.5, 0.9144))
    'No. 15½ (0.914 mm)'
    """
    return f"No. {gauge_number_words(size.number)} ({number(size.diameter_mm, places=3)} mm)"


def gauge_number_words(wire_number: float) -> str:
    """Return a wire number as the trade writes it.

    Examples
    --------
    >>> gauge_number_words(15.5), gauge_number_words(16.0)
    ('15½', '16')
    """
    whole, rest = divmod(wire_number, 1.0)
    return f"{whole:.0f}{_FRACTIONS.get(round(rest, 2), '' if rest < 1e-9 else f'{rest:.2f}'[1:])}"


def load_sentence(load: FrameLoad) -> str:
    """Return what all strings pull with, and how the error comes about."""
    together = with_error(load.tension_n, factor=1.0 / _N_PER_KN)
    return (
        f"The {load.n_strings} strings of {count(load.n_notes, 'note')} pull with {together} kN altogether, "
        f"{with_error(load.tonnes_force)} tonnes-force."
    )


def load_error_sentence(load: FrameLoad) -> str:
    """Return which part of the error of the load is shared by the notes."""
    shared, own = (number(HALF_WIDTHS_PER_SE * se / _N_PER_KN, places=2) for se in (load.shared_se_n, load.own_se_n))
    return (
        f"Of its error ±{shared} kN is shared by all notes (zero of micrometer and tape, density of the metals, "
        f"packing of the windings, what notes were filled from) and does not average out; ±{own} kN is each "
        "note's own."
    )


def weak_sentences(points: Sequence[WeakPoint]) -> list[str]:
    """Return the weak points in words, the gravest first."""
    by_kind: dict[WeakKind, list[WeakPoint]] = {}
    for point in points:
        by_kind.setdefault(point.kind, []).append(point)
    sentences = []
    for kind, found in by_kind.items():
        if kind in (WeakKind.ODD_WIRE, WeakKind.ODD_LENGTH):
            sentences += [_odd(point) for point in found]
        else:
            sentences += [_shares(kind, group) for group in _same_limit(found)]
    return sentences


def _same_limit(points: Iterable[WeakPoint]) -> list[list[WeakPoint]]:
    groups: dict[float, list[WeakPoint]] = {}
    for point in points:
        groups.setdefault(point.beside, []).append(point)
    return list(groups.values())


def _shares(kind: WeakKind, points: Sequence[WeakPoint]) -> str:
    keys, limit = key_ranges(point.key for point in points), f"{100 * points[0].beside:.0f} %"
    is_low = kind in (WeakKind.SLACK, WeakKind.MAY_BE_SLACK, WeakKind.CANNOT_BE_MEANT)
    worst = (min if is_low else max)(points, key=lambda point: point.value.value)
    top = f"{note_name(worst.key)} {with_error(worst.value, factor=100.0, max_places=0)} %"
    if kind is WeakKind.NEAR_BREAKING:
        misread = "; no wire bears that: a length, a wire or the note is misread" if worst.value.value > 1.0 else ""
        return sentence(f"near breaking: {keys} above {limit} of the breaking load, the most {top}{misread}")
    if kind is WeakKind.MAY_BE_NEAR_BREAKING:
        return sentence(
            f"may be near breaking: {keys} below {limit} of the breaking load, but not by more than the error; "
            f"the most {top}"
        )
    if kind is WeakKind.CANNOT_BE_MEANT:
        return sentence(
            f"cannot be meant: {keys} would carry less than {limit} of the breaking load, the least {top}; strings of "
            f"pianos carry about {100 * LEAST_MEANT:.0f} to {100 * MOST_MEANT:.0f} % (our reasoning); "
            f"{_likely_unit([point.value.value for point in points])}"
        )
    if kind is WeakKind.MAY_BE_SLACK:
        return sentence(f"near slack: {keys} at about {limit} of the breaking load, within the error; the least {top}")
    return sentence(f"slack: {keys} below {limit} of the breaking load, the least {top}")


def _likely_unit(shares: Sequence[float]) -> str:
    """Return the unit of length under which shares would be those of a piano, or what to read again."""
    if units := fitting_length_units(shares):
        return f"lengths in {' or '.join(units)} would fit: write the unit into the heading or the cells"
    return "read again their lengths, wire and notes"


def _odd(point: WeakPoint) -> str:
    note = note_name(point.key)
    if point.kind is WeakKind.ODD_WIRE:
        figures = (
            f"{with_error(point.value, max_places=3)} mm between neighbours of {number(point.beside, places=3)} mm"
        )
        return sentence(f"odd wire: {note} has {figures}; a wire of the wrong gauge, or a slip of the pen")
    figures = (
        f"{with_error(point.value, max_places=1)} mm where its neighbours lead to {number(point.beside, places=1)} mm"
    )
    return sentence(f"odd length: {note} has {figures}; measure again")


_TO_DO: Final[Mapping[WeakKind, str]] = {
    WeakKind.CANNOT_BE_MEANT: (
        "correct the entries of {notes}: until then what is said of them, and the load, is not to be relied on"
    ),
    WeakKind.NEAR_BREAKING: (
        "do not raise {notes}; measure length and wire again, and ask somebody with experience before tuning there"
    ),
    WeakKind.MAY_BE_NEAR_BREAKING: (
        "before any pitch raise find out what wire {notes} have, and measure them again: the error decides"
    ),
    WeakKind.ODD_WIRE: "put a micrometer on {notes} at three places, on each string, before anything is ordered by it",
    WeakKind.ODD_LENGTH: "measure the speaking length of {notes} again",
}
"""A slack string sounds poorly and harms nothing: nothing has to be done about it."""


def to_do_sentences(
    points: Sequence[WeakPoint], *, proposal: ScaleProposal, hearing: ScaleAgainstHearing | None
) -> list[str]:
    """Return what to do next, in the order of urgency.

    Parameters
    ----------
    points : sequence of WeakPoint
        From `scale_weak.weak_points`.
    proposal : ScaleProposal
        What would smooth the scale.
    hearing : ScaleAgainstHearing or None
        How the sound agrees, where there was one.
    """
    told = []
    for kind, words in _TO_DO.items():
        if keys := [point.key for point in points if _asks_for(point) is kind]:
            told.append(sentence(words.format(notes=key_ranges(keys))))
    if hearing is not None and hearing.disagreements:
        where = ", ".join(key_range(one.keys[0], one.keys[-1]) for one in hearing.disagreements)
        told.append(f"Look at {where}: their sound does not fit what was entered; below stands what it may mean.")
    if proposal.changes:
        keys = [change.key for change in proposal.changes]
        told.append(
            f"If strings are renewed anyway, another wire on {key_ranges(keys)} would smooth the scale, see below; "
            "keeping the original is always possible."
        )
    return told or ["Nothing in these figures asks for work."]


def _asks_for(point: WeakPoint) -> WeakKind:
    """Return the kind whose work a weak point asks for: what no wire bears was misread."""
    is_misread = point.kind is WeakKind.NEAR_BREAKING and point.value.value > 1.0
    return WeakKind.CANNOT_BE_MEANT if is_misread else point.kind


def step_words(step: Step | None) -> str:
    """Return a step with its error, marked where the scatter of the neighbours does not explain it."""
    if step is None:
        return ABSENT
    return f"{with_error(step.step_pct, plus=True, max_places=1)}{' !' if step.is_beyond_scatter else ''}"


def jump_place(jump: ScaleJump) -> str:
    """Return the two notes on either side of a jump."""
    return f"{note_name(jump.after_key)}–{note_name(jump.before_key)}"


def stands_out(jump: ScaleJump) -> bool:
    """Return whether any quantity of a jump is beyond the scatter of its neighbours."""
    steps = (jump.tension, jump.inharmonicity, jump.impedance, jump.breaking_share)
    return any(step is not None and step.is_beyond_scatter for step in steps)


def jumps_sentence(jumps: Sequence[ScaleJump]) -> str:
    """Return which changes of gauge make no step beyond the scatter, and which could not be judged."""
    quiet = [jump for jump in jumps if jump.kind is JumpKind.GAUGE and jump.why_not is None and not stands_out(jump)]
    untold = [jump for jump in jumps if jump.why_not is not None]
    parts = []
    if quiet:
        parts.append(f"No step beyond the scatter of the neighbours at {listed([jump_place(jump) for jump in quiet])}.")
    if untold:
        parts.append(f"Too few measured notes beside {listed([jump_place(jump) for jump in untold])}.")
    return " ".join(parts)


def proposal_sentence(proposal: ScaleProposal) -> str:
    """Return what the proposal changes, what it costs in strings, and what it gains."""
    before, after = proposal.options[0], proposal.options[proposal.chosen]
    if not proposal.changes:
        return (
            "No change of gauge within stock sizes makes the plain wire so much smoother that it is worth its strings."
        )
    return (
        f"Another wire on {count(len(after.changes), 'note')} ({count(after.n_strings, 'string')}) would bring the "
        f"roughness of the plain wire from {number(before.roughness_pct, places=1)} to "
        f"{number(after.roughness_pct, places=1)} % (how far a note lies from the middle of its neighbours, root mean "
        "square of tension, B and impedance)."
    )


def hearing_sentence(hearing: ScaleAgainstHearing) -> str:
    """Return how predicted and heard B agree as a whole."""
    if not hearing.notes:
        return "Of no note are both the dimensions and B of the sound known."
    common = listed([f"{kind} {_change(one)} %" for kind, one in hearing.common_pct.items()])
    return (
        f"B was heard on {count(len(hearing.notes), 'note')} of the scale; from the dimensions it differs in the "
        f"middle by {common}. {count(len(hearing.disagreements), 'place').capitalize()} beyond all uncertainties."
    )


def disagreement_sentence(one: Disagreement) -> str:
    """Return where sound and dimensions disagree and by how much."""
    notes, kind = key_range(one.keys[0], one.keys[-1]), "wound" if one.is_wound else "plain"
    return f"{notes}: B heard differs by {_change(one.difference_pct)} % from B of the {kind} string as entered."


def _change(log_pct: Measured) -> str:
    """Return a difference of 100·ln as the change in per cent that people mean: −51 is −40 %."""
    ratio = math.exp(log_pct.value / _PERCENT)
    return with_error(Measured(_PERCENT * (ratio - 1.0), ratio * log_pct.se), plus=True, max_places=0)


_TELL: Final[Mapping[Cause, str]] = {
    Cause.THICKER_WIRE: "the wire is thicker than entered{mm}, a wrong gauge or a slip: micrometer at three places",
    Cause.THINNER_WIRE: "the wire is thinner than entered{mm}, a wrong gauge or a slip: micrometer at three places",
    Cause.LENGTH: "the speaking length is another{mm}: measure again from bearing to bridge pin",
    Cause.ROWS_SHIFTED: "the rows of the table are one note off: count the keys from the end of the compass",
    Cause.HEXAGONAL_CORE: "the cores are hexagonal, entered across flats (23 % stiffer): look at the bare end",
    Cause.BARE_ENDS: "the bare ends are others than entered{mm}: measure them",
    Cause.STIFF_WINDING: "the winding is clogged or rusted stiff, the string gone dull: compare its tone, clean it",
    Cause.LOST_SECTION: "section was lost to corrosion{mm}: micrometer where it is worst; look for pitting",
    Cause.REPLACED_COPY: "the string was replaced by a copy with another core{mm}: micrometer on the bare end",
    Cause.HEARING: "the sound misleads, few partials or an uneven unison: record one string alone and compare",
}


def meaning_words(meaning: Meaning) -> str:
    """Return one possible meaning, what it would take, and what would tell."""
    fits = _fits(meaning)
    return _TELL[meaning.cause].format(mm=f" ({fits} would fit)" if fits else "")


def _fits(meaning: Meaning) -> str:
    """Return the one dimension of one note that would fit, or the change on every note of several."""
    if meaning.implied is None or meaning.key is None:
        pct = meaning.implied_pct
        return "" if pct is None else f"{with_error(pct, plus=True, max_places=1)} % on every note"
    mm = with_error(meaning.implied, max_places=3 if meaning.implied.value < 3.0 else 1)
    return f"{mm} mm on {note_name(meaning.key)}"
