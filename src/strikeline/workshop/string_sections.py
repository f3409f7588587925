"""Where the strings of a piano change, from what a pass told or from looking."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from strikeline.acoustics.evenness import judge_evenness
from strikeline.acoustics.evenness_scale import ChangeKind
from strikeline.acoustics.listening import Kind, Listening
from strikeline.errors import InputError
from strikeline.keyboard import key_from_name


@dataclass(frozen=True, slots=True, kw_only=True)
class StringSections:
    """The changes of the strings that B may jump at."""

    break_after: int | None = None
    """Last key on the bass bridge; ``None`` where it was not found."""
    last_wound_key: int | None = None
    """Last key with wound strings."""
    others_after: tuple[int, ...] = ()
    """Last keys below further changes: of gauge, or of the number of strings."""

    @property
    def ends_after(self) -> tuple[int, ...]:
        """Last keys below each change, ascending."""
        ends = {self.break_after, self.last_wound_key, *self.others_after} - {None}
        return tuple(sorted(end for end in ends if end is not None))

    def name_of(self, key: int) -> str:
        """Return what the strings of a key are called, such as "wound bass"."""
        if self.break_after is not None and key <= self.break_after:
            wound = self.last_wound_key is not None and key <= self.last_wound_key
            return "wound bass" if wound else "bass"
        if self.last_wound_key is None:
            return "whole compass" if self.break_after is None else "tenor and treble"
        if key <= self.last_wound_key:
            return "wound" if self.break_after is None else "wound tenor"
        return "plain"

    def seen(self, *, break_after: int | None, last_wound_key: int | None) -> StringSections:
        """Return the sections with what was seen on the piano itself in place of what was heard.

        Parameters
        ----------
        break_after, last_wound_key : int or None
            As the fields; ``None`` leaves what there is.
        """
        if break_after is None and last_wound_key is None:
            return self
        seen = {break_after, last_wound_key} - {None}
        return StringSections(
            break_after=self.break_after if break_after is None else break_after,
            last_wound_key=self.last_wound_key if last_wound_key is None else last_wound_key,
            others_after=tuple(end for end in self.others_after if end not in seen),
        )


def sections_in(data: Mapping[str, Any]) -> StringSections | None:
    """Return the changes that stand in the JSON of a listening; ``None`` if it has no word on them.

    Raises
    ------
    InputError
        If what stands there is no list of changes.
    """
    evenness = data.get("evenness")
    if evenness is None:
        return None
    try:
        changes = [
            (key_from_name(str(one["after"])), ChangeKind(one["change"]), one.get("ends_winding"))
            for one in evenness["change_points"]
        ]
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise InputError(
            "evenness.change_points is no list of changes; the file is damaged", name="evenness"
        ) from error
    return _sections(changes)


def find_sections(listening: Listening) -> StringSections:
    """Return the changes that can be heard in a pass; none for other kinds of playing."""
    if listening.recording.kind is not Kind.PASS:
        return StringSections()
    found = judge_evenness(listening).change_points
    return _sections([(one.after_key, one.kind, one.ends_winding) for one in found])


def _sections(changes: list[tuple[int, ChangeKind, bool | None]]) -> StringSections:
    by_kind = {kind: after for after, kind, _ in changes}
    winding = by_kind.get(ChangeKind.WINDING) or next((after for after, _, ends in changes if ends), None)
    named = {by_kind.get(ChangeKind.BREAK), winding}
    return StringSections(
        break_after=by_kind.get(ChangeKind.BREAK),
        last_wound_key=winding,
        others_after=tuple(after for after, _, _ in changes if after not in named),
    )
