"""``strikeline ivory``: what is known of an instrument with ivory in, which rule applies as of which day out."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import click

from strikeline.cli.results import check_outputs, give, json_option

_AT_HOME = ("keep", "give", "lend", "repair")
_DEALING = ("buy", "sell", "hire", "part-exchange", "supply")
_PLANS = (*_AT_HOME, *_DEALING, "import", "export", "travel")
_ELEPHANTS = ("elephant", "african-elephant", "asian-elephant")
_MATERIALS = (*_ELEPHANTS, "hippopotamus", "killer-whale", "narwhal", "sperm-whale", "walrus", "not-ivory")


@click.command()
@click.option("--where", type=click.Choice(["uk", "us", "eu"]), required=True, help="Whose law; us is federal law.")
@click.option(
    "--plan",
    type=click.Choice(_PLANS),
    required=True,
    help="What is to be done; to offer is to sell, 'supply' is loose heads or tails, 'travel' is there and back.",
)
@click.option("--material", type=click.Choice(_MATERIALS), help="Of the tops; leave it out where it is not known.")
@click.option("--made", metavar="DATE", help="When it was made: 1908, 1947-03, '1900 to 1910', 'before 1947'.")
@click.option("--imported", metavar="DATE", help="When it came into the country; for one made there, when it was made.")
@click.option("--tops", "n_tops", type=click.IntRange(1, 70), help="Naturals with ivory: estimates mass and share.")
@click.option("--thickness", metavar="LENGTH", help="Of the ivory of a top, with --tops; 1 mm where it is not given.")
@click.option(
    "--volume", metavar="SHARE", help="Ivory's share of the volume of the instrument's material, in per cent."
)
@click.option("--mass", metavar="MASS", help="Of all its ivory.")
@click.option("--business/--no-business", "for_trade", default=None, help="Whether an import or export is business.")
@click.option(
    "--answer",
    "answers",
    multiple=True,
    metavar="NAME=YES|NO",
    help="fixed, main-value, raw, played, listed-repair or certificate, then =yes or =no. May be given several times.",
)
@click.option(
    "--on", "on_day", type=click.DateTime(["%Y-%m-%d"]), metavar="DAY", help="Day of the plan; today where not given."
)
@json_option
def ivory(
    *,
    where: str,
    plan: str,
    material: str | None,
    made: str | None,
    imported: str | None,
    n_tops: int | None,
    thickness: str | None,
    volume: str | None,
    mass: str | None,
    for_trade: bool | None,
    answers: tuple[str, ...],
    on_day: datetime | None,
    json_path: Path | None,
) -> int:
    """Say which rule on ivory applies, as of which day, which paper is needed, and what is still to be asked.

    Guidance, no legal advice: it sends you to the authority that decides. What you leave out counts as not known.
    """
    from strikeline.workshop.ivory import ask_ivory

    check_outputs(json_path, None)
    advice = ask_ivory(
        where=where,
        plan=plan,
        on=(on_day or datetime.now(UTC)).date(),
        material=material,
        made=made,
        imported=imported,
        volume=volume,
        mass=mass,
        n_tops=n_tops,
        thickness=thickness,
        for_trade=for_trade,
        answers=answers,
    )

    def table() -> str:
        from strikeline.cli.ivory_table import ivory_table
        from strikeline.cli.table import terminal_width

        return ivory_table(advice, width=terminal_width())

    return give(advice.to_json(), table=table, json_path=json_path)
