"""``strikeline string``: one string's measurements in, its tension, breaking share and inharmonicity out."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

import click

from strikeline.cli.options import read_hz
from strikeline.cli.results import check_outputs, give, json_option

METALS: Final = ("steel", "iron", "copper", "brass")
GRADES: Final = {"a228": "ASTM A228", "sm": "EN 10270-1 SM", "sh": "EN 10270-1 SH", "tested": "piano wire as tested"}
"""Short names of the grades of modern wire."""

GAUGE_OPTION: Final = click.option(
    "--gauge",
    type=click.Choice(["thou", "metric"]),
    help="What table wire numbers belong to: 2N + 5 thousandths of an inch, or steps of 0.025 mm.",
)
YEAR_OPTION: Final = click.option(
    "--year", type=click.IntRange(1700, 2100), help="Year of the piano: chooses the strength of its original wire."
)
GRADE_OPTION: Final = click.option(
    "--grade",
    type=click.Choice(sorted(GRADES)),
    help="Strength of new wire: ASTM A228, EN 10270-1 SM or SH, or piano wire as technicians broke it.",
)
_OPTIONS: Final = (
    click.option("--length", required=True, metavar="LENGTH", help="Speaking length, such as 925mm or '36 5/8 in'."),
    click.option(
        "--diameter", "--core", "diameter", required=True, metavar="SIZE", help="Wire, or the core of a wound string."
    ),
    click.option("--material", type=click.Choice(METALS), default="steel", show_default=True, help="Of wire or core."),
    click.option("--wrap", metavar="SIZE", help="Wire of the winding: half of what it adds to the diameter."),
    click.option(
        "--wrap-material", type=click.Choice(METALS), default="copper", show_default=True, help="Of the winding."
    ),
    click.option("--outside", metavar="SIZE", help="Diameter over the finished winding, in place of --wrap."),
    click.option("--second-wrap", metavar="SIZE", help="Wire of a second winding on the first."),
    click.option(
        "--second-wrap-material", type=click.Choice(METALS), default="copper", show_default=True, help="Of the second."
    ),
    click.option("--second-outside", metavar="SIZE", help="Diameter over the second winding."),
    click.option(
        "--hexagonal", "is_hexagonal", is_flag=True, help="The core is hexagonal; --core is across its flats."
    ),
    click.option("--bare", metavar="LENGTHS", help="Bare core at the agraffe and at the bridge, such as 12mm,10mm."),
    click.option("--second-inset", metavar="LENGTHS", help="How much farther in the second winding begins."),
    click.option("--packing", metavar="SHARE", help="Share of its ring that a winding fills; 0.785 for round wire."),
    GAUGE_OPTION,
    click.option("--note", metavar="NOTE", help="Note it sounds in equal temperament, such as A4."),
    click.option("--a4", "a4_hz", type=read_hz, default=440.0, show_default=True, metavar="HZ", help="With --note."),
    click.option("--hz", metavar="HZ", help="f0 it sounds, in place of --note."),
    click.option("--tension", metavar="FORCE", help="Its tension, in place of a pitch: gives the pitch."),
    YEAR_OPTION,
    GRADE_OPTION,
    click.option("--section-lost", metavar="SHARE", help="Share of the section that rust has taken, as measured."),
    click.option("--want-tension", metavar="FORCE", help="Find the diameter for this tension, such as 160lbf."),
    click.option("--want-b", metavar="B", help="Find the diameter for this inharmonicity, such as 4e-4."),
    click.option(
        "--change",
        type=click.Choice(["core", "wrap"]),
        help="Which diameter may change: by default the winding for a tension, the core for a B.",
    ),
    click.option(
        "--partials",
        "n_partials",
        type=click.IntRange(3, 100),
        default=20,
        show_default=True,
        help="Partials 1 to this make up f0 and B of a string with bare ends.",
    ),
    json_option,
)


def _with_options(command: Callable[..., int]) -> Callable[..., int]:
    for option in reversed(_OPTIONS):
        command = option(command)
    return command


@click.command("string")
@_with_options
def string(json_path: Path | None, grade: str | None, gauge: str | None, change: str | None, **texts: Any) -> int:
    """Say what one string does: tension, share of breaking load, stretch, impedance and inharmonicity.

    \b
      strikeline string --length "15 7/8 in" --diameter 0.95mm --note A4
      strikeline string --length 1120mm --core 1.05mm --wrap 0.8mm --bare 18mm,22mm --note A1

    Sizes are read with unit, fraction and ± as people write them; without ± a micrometer counts as good to 0.01 mm
    and a tape to 1 mm.
    """  # noqa: D301  # \b is click's own mark for a paragraph that keeps its lines
    from strikeline.cli.one_string_table import string_table
    from strikeline.cli.table import terminal_width
    from strikeline.physics.string_choice import Part
    from strikeline.physics.wire_gauge import GaugeSystem
    from strikeline.workshop.one_string import StringAsked, calculate_string

    check_outputs(json_path, None)
    asked = StringAsked(
        gauge=None if gauge is None else GaugeSystem(gauge),
        grade=chosen_grade(grade),
        change=None if change is None else Part(change),
        **texts,
    )
    result = calculate_string(asked)
    return give(result.to_json(), table=lambda: string_table(result, width=terminal_width()), json_path=json_path)


def chosen_grade(name: str | None) -> Any:
    """Return the wire grade of a short name."""
    from strikeline.physics.wire_strength import WireGrade

    return None if name is None else WireGrade(GRADES[name])
