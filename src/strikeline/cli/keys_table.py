"""Keys as plain text: how even they are, a line for each that is out, bushings and compass."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from strikeline.cli.cautions import caution_lines
from strikeline.cli.plain_text import aligned, bulleted, figure, typed, wrapped
from strikeline.domain.catalogue import Place, the_catalogue
from strikeline.keyboard import key_name
from strikeline.reports.figures import ABSENT, key_ranges, number
from strikeline.workshop.bushings import BushingAdvice
from strikeline.workshop.keys import Goal, KeyRun, KeysAdvice, KeyWork, Step

_HEIGHTS: Final = ("key_level", "key_height")
_SIDES: Final = {
    Place.WITHIN: "as it should be",
    Place.LOW: "low",
    Place.HIGH: "high",
    Place.CANNOT_TELL: "too uncertain to say",
}


def keys_table(advice: KeysAdvice, *, width: int | None) -> str:
    """Return advice on keys as text.

    Parameters
    ----------
    advice : KeysAdvice
        From `workshop.keys.judge_keys`.
    width : int or None
        Columns to break sentences at.
    """
    lines = [wrapped(text, width) for text in _compass(advice)]
    for run in advice.runs:
        lines += ["", wrapped(_run_sentence(run), width), *_run_rows(run)]
        unsure = [one.key for one in run.keys if one.place is Place.CANNOT_TELL]
        if unsure:
            where = typed(key_ranges(unsure))
            lines.append(wrapped(f"Too near the limit for how well they were read; read again: {where}.", width))
    lines += bulleted("Sharps against naturals:", [_step(one) for one in advice.steps], width)
    lines += bulleted("Bushings:", [_bushing(one) for one in advice.bushings], width)
    if any(one.papers_mm for run in advice.runs for one in run.keys):
        lines += ["", wrapped(_ORDER, width)]
    if _lacks_arms(advice):
        lines += ["", wrapped(_ARMS, width)]
    lines += caution_lines(advice.cautions, width)
    return "\n".join(lines).lstrip("\n")


_ORDER: Final = (
    "Level first, then dip: a key that is raised gains as much dip; where papers for the balance rail are named, those "
    "for the front rail count it already. Then see to lost motion, aftertouch and checking (strikeline regulate). "
    "Papers: + put in, - take out."
)


_ARMS: Final = (
    "Papers at the balance rail hang on the arms of the key: give --front-arm and --back-arm, from the balance pin to "
    "the key front and to where the key rests at the back."
)


def _lacks_arms(advice: KeysAdvice) -> bool:
    """Return whether a key is out of level and nothing could be said of its papers."""
    heights = (run for run in advice.runs if run.quantity in _HEIGHTS)
    return any(one.place in {Place.LOW, Place.HIGH} and not one.papers_mm for run in heights for one in run.keys)


def _compass(advice: KeysAdvice) -> list[str]:
    if not advice.compasses:
        return []
    first = advice.compasses[0]
    n = first.n_naturals + first.n_sharps
    if advice.usual_compass:
        usual = next(one for one in advice.compasses if str(one.compass) == advice.usual_compass)
        return [f"{n} keys, {usual.n_naturals} naturals and {usual.n_sharps} sharps: {advice.usual_compass} as a rule."]
    letters = dict[int, list[str]]()
    for one in advice.compasses:
        letter = key_name(one.compass.lowest).rstrip("0123456789")
        if letter not in letters.setdefault(one.n_naturals, []):
            letters[one.n_naturals].append(letter)
    parts = [f"with {naturals} naturals it begins on {' or '.join(names)}" for naturals, names in letters.items()]
    return [f"{n} keys: {'; '.join(parts)}. No count tells the octave: play the lowest key."]


def _run_sentence(run: KeyRun) -> str:
    quantity = the_catalogue()[run.quantity]
    kind = "naturals" if run.are_naturals else "sharps"
    name = f"{quantity.names['gb'].capitalize()}, {kind} ({run.n} read)"
    if run.at_middle is None or run.tilt is None or run.scatter is None or run.middle_place is None:
        usual = number(run.nominal.value, places=2)
        return f"{name}: too few for a run, so each is held against {usual} mm."
    parts = [
        f"in the middle {figure(run.at_middle)} mm, {_SIDES[run.middle_place]}",
        f"from the first to the last read {figure(run.tilt, plus=True)} mm",
    ]
    if run.sag is not None:
        parts.append(f"the middle below the ends by {figure(run.sag, plus=True)} mm")
    parts.append(f"single keys scatter by {number(run.scatter, places=2)} mm")
    goal = "the run through them" if run.goal is Goal.RUN else f"{number(run.nominal.value, places=2)} mm"
    return f"{name}: {'; '.join(parts)}. Brought to {goal}."


def _run_rows(run: KeyRun) -> list[str]:
    out = [one for one in run.keys if one.place in {Place.HIGH, Place.LOW}]
    if not out:
        sure = all(one.place is Place.WITHIN for one in run.keys)
        return ["All within tolerance."] if sure else ["None surely out."]
    where = "balance" if run.quantity in _HEIGHTS else "front"
    rows = [["note", "away mm", f"papers at the {where} rail mm", "left mm", "capstan mm"]]
    rows += [[key_name(one.key), figure(one.away, plus=True), *_work(one)] for one in out]
    keep = [place for place in range(5) if place < 2 or any(row[place] != ABSENT for row in rows[1:])]
    return aligned([[row[place] for place in keep] for row in rows])


def _work(one: KeyWork) -> Sequence[str]:
    sign = "+" if one.papers_are_added else "-"
    papers = " ".join(f"{sign}{paper:g}" for paper in one.papers_mm) or ABSENT
    if one.waits_for_level:
        papers = "level it first, then read it again"
    left = ABSENT if one.left_mm is None else number(one.left_mm, places=2, plus=True)
    capstan = ABSENT if one.capstan_rise_mm is None else number(one.capstan_rise_mm, places=2, plus=True)
    return papers, left, capstan


def _step(one: Step) -> str:
    name = the_catalogue()[one.quantity].names["gb"]
    if one.nominal is None or one.place is None:
        return f"{name} {figure(one.middle)} mm."
    should = f"{number(one.nominal.value, places=1)} ± {number(one.nominal.tolerance, places=1)} mm"
    return f"{name} {figure(one.middle)} mm, {_SIDES[one.place]} (should be {should})."


def _bushing(one: BushingAdvice) -> str:
    low, likely, high = (number(count, places=0) for count in one.to_rebush)
    hours = [number(hour, places=1) for hour in one.hours]
    rail = "rail not named" if one.rail == "unnamed" else f"{one.rail} rail"
    worn = f" ({typed(key_ranges(one.worn_keys))})" if one.worn_keys else ""
    eaten = " Moth or mites were seen: look at all key felt." if one.is_eaten else ""
    return (
        f"{rail}: {one.work.value}. Of {one.n_read} read, {len(one.worn_keys)} are worn{worn}; of {one.n_all}, "
        f"{likely} need it ({low} to {high} in 95 cases of 100, if the sample was drawn evenly): {hours[1]} hours, "
        f"{hours[0]} to {hours[2]}.{eaten} Do not turn oval pins as a cure."
    )
