"""``strikeline seat``: keys and player in, seat, room for the legs, stool and music desk out."""

from __future__ import annotations

from pathlib import Path

import click

from strikeline.cli.results import check_outputs, give, json_option


@click.command()
@click.option("--keys", required=True, metavar="LENGTH", help="Top of a natural above the floor.")
@click.option("--elbow", metavar="LENGTH", help="Of the player: seat to elbow, arm hanging.")
@click.option("--stature", metavar="LENGTH", help="Of the player, where --elbow was not measured: it tells little.")
@click.option("--keybed", metavar="LENGTH", help="Clear height under the keybed.")
@click.option("--thigh", metavar="LENGTH", help="Of the player: thickness of the leg where it goes beneath the keys.")
@click.option("--knee", metavar="LENGTH", help="Of the player: floor to the hollow of the knee, barefoot.")
@click.option("--stool", metavar="LENGTH", help="Height of the seat that is there, the player on it.")
@click.option("--splay", metavar="ANGLE", help="Angle of its legs from upright, for what comes off them.")
@click.option(
    "--choose", multiple=True, metavar="RANGE", help="A stool to choose, such as 48-58cm. May be given several times."
)
@click.option("--cups", metavar="LENGTH", help="What castor cups raise, or would raise, the piano by.")
@click.option(
    "--desk", "desks", multiple=True, metavar="LENGTH", help="Music desk above the keys. May be given several times."
)
@click.option("--eye", metavar="LENGTH", help="Of the player: seat to eye.")
@click.option("--distance", metavar="LENGTH", help="Eye to page, level; 65 cm where it is not given.")
@json_option
def seat(
    *,
    keys: str,
    elbow: str | None,
    stature: str | None,
    keybed: str | None,
    thigh: str | None,
    knee: str | None,
    stool: str | None,
    splay: str | None,
    choose: tuple[str, ...],
    cups: str | None,
    desks: tuple[str, ...],
    eye: str | None,
    distance: str | None,
    json_path: Path | None,
) -> int:
    """Say how high a player sits at these keys, whether the legs fit, which stool serves and which desk.

    Lengths have their unit (74cm, 29 in); without one they are millimetres.
    """
    from strikeline.workshop.seat import advise_seat

    check_outputs(json_path, None)
    advice = advise_seat(
        keys=keys,
        elbow=elbow,
        stature=stature,
        keybed=keybed,
        thigh=thigh,
        knee=knee,
        stool=stool,
        splay=splay,
        choose=choose,
        cups=cups,
        desks=desks,
        eye=eye,
        distance=distance,
    )

    def table() -> str:
        from strikeline.cli.seat_table import seat_table
        from strikeline.cli.table import terminal_width

        return seat_table(advice, width=terminal_width())

    return give(advice.to_json(), table=table, json_path=json_path)
