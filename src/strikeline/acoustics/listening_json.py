"""A listening read back from its published JSON, ``strikeline.listening/1``.

Files of older versions lack fields that came later: what is missing stays ``None``, as if it could not be told. Fields
that a newer version adds are passed over.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Final, TypeVar

from strikeline.acoustics.damping_result import DampedPartial, DamperVerdict, Damping
from strikeline.acoustics.listening import SCHEMA, Decay, Kind, Listening, Mode, Note, Partial, Recording
from strikeline.acoustics.pluck_result import Pluck, StringPlace
from strikeline.acoustics.unison_result import Beat, Unison, UnisonVerdict
from strikeline.errors import InputError
from strikeline.keyboard import HIGHEST_KEY, LOWEST_KEY, Compass, key_from_name
from strikeline.measured import Measured

_FAMILY: Final = SCHEMA.partition("/")[0]
_Item = TypeVar("_Item")
_Word = TypeVar("_Word", bound=StrEnum)


def listening_from_json(data: object) -> Listening:
    """Return the listening that `Listening.to_json` gave as plain data.

    Parameters
    ----------
    data : object
        What ``json.loads`` returned.

    Returns
    -------
    Listening
        The same listening: writing it again gives the same data, but for fields this version does not know.

    Raises
    ------
    InputError
        If the data is no listening, of another schema, or a field holds what it cannot hold; the message names it.
    """
    if not isinstance(data, Mapping):
        raise _no_listening("the file holds no JSON object")
    schema = data.get("schema")
    if not isinstance(schema, str) or schema.partition("/")[0] != _FAMILY:
        raise _no_listening(f"its schema is {schema!r}")
    if schema != SCHEMA:
        raise InputError.of("schema", schema, repr(SCHEMA), advice="a newer strikeline wrote it; use that one")
    whole = _Fields(data, "")
    recording = _recording(whole.part("recording"))
    return Listening(recording=recording, notes=whole.items("notes", lambda one: _note(one, recording.kind)))


def _no_listening(found: str) -> InputError:
    advice = "give a file written by strikeline listen --json, or the sound itself"
    return InputError(f"this is no listening: {found}, expected schema {SCHEMA!r}; {advice}", name="schema")


@dataclass(frozen=True, slots=True)
class _Fields:
    """One JSON object and where in the file it stands."""

    data: Mapping[str, object]
    where: str

    def at(self, name: str) -> str:
        return f"{self.where}.{name}" if self.where else name

    def wrong(self, name: str, expected: str) -> InputError:
        return InputError.of(self.at(name), self.data.get(name), expected, advice="the file is damaged")

    def part(self, name: str) -> _Fields:
        found = self.optional_part(name)
        if found is None:
            raise self.wrong(name, "a JSON object")
        return found

    def optional_part(self, name: str) -> _Fields | None:
        value = self.data.get(name)
        if value is None:
            return None
        if not isinstance(value, Mapping):
            raise self.wrong(name, "a JSON object")
        return _Fields(value, self.at(name))

    def items(self, name: str, read: Callable[[_Fields], _Item]) -> tuple[_Item, ...]:
        """Return what `read` makes of each object in a list; a list that is absent is empty."""
        value = self.data.get(name)
        if value is None:
            return ()
        if not isinstance(value, list) or not all(isinstance(one, Mapping) for one in value):
            raise self.wrong(name, "a list of JSON objects")
        return tuple(read(_Fields(one, f"{self.at(name)}[{i}]")) for i, one in enumerate(value))

    def number(self, name: str) -> float | None:
        value = self.data.get(name)
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, (int, float)) or not math.isfinite(value):
            raise self.wrong(name, "a finite number")
        return float(value)

    def numbers(self, name: str) -> tuple[float, ...]:
        """Return a list of numbers; one that is absent is empty."""
        value = self.data.get(name)
        if value is None:
            return ()
        if not isinstance(value, list):
            raise self.wrong(name, "a list of numbers")
        places = [f"{name}[{i}]" for i in range(len(value))]
        row = _Fields(dict(zip(places, value, strict=True)), self.where)
        return tuple(row.needed(place) for place in places)

    def needed(self, name: str) -> float:
        value = self.number(name)
        if value is None:
            raise self.wrong(name, "a finite number")
        return value

    def measured(self, name: str) -> Measured | None:
        """Return a field of the form ``{"value": …, "se": …}``."""
        part = self.optional_part(name)
        if part is None:
            return None
        return part.pair("value", "se")

    def pair(self, value_name: str, se_name: str) -> Measured | None:
        """Return a value whose standard error stands beside it; an error that was not written counts as 0."""
        value = self.number(value_name)
        if value is None:
            return None
        se = self.number(se_name) or 0.0
        if se < 0.0:
            raise self.wrong(se_name, "0 or more")
        return Measured(value, se)

    def needed_measured(self, name: str) -> Measured:
        value = self.measured(name)
        if value is None:
            raise self.wrong(name, "a value with its standard error")
        return value

    def text(self, name: str) -> str | None:
        value = self.data.get(name)
        if value is not None and not isinstance(value, str):
            raise self.wrong(name, "a text")
        return value

    def texts(self, name: str) -> tuple[str, ...]:
        value = self.data.get(name)
        if value is None:
            return ()
        if not isinstance(value, list) or not all(isinstance(one, str) for one in value):
            raise self.wrong(name, "a list of texts")
        return tuple(value)

    def flag(self, name: str) -> bool | None:
        value = self.data.get(name)
        if value is not None and not isinstance(value, bool):
            raise self.wrong(name, "true, false or null")
        return value

    def word(self, name: str, kinds: type[_Word]) -> _Word:
        try:
            return kinds(str(self.data.get(name)))
        except ValueError:
            raise self.wrong(name, " or ".join(repr(kind.value) for kind in kinds)) from None


def _recording(fields: _Fields) -> Recording:
    compass = fields.text("compass")
    return Recording(
        sha256=fields.text("sha256") or "",
        sample_rate_hz=round(fields.needed("sample_rate_hz")),
        duration_s=fields.needed("duration_s"),
        kind=fields.word("kind", Kind),
        analyser=fields.text("analyser") or "",
        reference_a4_hz=fields.needed("reference_a4_hz"),
        warnings=fields.texts("warnings"),
        compass=None if compass is None else Compass.parse(compass),
        missing_keys=tuple(key_from_name(name) for name in fields.texts("missing")),
        is_partial=fields.flag("partial_result") or False,
    )


def _note(fields: _Fields, kind: Kind) -> Note:
    key = fields.number("key")
    if key is not None and not (key.is_integer() and LOWEST_KEY <= key <= HIGHEST_KEY):
        raise fields.wrong("key", f"a key number, {LOWEST_KEY} to {HIGHEST_KEY}")
    damping = fields.optional_part("damping")
    was_heard = fields.number("onset_s") is not None or fields.number("end_s") is not None
    return Note(
        key=None if key is None else int(key),
        onset_s=fields.needed("onset_s") if was_heard else 0.0,
        end_s=fields.needed("end_s") if was_heard else 0.0,
        f0_hz=fields.measured("f0_hz"),
        inharmonicity_b=fields.measured("inharmonicity_b"),
        cents_from_et=fields.measured("cents_from_et"),
        pitch_cents=fields.measured("pitch_cents"),
        partials=fields.items("partials", _partial),
        brightness=fields.measured("brightness"),
        level_db=fields.pair("level_db", "level_db_se"),
        knock_db=fields.measured("knock_db"),
        sustain_db_per_s=fields.measured("sustain_db_per_s"),
        singing_s=fields.measured("singing_s"),
        unison=_unison(fields),
        damping=None if damping is None else _damping(damping),
        plucks=None if fields.data.get("plucks") is None else fields.items("plucks", _pluck),
        cannot_tell=_own_reasons(fields.texts("cannot_tell"), kind),
        notices=fields.texts("notices"),
    )


def _own_reasons(reasons: tuple[str, ...], kind: Kind) -> tuple[str, ...]:
    """Return the reasons of the note itself, without those that writing adds for every other way of playing."""
    added = tuple(f"listen with kind {other.value}" for other in Kind if other is not kind)
    return tuple(reason for reason in reasons if not reason.endswith(added))


def _partial(fields: _Fields) -> Partial:
    decay = fields.optional_part("decay_db_per_s") or _Fields({}, fields.at("decay_db_per_s"))
    return Partial(
        n=round(fields.needed("n")),
        f_hz=fields.needed_measured("f_hz"),
        level_db=fields.pair("level_db", "level_db_se") or Measured(fields.needed("level_db"), 0.0),
        decay_db_per_s=Decay(
            early=decay.pair("early", "early_se"),
            late=decay.pair("late", "late_se"),
            crossing_s=decay.measured("crossing_s"),
            crossing_db=decay.measured("crossing_db"),
        ),
        modes=fields.items("modes", _mode),
        law_cents=fields.number("law_cents"),
        in_law=fields.flag("in_law") or False,
    )


def _mode(fields: _Fields) -> Mode:
    return Mode(
        f_hz=fields.needed_measured("f_hz"),
        decay_db_per_s=Measured(fields.needed("decay_db_per_s"), fields.number("decay_db_per_s_se") or 0.0),
        level_db=fields.needed("level_db"),
    )


def _unison(fields: _Fields) -> Unison | None:
    part = fields.optional_part("unison")
    if part is None:
        return None
    has_strings = fields.data.get("strings") is not None
    return Unison(
        verdict=part.word("verdict", UnisonVerdict),
        beats=part.items("beats_hz", _beat),
        string_f0_hz=fields.items("strings", lambda one: one.needed_measured("f0_hz")) if has_strings else None,
        spread_cents=fields.measured("unison_spread_cents"),
        rests_on=part.text("rests_on"),
        is_false_beat=part.flag("false_beat"),
    )


def _beat(fields: _Fields) -> Beat:
    return Beat(
        partial=round(fields.needed("partial")),
        rate_hz=fields.needed_measured("rate_hz"),
        depth_db=fields.needed("depth_db"),
    )


def _damping(fields: _Fields) -> Damping:
    return Damping(
        verdict=fields.word("verdict", DamperVerdict),
        lands_s=fields.pair("lands_s", "lands_s_se"),
        t60_s=fields.pair("t60_s", "t60_s_se"),
        partials=fields.items("partials", _damped_partial),
        after_ring_hz=fields.numbers("after_ring_hz"),
    )


def _damped_partial(fields: _Fields) -> DampedPartial:
    return DampedPartial(
        n=round(fields.needed("n")),
        decay_db_per_s=fields.pair("decay_db_per_s", "decay_db_per_s_se"),
        leaks=fields.flag("leaks"),
        confidence=0.5 if fields.number("confidence") is None else fields.needed("confidence"),
        free_db_per_s=fields.pair("free_db_per_s", "free_db_per_s_se"),
    )


def _pluck(fields: _Fields) -> Pluck:
    return Pluck(
        string=fields.word("string", StringPlace),
        at_s=fields.number("at_s"),
        is_touched=fields.flag("touched"),
        confidence=fields.needed("confidence"),
    )
