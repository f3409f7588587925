"""Which headings the table of each command has, so that a table given to the wrong command is sent to the right one."""

from __future__ import annotations

import functools
from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Final

from strikeline.domain.catalogue import the_catalogue

_OF_READINGS: Final = ("note", "key", "place", "string", "pin", "where", "condition", "load", "method", "remark")
_LONG: Final = ("quantity", "what", "value", "reading", "unit")
HEADINGS: Final[Mapping[str, frozenset[str]]] = MappingProxyType({
    "strikeline pins": frozenset({
        "note", "key", "string", "torque", "torque sharp", "torque flat", "row", "place", "diameter",
        "remark", "remarks",
    }),
    "strikeline bearing": frozenset({
        "note", "key", "bridge", "strings", "speaking length", "back length", "pin spacing", "front drop", "back drop",
        "gap", "stagger", "front height", "height at agraffe", "bridge height", "height at bridge", "back height",
        "height at hitch", "front angle", "back angle", "angle", "tension", "remark", "remarks",
    }),
    "strikeline bearing --crown": frozenset({"rib", "span", "middle", "crown", "ends", "remark", "remarks"}),
    "strikeline scale": frozenset({
        "note", "key", "notes", "section", "bridge", "strings", "length", "speaking length", "diameter", "wire",
        "gauge",
        "core", "wrap", "first wrap", "second wrap", "outside", "overall", "wrap material", "core material",
        "core shape", "bare top", "bare bottom", "dead top", "dead bottom", "end", "hitch", "remark", "remarks",
        "comment",
    }),
    "strikeline look": frozenset({
        "kind", "what", "observation", "where", "place", "note", "key", "seen", "signs", "not seen", "looked for",
        "photo", "photograph", "photos", "remark", "remarks", "notes", "length", "width", "depth",
        "gap", "number", "play",
    }),
    "strikeline gloss": frozenset({"place", "where", "angle", "geometry", "gloss", "value", "reading", "gu"}),
})  # fmt: skip
"""By command, in small letters; tested against what each command reads. Columns of bench readings come from the
catalogue, see `QUANTITIES`."""
QUANTITIES: Final[Mapping[str, frozenset[str]]] = MappingProxyType({
    "strikeline touch": frozenset({"down_weight", "up_weight", "key_friction"}),
    "strikeline centres": frozenset({"flange_torque", "flange_swings", "flange_side_play", "centre_pin_diameter"}),
    "strikeline hammers": frozenset({
        "groove_length", "groove_depth", "crown_radius", "felt_over_moulding", "hammer_length",
    }),
    "strikeline keys": frozenset({"key_level", "key_dip", "sharp_dip_above_natural", "key_side_play", "key_height"}),
})  # fmt: skip
"""Quantities that one command alone is asked about; all others go to ``strikeline readings``."""


def likely_command(heads: Sequence[str], *, n_known: int) -> str | None:
    """Return the command whose table has these headings, where it knows more of them than the one that was given them.

    Parameters
    ----------
    heads : sequence of str
        Headings without their units.
    n_known : int
        How many of them the command knows that was given the table.

    Returns
    -------
    str or None
        Such as ``"strikeline pins"``; ``None`` where no table is meant clearly: a command must know all headings, or
        all but one of five or more, and at least two more than are known already or all of them.

    Examples
    --------
    >>> likely_command(["note", "string", "torque", "row", "place"], n_known=3)
    'strikeline pins'
    >>> likely_command(["note", "lenght"], n_known=1) is None
    True
    """
    plain = [_plain(head) for head in heads]
    best, most = None, n_known
    for command, known in _all_headings().items():
        n = sum(head in known for head in plain)
        is_whole = n == len(plain) or (n == len(plain) - 1 and len(plain) >= _MANY)
        if is_whole and n > most:
            best, most = command, n
    return best


_MANY: Final = 5
"""Headings from which one that nobody knows does not hide whose table it is (our choice)."""


@functools.cache
def _all_headings() -> Mapping[str, frozenset[str]]:
    """Return the headings of every command, those of one use first: the first of equals is named."""
    catalogue = the_catalogue()
    common = frozenset(_OF_READINGS)
    words = {
        one.id: frozenset(map(_plain, (one.id, *one.names.values(), *one.also)))
        for one in catalogue.quantities.values()
    }
    single = {
        command: common.union(*(words[quantity] for quantity in quantities))
        for command, quantities in QUANTITIES.items()
    }
    every = {"strikeline readings": common.union(_LONG, *words.values())}
    return MappingProxyType(
        {**{name: frozenset(map(_plain, own)) for name, own in HEADINGS.items()}, **single, **every}
    )


def _plain(head: str) -> str:
    return " ".join(head.casefold().replace("_", " ").replace("-", " ").split())
