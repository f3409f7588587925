"""Observations from a table: what was seen on board, bridges, frame, pedals and castors, and what it means."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Final

from strikeline.domain.observation import Judged, Observation, judge_observation, photograph_hash
from strikeline.domain.observation_kinds import Grade, Measure, ObservationKind, ObservationKinds, the_observation_kinds
from strikeline.errors import InputError
from strikeline.measured import HALF_WIDTHS_PER_SE, Measured
from strikeline.plain_data import plain_data
from strikeline.workshop.entry_table import Column, Row, raise_mistakes, read_rows
from strikeline.workshop.note_cells import note_column
from strikeline.written import read_quantity

SCHEMA: Final = "strikeline.look/1"
_BETWEEN: Final = re.compile(r"\s*[+/|]\s*|\s*;\s*")


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """A walk round the instrument."""

    judged: tuple[Judged, ...]
    """In the order of the table."""
    cautions: tuple[str, ...]

    def of(self, grade: Grade) -> tuple[Judged, ...]:
        """Return the observations of a grade."""
        return tuple(one for one in self.judged if one.grade is grade)

    def to_json(self) -> dict[str, Any]:
        """Return it as plain data in schema ``strikeline.look/1``."""
        return {
            "schema": SCHEMA,
            "observations": [
                {
                    **plain_data(one.observation),
                    "part": one.kind.part.value,
                    "grade": one.grade.value,
                    "reasons": list(one.reasons),
                    "could_be": one.could_be.value,
                    "to_look_for": list(one.to_look_for),
                    "to_measure": list(one.to_measure),
                    "is_never_alone": one.kind.is_never_alone,
                    "evidence": one.kind.evidence.value,
                    "source": one.kind.source,
                    "cautions": list(one.kind.cautions),
                }
                for one in self.judged
            ],
            "cautions": list(self.cautions),
        }


def read_look(text: str, *, hash_of: Callable[[str], str] | None = None) -> Look:
    """Read a table of observations and say what each means.

    Parameters
    ----------
    text : str
        Columns kind, where, note, seen, not seen, photo, remark, and any measure of the kinds.
    hash_of : callable, optional
        Gives the SHA-256 of a photograph that is named by its file; without it only hashes are taken.

    Returns
    -------
    Look

    Raises
    ------
    EntryError
        If anything cannot be read; each mistake with line and column, and nothing is taken.
    """
    kinds = the_observation_kinds()
    mistakes, judged = list[str](), list[Judged]()
    for row in read_rows(text, _columns(kinds), mistakes=mistakes):
        if "kind" in row.unread:
            continue
        kind = row.values["kind"]
        found = _observation(row, kind, hash_of, mistakes)
        if found is not None:
            judged.append(judge_observation(found, kind))
    raise_mistakes(mistakes)
    if not judged:
        raise InputError("the table holds no observation; head its columns kind, where, seen, not seen", name="table")
    cautions = tuple(dict.fromkeys(caution for one in judged for caution in one.kind.cautions))
    return Look(judged=tuple(judged), cautions=cautions)


def content_hash(content: bytes) -> str:
    """Return the reference of a photograph's content: its SHA-256 in hexadecimal digits."""
    return hashlib.sha256(content).hexdigest()


def _columns(kinds: ObservationKinds) -> tuple[Column, ...]:
    measures = dict.fromkeys(one.id for kind in kinds.kinds.values() for one in kind.measures)
    return (
        Column(name="kind", read=kinds.find, is_needed=True, also=("what", "observation")),
        Column(name="where", read=str, also=("place",)),
        note_column(),
        Column(name="seen", read=str, also=("signs",)),
        Column(name="not seen", read=str, also=("not_seen", "looked for")),
        Column(name="photo", read=str, also=("photograph", "photos")),
        Column(name="remark", read=str, also=("remarks", "notes")),
        *(Column(name=name, read=str) for name in measures),
    )


def _observation(
    row: Row, kind: ObservationKind, hash_of: Callable[[str], str] | None, mistakes: list[str]
) -> Observation | None:
    before = len(mistakes)

    def each(column: str, read: Callable[[str], Any]) -> tuple[Any, ...]:
        found = list[Any]()
        for word in _BETWEEN.split(row.values.get(column, "")):
            try:
                found += [read(word)] if word else []
            except InputError as error:
                mistakes.append(f"line {row.line}, {column}: {error}")
        return tuple(dict.fromkeys(found))

    seen = each("seen", lambda word: kind.sign(word).id)
    not_seen = each("not seen", lambda word: kind.sign(word).id)
    if set(seen) & set(not_seen):
        mistakes.append(f"line {row.line}, not seen: {', '.join(set(seen) & set(not_seen))} stands under seen too")
    photographs = each("photo", lambda word: _photograph(word, hash_of))
    measures = _measures(row, kind, mistakes)
    if len(mistakes) > before:
        return None
    return Observation(
        kind=kind.id,
        where=row.values.get("where", ""),
        key=row.values.get("note"),
        seen=seen,
        not_seen=not_seen,
        measures=measures,
        photographs=photographs,
        remark=row.values.get("remark", ""),
        line=row.line,
    )


def _photograph(word: str, hash_of: Callable[[str], str] | None) -> str:
    try:
        return photograph_hash(word)
    except InputError:
        if hash_of is None or not re.search(r"\.\w{2,5}$", word):
            raise
    return hash_of(word)


def _measures(row: Row, kind: ObservationKind, mistakes: list[str]) -> Mapping[str, Measured]:
    own = {one.id: one for one in kind.measures}
    common = {"kind", "where", "note", "seen", "not seen", "photo", "remark"}
    found = dict[str, Measured]()
    for name, written in row.values.items():
        if name in common:
            continue
        if name not in own:
            known = ", ".join(own) or "nothing"
            mistakes.append(f"line {row.line}, {name}: {kind.names['gb']} has no {name}; it is measured by {known}")
            continue
        try:
            found[name] = _measure(own[name], written)
        except InputError as error:
            mistakes.append(f"line {row.line}, {name}: {error}")
    return found


def _measure(measure: Measure, written: str) -> Measured:
    low, high = measure.possible
    if not measure.unit:
        if not re.fullmatch(r"\d+", written) or not low <= int(written) <= high:
            raise InputError.of(measure.id, written, f"a whole number, {low:g} to {high:g}")
        return Measured(float(written), 0.0)
    value = read_quantity(written, name=measure.id, unit=measure.unit, low=low, high=high)
    return value if value.se > 0 else Measured(value.value, measure.half_width / HALF_WIDTHS_PER_SE)
