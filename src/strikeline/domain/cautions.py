"""Cautions: what can hurt somebody, what to do, what not to do, and who may do it. Data in ``cautions.toml``."""

from __future__ import annotations

import functools
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from importlib import resources
from types import MappingProxyType
from typing import Final

from strikeline.domain.fields import Fields
from strikeline.errors import InputError

SCHEMA: Final = "strikeline.cautions/1"


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """One hazard, in the words shown wherever it applies."""

    id: str
    hazard: str
    may_happen: str
    do: tuple[str, ...]
    do_not: tuple[str, ...]
    who: str
    """Who may do the work, or whom to ask."""
    source: str

    def paragraph(self) -> str:
        """Return all of it as one paragraph."""
        return " ".join([f"{self.hazard.capitalize()}: {self.may_happen}", *self.do, *self.do_not, f"Who: {self.who}."])


def cautions_from_toml(text: str) -> Mapping[str, Caution]:
    """Return cautions by id, read from TOML text in the form of ``cautions.toml``.

    Raises
    ------
    InputError
        If the text is no TOML, or an entry lacks a field or holds what it cannot hold; the message names both.
    """
    try:
        whole = Fields(tomllib.loads(text), "cautions")
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"the cautions are no TOML: {error}", name="cautions") from error
    if whole.text("schema") != SCHEMA:
        raise whole.wrong("schema", repr(SCHEMA))
    found = dict[str, Caution]()
    for part in whole.parts("caution"):
        caution_id = part.text("id")
        entry = part.named(caution_id)
        if caution_id in found:
            raise entry.wrong("id", "each id once")
        found[caution_id] = Caution(
            id=caution_id,
            hazard=entry.text("hazard"),
            may_happen=entry.text("may_happen"),
            do=entry.texts("do"),
            do_not=entry.texts("do_not"),
            who=entry.text("who"),
            source=entry.text("source"),
        )
        entry.finish()
    whole.finish()
    return MappingProxyType(found)


@functools.cache
def the_cautions() -> Mapping[str, Caution]:
    """Return the cautions that ship with the program."""
    return cautions_from_toml(resources.files(__package__).joinpath("cautions.toml").read_text("utf-8"))
