"""Clean, revive, reamalgamate, pad over or strip: what was seen decides, and the least that mends it comes first.

The ladder of treatments is common practice (a woodworking magazine; player-piano digest archive 2003-01, 2012-04); that
original finishes hold value and are to be kept is what conservators and restorers write (player-piano digest archive
2002-02; guidance for owners of old instruments). Which sight asks for which step, and the shares of area, are our
reasoning.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType
from typing import Final

from strikeline.errors import InputError
from strikeline.physics.finish_stages import Treatment


class Finish(StrEnum):
    """What the finish is, by a drop of alcohol on a hidden spot."""

    SHELLAC = "shellac"
    OTHER = "other"
    UNKNOWN = "unknown"


class Verdict(StrEnum):
    """What is said of a treatment."""

    ADVISED = "advised"
    POSSIBLE = "possible"
    NOT_ENOUGH = "not enough"
    MORE_THAN_NEEDED = "more than needed"
    EXCLUDED = "excluded"
    TEST_FIRST = "test first"


LADDER: Final = tuple(Treatment)
ALCOHOL_TEST: Final = (
    "Test: on a hidden spot, such as under the lid's edge, touch the finish with one drop of methylated spirit on a "
    "cotton bud, wait half a minute. Soft or sticky: shellac. Unmoved: lacquer, varnish or a modern coating (other), "
    "which a trade finisher tells apart. No flame near it, no other solvent."
)
"""How to tell shellac (that alcohol softens it: a woodworking magazine)."""
LOCAL_RATIO: Final = 0.10
"""Share of the surface up to which loss is mended where it is (our reasoning)."""
WHOLE_RATIO: Final = 0.50
"""Share of the surface above which loss of hold cannot be mended in places (our reasoning)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sight:
    """Something that can be seen on a finish."""

    names: tuple[str, ...]
    needs: Treatment
    """Least treatment that mends it."""
    why: str
    is_local: bool = False
    """Whether a small share of it is mended in its place, by a lesser treatment around it."""


_SIGHTS: Final = (
    Sight(names=("dirt", "grime", "nicotine"), needs=Treatment.CLEAN, why="dirt lies on top of the finish"),
    Sight(
        names=("sticky", "wax", "silicone"), needs=Treatment.CLEAN, why="old wax and polish lie on top of the finish"
    ),
    Sight(names=("dull", "haze"), needs=Treatment.REVIVE, why="a dull skin is worn and oxidised by microns only"),
    Sight(
        names=("scratches", "fine scratches", "scuffs"),
        needs=Treatment.REVIVE,
        why="fine scratches lie in the film and not in the wood",
    ),
    Sight(
        names=("water marks", "white marks", "rings"),
        needs=Treatment.REVIVE,
        why="white marks are moisture in the top of the film; revived first, reflowed where that does not do",
    ),
    Sight(
        names=("bloom", "heat marks"),
        needs=Treatment.REAMALGAMATE,
        why="clouds through the film leave only when it is softened",
    ),
    Sight(
        names=("crackle", "crazing", "checking", "alligator"),
        needs=Treatment.REAMALGAMATE,
        why="cracks through the film close when alcohol lets it flow together",
    ),
    Sight(names=("thin", "worn"), needs=Treatment.PAD_OVER, why="what was worn away has to be put back"),
    Sight(
        names=("worn through", "bare wood", "loss"),
        needs=Treatment.PAD_OVER,
        why="bare wood is coloured in, and new polish put over the old",
        is_local=True,
    ),
    Sight(
        names=("dark stain", "ink", "burn"),
        needs=Treatment.STRIP,
        why="it has gone into the wood under the film",
        is_local=True,
    ),
    Sight(
        names=("flaking", "peeling", "lifting"),
        needs=Treatment.STRIP,
        why="what does not hold on the wood does not carry new polish either",
        is_local=True,
    ),
    Sight(
        names=("wrong coating", "painted", "brushed varnish"),
        needs=Treatment.STRIP,
        why="a later coating of another kind neither flows with alcohol nor takes polish",
    ),
)
SIGHTS: Final[Mapping[str, Sight]] = MappingProxyType({name: one for one in _SIGHTS for name in one.names})
"""All words for what is seen."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """One treatment, judged."""

    treatment: Treatment
    verdict: Verdict
    speaks_for: tuple[str, ...]
    speaks_against: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FinishChoice:
    """What to do with a finish."""

    finish: Finish
    seen: tuple[str, ...]
    advised: Treatment | None
    """``None`` where nothing was seen, or where nobody can say before a test."""
    local: tuple[str, ...]
    """What is mended in its place, by a greater treatment than the rest."""
    options: tuple[Option, ...]
    """From the least to the most."""
    notes: tuple[str, ...]


def read_sight(text: str) -> tuple[str, float | None]:
    """Return what was seen and the share of the surface, written as ``crackle`` or ``worn through=5%``.

    Raises
    ------
    InputError
        If the word is not known or the share is none.
    """
    name, equals, share = (part.strip() for part in text.partition("="))
    name = " ".join(name.casefold().replace("_", " ").replace("-", " ").split())
    if name not in SIGHTS:
        raise InputError.of("sees", text, f"one of {', '.join(SIGHTS)}")
    if not equals:
        return name, None
    try:
        ratio = float(share.removesuffix("%").replace(",", ".")) / 100.0
    except ValueError:
        ratio = -1.0
    if not 0.0 < ratio <= 1.0:
        raise InputError.of("sees", text, "a share of the surface above 0 and at most 100 %, such as 5%")
    return name, ratio


def choose_treatment(sights: Mapping[str, float | None], *, finish: Finish, is_original: bool | None) -> FinishChoice:
    """Return the least treatment that mends what was seen, and what speaks for and against each.

    Parameters
    ----------
    sights : mapping of str to float or None
        What was seen, of `SIGHTS`, and its share of the surface where it is known.
    finish : Finish
        By the alcohol test.
    is_original : bool or None
        Whether nobody has refinished it; ``None`` where that is not known.

    Returns
    -------
    FinishChoice

    Raises
    ------
    InputError
        If a sight is not known.
    """
    unknown = [name for name in sights if name not in SIGHTS]
    if unknown:
        raise InputError.of("sees", unknown[0], f"one of {', '.join(SIGHTS)}")
    local = tuple(name for name, ratio in sights.items() if _is_mended_in_place(SIGHTS[name], ratio))
    rest = [SIGHTS[name].needs for name in sights if name not in local]
    # What is mended in its place still asks for the surface around it to be cleaned and evened out.
    wanted = max([*rest, *([Treatment.REVIVE] if local else [])], key=LADDER.index, default=None)
    options = tuple(_judged(one, wanted, sights, local, finish=finish, is_original=is_original) for one in LADDER)
    advised = next((one.treatment for one in options if one.verdict is Verdict.ADVISED), None)
    return FinishChoice(
        finish=finish,
        seen=tuple(sights),
        advised=advised,
        local=local,
        options=options,
        notes=tuple(_notes(wanted, sights, finish=finish, is_original=is_original)),
    )


def _is_mended_in_place(sight: Sight, ratio: float | None) -> bool:
    """Return whether it is; where nobody said how far it reaches, the less is assumed, and asked."""
    return sight.is_local and (ratio is None or ratio <= LOCAL_RATIO)


def _judged(
    treatment: Treatment,
    wanted: Treatment | None,
    sights: Mapping[str, float | None],
    local: Sequence[str],
    *,
    finish: Finish,
    is_original: bool | None,
) -> Option:
    """Return one rung of the ladder with its reasons."""
    mends = [SIGHTS[name] for name in sights if name not in local and SIGHTS[name].needs is treatment]
    speaks_for = list(dict.fromkeys(sight.why for sight in mends))
    against = _against(treatment, sights, is_original=is_original)
    if treatment is Treatment.REVIVE and finish is not Finish.SHELLAC:
        against.append("revivers are made for shellac; on another finish try a hidden spot for a day")
    needs_shellac = treatment in {Treatment.REAMALGAMATE, Treatment.PAD_OVER}
    if wanted is None:
        verdict = Verdict.POSSIBLE if treatment is Treatment.CLEAN else Verdict.MORE_THAN_NEEDED
    elif LADDER.index(treatment) < LADDER.index(wanted):
        verdict = Verdict.NOT_ENOUGH
    elif needs_shellac and finish is Finish.OTHER:
        verdict = Verdict.EXCLUDED
        against.insert(0, "alcohol does not soften this finish, and shellac on it is a patch that others must take off")
    elif needs_shellac and finish is Finish.UNKNOWN:
        verdict = Verdict.TEST_FIRST
        against.insert(0, "whether it is shellac is not known; test a hidden spot first")
    elif treatment is wanted:
        verdict = Verdict.ADVISED
    elif treatment is Treatment.STRIP and wanted is not Treatment.STRIP:
        verdict = Verdict.MORE_THAN_NEEDED
    else:
        verdict = Verdict.POSSIBLE
    return Option(treatment=treatment, verdict=verdict, speaks_for=tuple(speaks_for), speaks_against=tuple(against))


def _against(treatment: Treatment, sights: Mapping[str, float | None], *, is_original: bool | None) -> list[str]:
    """Return what speaks against a treatment whatever is seen."""
    against = {
        Treatment.CLEAN: list[str](),
        Treatment.REVIVE: ["it takes a little of the film with it; oil left behind darkens"],
        Treatment.REAMALGAMATE: [
            "alcohol cannot be taken back; runs on upright panels; soft for weeks",
            "the surface loses the marks of its age",
        ],
        Treatment.PAD_OVER: ["old and new can no longer be told apart; the shade may drift"],
        Treatment.STRIP: [
            "the original finish is gone for good, and originals hold value",
            "stripped work drifts in colour: keep a hidden place as reference; up to a third of a rebuild's cost",
        ],
    }[treatment]
    if treatment is Treatment.STRIP and is_original is None:
        against.append("whether the finish is the original one is not known")
    if treatment is Treatment.STRIP and is_original is False:
        against = [one for one in against if "originals hold" not in one]
    flaking = next((ratio for name, ratio in sights.items() if "flaking" in SIGHTS[name].names and ratio), None)
    if treatment is Treatment.STRIP and flaking is not None and LOCAL_RATIO < flaking <= WHOLE_RATIO:
        against.append(f"it still holds on {100 * (1 - flaking):.0f} %: strip single panels, and keep the others")
    return against


def _notes(
    wanted: Treatment | None, sights: Mapping[str, float | None], *, finish: Finish, is_original: bool | None
) -> list[str]:
    """Return what goes with the choice."""
    notes = ["Photograph before, during and after; write down what was done and with what, for whoever comes next."]
    if finish is Finish.UNKNOWN:
        notes.append(ALCOHOL_TEST)
    if wanted is None:
        notes.append("Nothing was seen that asks for treatment; a finish in order is best left alone.")
    unsized = [name for name in sights if SIGHTS[name].is_local and sights[name] is None]
    if unsized:
        notes.append(f"Say on how much of the surface: {', '.join(unsized)}. Up to 10 % is mended in its place.")
    if wanted in {Treatment.PAD_OVER, Treatment.STRIP} and is_original is not False:
        notes.append("Ask the owner in writing first: an original finish cannot be brought back.")
    if finish is Finish.OTHER and wanted in {Treatment.REAMALGAMATE, Treatment.PAD_OVER}:
        notes.append(
            "For a finish that is no shellac a trade finisher or a conservator can say whether its own thinner reflows "
            "it; until then clean only."
        )
    return notes
