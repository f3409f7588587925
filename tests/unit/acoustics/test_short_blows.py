"""Whether a pass was played as short blows."""

from __future__ import annotations

from strikeline.acoustics.listening import Note
from strikeline.acoustics.short_blows import short_blows_warning


def blow(key: int, *, span_s: float, heard_s: float | None = None) -> Note:
    return Note(key=key, onset_s=float(key), end_s=key + span_s, heard_s=heard_s)


def test_notes_let_go_at_once_are_called_short_blows() -> None:
    notes = [blow(key, span_s=0.26) for key in range(40, 48)]
    assert short_blows_warning(notes) == "these sound like short blows; listen with --kind staccato"
    assert short_blows_warning(notes[1:]) is None, "seven notes are too few"
    assert short_blows_warning([blow(key, span_s=0.36) for key in range(40, 48)]) is None


def test_a_note_counts_up_to_its_damper_though_the_next_blow_is_far() -> None:
    def damped(after_s: float) -> list[Note]:
        return [blow(key, span_s=1.4, heard_s=after_s) for key in range(40, 48)]

    assert short_blows_warning(damped(0.2))
    assert short_blows_warning(damped(0.45)) is None


def test_some_short_notes_among_long_ones_and_a_short_treble_are_no_short_blows() -> None:
    mixed = [blow(key, span_s=0.2 if key % 2 else 1.5) for key in range(40, 50)]
    assert short_blows_warning(mixed) is None
    assert short_blows_warning([blow(key, span_s=0.2) for key in range(61, 80)]) is None
