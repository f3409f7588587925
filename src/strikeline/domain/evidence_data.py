"""Evidence as plain data and back, for databases and exports."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from typing import Any, Final

from strikeline.acoustics.listening import Kind
from strikeline.domain.evidence import Evidence, Note, OtherEvidence, RecordedSound
from strikeline.domain.observation import Observation
from strikeline.domain.reading import Reading
from strikeline.errors import InputError, StoreError
from strikeline.measured import Measured
from strikeline.plain_data import plain_data

_READING: Final = "strikeline.reading/1"
_RECORDED: Final = "strikeline.recorded_sound/1"
_OBSERVATION: Final = "strikeline.observation/1"
_NOTE: Final = "strikeline.note/1"


def evidence_data(evidence: Evidence) -> tuple[str, dict[str, Any]]:
    """Return the schema of a piece of evidence, and it as plain data.

    Raises
    ------
    InputError
        If evidence of another form calls itself by the name of one of ours.

    Examples
    --------
    >>> evidence_data(Note(text="The lid sticks."))
    ('strikeline.note/1', {'text': 'The lid sticks.'})
    """
    match evidence:
        case Reading():
            return _READING, _plain_fields(evidence)
        case Observation():
            return _OBSERVATION, _plain_fields(evidence)
        case RecordedSound():
            moment = None if evidence.recorded_at is None else evidence.recorded_at.isoformat()
            words = ("sha256", "recorded_by", "microphone", "file_name", "remarks")
            kept = {name: getattr(evidence, name) for name in words}
            return _RECORDED, {"kind": evidence.kind.value, "recorded_at": moment} | kept
        case Note():
            return _NOTE, {"text": evidence.text}
        case OtherEvidence():
            if evidence.schema in _BACK:
                raise InputError.of("schema", evidence.schema, "another form than one that has a record of its own")
            return evidence.schema, {"data": dict(evidence.data), "photographs": list(evidence.photographs)}


def _plain_fields(evidence: Reading | Observation) -> dict[str, Any]:
    data = plain_data(evidence)
    return {name: data[name] for name in type(evidence).__dataclass_fields__}


def evidence_from_data(schema: str, data: Mapping[str, Any]) -> Evidence:
    """Return what `evidence_data` was given.

    Parameters
    ----------
    schema : str
        The schema.
    data : mapping
        The plain data.

    Raises
    ------
    StoreError
        If the data are not of this schema; a schema that is not ours comes back as `OtherEvidence`.
    """
    try:
        return _BACK.get(schema, _seen)(schema, data)
    except (AttributeError, KeyError, TypeError, ValueError) as error:
        raise StoreError(
            f"a piece of evidence of form {schema} is damaged ({error}); restore the last backup"
        ) from error


def _reading(_schema: str, data: Mapping[str, Any]) -> Evidence:
    fields = dict(data)
    return Reading(**(fields | {"value": Measured(**fields["value"])}))


def _observation(_schema: str, data: Mapping[str, Any]) -> Evidence:
    fields = dict(data)
    lists = {name: tuple(fields[name]) for name in ("seen", "not_seen", "photographs")}
    return Observation(
        **(fields | lists | {"measures": {name: Measured(**one) for name, one in fields["measures"].items()}})
    )


def _recorded(_schema: str, data: Mapping[str, Any]) -> Evidence:
    moment = data["recorded_at"]
    at = None if moment is None else datetime.fromisoformat(moment).astimezone(UTC)
    return RecordedSound(**(dict(data) | {"kind": Kind(data["kind"]), "recorded_at": at}))


def _note(_schema: str, data: Mapping[str, Any]) -> Evidence:
    return Note(**data)


def _seen(schema: str, data: Mapping[str, Any]) -> Evidence:
    return OtherEvidence(schema=schema, data=data["data"], photographs=tuple(data["photographs"]))


_BACK: Final[Mapping[str, Callable[[str, Mapping[str, Any]], Evidence]]] = {
    _READING: _reading,
    _RECORDED: _recorded,
    _OBSERVATION: _observation,
    _NOTE: _note,
}
