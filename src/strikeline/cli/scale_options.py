"""Options that say what a scale is judged with: pitch, wire, tools and limits."""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Final

import click

from strikeline.cli.options import read_hz, read_note

if TYPE_CHECKING:
    from strikeline.physics.scale_entry import ReadingErrors
    from strikeline.physics.wire_strength import WireGrade
    from strikeline.workshop.scale import ScaleChoices

_PERCENT: Final = 100.0
_SYSTEM_HELP: Final = (
    "What wire numbers mean, and which sizes can be bought: 2N + 5 thousandths of an inch, or steps of 0.025 mm."
)
_OPTIONS: Final = (
    click.option("--changes", type=click.IntRange(0), metavar="N", help="Most notes a proposal may give another wire."),
    click.option("--wound-limit", metavar="%", help="Share of the breaking load for wound strings; 55 % if left out."),
    click.option("--plain-limit", metavar="%", help="Share of the breaking load for plain wire; 70 % if left out."),
    click.option("--tape", metavar="±MM", help="Error of one reading of length; 0.5 mm if left out."),
    click.option("--micrometer", metavar="±MM", help="Error of one reading of wire; 0.01 mm if left out."),
    click.option("--break", "break_name", metavar="NOTE", help="Highest note below the break; found from the table."),
    click.option("--compass", "compass_text", metavar="LOWEST-HIGHEST", help="Keys the piano has, such as A0-A7."),
    click.option(
        "--gauge-system",
        type=click.Choice(("thou", "metric")),
        default="thou",
        show_default=True,
        help=_SYSTEM_HELP,
    ),
    click.option("--grade", metavar="GRADE", help="Grade of the wire instead of the year, such as 'EN 10270-1 SM'."),
    click.option("--year", type=int, metavar="YEAR", help="Year of the wire, for its strength; modern if left out."),
    click.option("--a4", "a4_hz", type=read_hz, default=440.0, show_default=True, metavar="HZ", help="Pitch of A4."),
)
"""The last one is shown first."""
_NAMES: Final = (
    "a4_hz",
    "year",
    "grade",
    "gauge_system",
    "compass_text",
    "break_name",
    "micrometer",
    "tape",
    "plain_limit",
    "wound_limit",
    "changes",
)


def scale_options(command: Callable[..., int]) -> Callable[..., int]:
    """Add the options of a scale; the command gets them read, as `choices`."""

    @functools.wraps(command)
    def with_choices(*args: Any, **options: Any) -> int:
        asked = {name: options.pop(name) for name in _NAMES}
        return command(*args, choices=_choices(**asked), **options)

    for option in _OPTIONS:
        with_choices = option(with_choices)
    return with_choices


def _choices(
    *,
    a4_hz: float,
    year: int | None,
    grade: str | None,
    gauge_system: str,
    compass_text: str | None,
    break_name: str | None,
    micrometer: str | None,
    tape: str | None,
    plain_limit: str | None,
    wound_limit: str | None,
    changes: int | None,
) -> ScaleChoices:
    """Return what the command line says, read."""
    from strikeline.keyboard import Compass
    from strikeline.physics.scale_weak import PLAIN_LIMIT, WOUND_LIMIT
    from strikeline.physics.wire_gauge import GaugeSystem
    from strikeline.workshop.scale import ScaleChoices

    return ScaleChoices(
        a4_hz=a4_hz,
        grade=_grade(year, grade),
        system=GaugeSystem(gauge_system),
        errors=_errors(micrometer, tape),
        compass=None if compass_text is None else Compass.parse(compass_text),
        break_after=read_note(break_name),
        plain_limit=_share("plain-limit", plain_limit, PLAIN_LIMIT),
        wound_limit=_share("wound-limit", wound_limit, WOUND_LIMIT),
        most_changes=changes,
    )


def _grade(year: int | None, grade: str | None) -> WireGrade:
    from strikeline.errors import InputError
    from strikeline.physics.wire_strength import WireGrade, grade_for_year

    if grade is None:
        return grade_for_year(year)
    if year is not None:
        raise InputError("--year and --grade both say what the wire is; give one of them", name="grade", value=grade)
    by_name = {one.value.casefold(): one for one in WireGrade}
    if grade.casefold() not in by_name:
        raise InputError.of("grade", grade, f"one of {', '.join(one.value for one in WireGrade)}")
    return by_name[grade.casefold()]


def _errors(micrometer: str | None, tape: str | None) -> ReadingErrors:
    from dataclasses import replace

    from strikeline.physics.scale_entry import ReadingErrors
    from strikeline.written import read_quantity

    errors = ReadingErrors()
    if micrometer is not None:
        half = read_quantity(
            micrometer.lstrip("±+ "), name="micrometer", unit="mm", low=0.0, high=0.2, what="a micrometer's error"
        )
        errors = replace(errors, diameter_mm=half.value)
    if tape is not None:
        half = read_quantity(tape.lstrip("±+ "), name="tape", unit="mm", low=0.0, high=20.0, what="a tape's error")
        errors = replace(errors, length_mm=half.value)
    return errors


def _share(name: str, text: str | None, usual: float) -> float:
    from strikeline.written import read_quantity

    if text is None:
        return usual
    return read_quantity(text, name=name, unit="%", low=1.0, high=99.0, what="a breaking share").value / _PERCENT
