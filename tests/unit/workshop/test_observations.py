"""Observations from tables."""

import pytest

from strikeline.domain.observation_kinds import Grade
from strikeline.errors import InputError
from strikeline.workshop.entry_table import EntryError
from strikeline.workshop.observations import content_hash, read_look

ABC = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
"""SHA-256 of b"abc": the example of FIPS 180-4 (from memory)."""


def test_a_table_is_read_with_signs_sizes_places_and_photographs() -> None:
    heads = "What;Place;Note;Seen;Not seen;Length;Width;Photo"
    text = f"{heads}\nboard crack;rib 4;C6;buzz;rib loose;1 ft;0,5 ± 0,1;{ABC} + a.jpg\n"
    look = read_look(text, hash_of=lambda name: content_hash(name.encode()))
    (one,) = look.judged
    seen = one.observation
    assert (seen.where, seen.key, seen.seen, seen.not_seen) == ("rib 4", 64, ("buzz",), ("rib_loose",))
    assert seen.measures["length"].value == pytest.approx(304.8)
    assert seen.measures["width"].se == pytest.approx(0.1 / 1.96)
    assert seen.photographs == (ABC, content_hash(b"a.jpg"))
    assert one.grade is Grade.NEEDS_WORK
    data = look.to_json()
    assert data["schema"] == "strikeline.look/1"
    assert data["observations"][0]["photographs"][0] == ABC
    assert content_hash(b"abc") == ABC


def test_all_mistakes_are_told_with_line_and_column() -> None:
    text = (
        "kind,seen,not seen,width,number,photo\n"
        "board crack,buzz,buzz,,,\n"
        "board crack,melts,,5 kg,,\n"
        "plate crack,,,2,,\n"
        "loose bridge pins,,,,2.5,nothing\n"
    )
    with pytest.raises(EntryError) as caught:
        read_look(text)
    told = "\n".join(caught.value.mistakes)
    for part in (
        "line 2, not seen",
        "line 3, seen",
        "line 3, width",
        "line 4, width",
        "line 5, number",
        "line 5, photo",
    ):
        assert part in told
    with pytest.raises(EntryError, match=r"line 2, kind: .*did you mean"):
        read_look("kind\nboard crak\n")
    with pytest.raises(InputError, match="no observation"):
        read_look("kind,where\n")


def test_cautions_come_once_in_the_order_of_what_was_seen() -> None:
    look = read_look("kind\nplate crack\ncastor broken\nbridge crack\n")
    assert look.cautions == ("string_tension", "lifting")
    assert len(look.of(Grade.STOPS_WORK)) == 3
