"""The toning list as a section of the sheet: advice, kept apart from what was heard."""

from __future__ import annotations

from typing import Final

from strikeline.acoustics.evenness_quantities import BRIGHTNESS
from strikeline.acoustics.evenness_result import Evenness, Sureness
from strikeline.acoustics.toning_result import Action, Cause, ToningItem, ToningList
from strikeline.measured import Measured
from strikeline.reports.content import Section, Table
from strikeline.reports.figures import ABSENT, NO_BREAK, key_range, note_name, sentence

SAFETY: Final = (
    "Felt dust and the solvents of hardeners harm the lungs and some burn: wear a mask, air the room, keep flames "
    "away, and follow the data sheet and local rules. Needles break: guard eyes and fingers."
)
_NOTHING: Final = "No hammer leaves its neighbours beyond the scatter from note to note: there is nothing to tone."
_NOT_THE_HAMMER: Final = (
    "Notes are brighter or duller than their neighbours (see what stands out), but the balance of their partials does "
    "not say that their hammers make it: listen again before touching one."
)
_WORK: Final = (Action.SOFTEN, Action.HARDEN)
_SMALLEST_DB: Final = 0.5
"""Advice that would be printed as 0 dB is none."""
_LEAVE: Final = "leave"


def toning_section(toning: ToningList, evenness: Evenness) -> Section:
    """Return the toning list: what to do in order, the caution first.

    Parameters
    ----------
    toning : ToningList
        From `strikeline.acoustics.toning.toning_list`.
    evenness : Evenness
        What stands out, so that the two do not gainsay each other.
    """
    if not toning.items:
        return Section(name="toning", heading="Toning list", paragraphs=(no_advice_sentence(toning, evenness),))
    lines = Table(
        head=("Notes", "Advice", "In all", "First step", "Against the neighbours", "What speaks for the string"),
        rows=tuple(_line(item) for item in toning.items),
        caption="Toning list, in the order of the work",
        style="words compact",
        widths=("auto", "auto", "auto", "auto", "1.2fr", "2fr"),
    )
    hammers = Table(
        head=("Note", "Against the neighbours", "Change in all"),
        rows=tuple(
            (note_name(hammer.key), _departure(hammer.balance_db), _decibels(hammer.advised_db))
            for item in toning.items
            if item.action in _WORK and len({_decibels(hammer.advised_db) for hammer in item.hammers}) > 1
            for hammer in item.hammers
        ),
        caption="The runs of the toning list, hammer by hammer",
        style="words compact",
        widths=("auto", "1fr", "1fr"),
    )
    scatter = toning.scatter_db
    return Section(
        name="toning",
        heading="Toning list",
        note="Advice, in the order of the work. Decibels are those of the upper partials against the lower ones; "
        "advice goes as far as the error of measurement leaves no doubt, the first step half as far.",
        paragraphs=cautions(toning),
        tables=tuple(table for table in (lines, hammers) if table.rows),
        after=(f"Within {scatter:.0f}{NO_BREAK}dB, the scatter from note to note, a hammer is left alone.",)
        if scatter is not None
        else (),
    )


def no_advice_sentence(toning: ToningList, evenness: Evenness) -> str:
    """Return why a toning list is empty."""
    if toning.scatter_db is None and toning.cannot_tell:
        return sentence(toning.cannot_tell[0].partition(": ")[2])
    is_heard = any(one.sureness is not Sureness.HINT for one in evenness.of(BRIGHTNESS).standouts)
    return _NOT_THE_HAMMER if is_heard else _NOTHING


def cautions(toning: ToningList) -> tuple[str, ...]:
    """Return what to mind before any work on hammers; nothing where the list advises none."""
    return (toning.caution, SAFETY) if any(item.action in _WORK for item in toning.items) else ()


def advice_line(item: ToningItem) -> str:
    """Return one line of the list in words, such as *C4: soften by 4 dB in all, 2 dB first (6 ± 2 dB brighter …)*."""
    where, action, in_all, first, departure, _ = _line(item)
    if item.action not in _WORK:
        what = action
    elif in_all == _LEAVE:
        what = f"{_LEAVE}, less than {_SMALLEST_DB}{NO_BREAK}dB is sure"
    else:
        what = f"{action} by {in_all} in all" + ("" if first == _LEAVE else f", {first} first")
    heard = [] if item.balance_db is None else [f"{departure} than the neighbours"]
    because = "; ".join([*heard, *item.signs])
    return f"{where}: {what}" + (f" ({because})" if because else "")


def _line(item: ToningItem) -> tuple[str, ...]:
    is_work = item.action in _WORK
    sure = "" if is_work else f" ({Sureness.of(item.p_false)})" if item.action is Action.LISTEN_AGAIN else ""
    return (
        key_range(item.first_key, item.last_key),
        f"{item.action.value}{sure}",
        _decibels(item.advised_db) if is_work else ABSENT,
        _decibels(item.first_step_db) if is_work else ABSENT,
        ABSENT if item.balance_db is None else _departure(item.balance_db),
        "; ".join(item.signs) if item.signs or item.cause is not Cause.HAMMER else "nothing",
    )


def _departure(balance_db: Measured) -> str:
    word = "brighter" if balance_db.value > 0.0 else "duller"
    half = balance_db.half_width
    return f"{abs(balance_db.value):.0f}{NO_BREAK}±{NO_BREAK}{max(half, 1.0):.0f}{NO_BREAK}dB {word}"


def _decibels(size_db: float) -> str:
    if size_db < _SMALLEST_DB:
        return _LEAVE
    return f"{size_db:.0f}{NO_BREAK}dB"
