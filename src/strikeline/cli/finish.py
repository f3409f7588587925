"""``strikeline finish``: what is seen on a finish in, the least that mends it, polish and calendar out."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Final

import click

from strikeline.cli.results import check_outputs, give, json_option

TREATMENTS: Final = {
    "clean": "clean",
    "revive": "revive",
    "reamalgamate": "reamalgamate",
    "pad-over": "pad over",
    "strip": "strip and repolish",
}


@click.command()
@click.option(
    "--sees",
    "sights",
    multiple=True,
    metavar="WORD[=SHARE]",
    help="What is seen: dirt, dull, scratches, water-marks, bloom, crackle, thin, worn-through, dark-stain, flaking, "
    "wrong-coating and others; with its share of the surface, such as flaking=5%. May be given several times.",
)
@click.option(
    "--finish",
    "finish_name",
    type=click.Choice(["shellac", "other", "unknown"]),
    default="unknown",
    show_default=True,
    help="By one drop of alcohol on a hidden spot: shellac softens.",
)
@click.option("--original/--refinished", "is_original", default=None, help="Whether it was ever refinished.")
@click.option(
    "--treatment",
    "treatment_name",
    type=click.Choice(sorted(TREATMENTS)),
    help="Plan this one, whatever is advised.",
)
@click.option(
    "--area",
    "areas",
    multiple=True,
    metavar="AREA",
    help="Surface, such as '1.4 m²' or '1400mm x 600mm'; several are added. Then the work is planned.",
)
@click.option("--start", "start_text", metavar="YYYY-MM-DD", help="First day of work; today when left out.")
@click.option("--temperature", default="20C", show_default=True, metavar="T", help="Of room and wood.")
@click.option("--rh", default="50%", show_default=True, metavar="RH", help="Relative humidity.")
@click.option("--cut", type=float, default=2.0, show_default=True, metavar="LB", help="Pounds of shellac to a gallon.")
@click.option(
    "--gallon", type=click.Choice(["us", "uk"]), default="us", show_default=True, help="Whose gallon the cut is of."
)
@click.option("--grams-per-litre", type=float, metavar="G", help="The cut in grams to a litre of alcohol, instead.")
@click.option("--waste", default="20%", show_default=True, metavar="SHARE", help="What rubber, jar and cloths keep.")
@click.option("--every-day", is_flag=True, help="Work on Saturdays and Sundays, too.")
@json_option
def finish(
    *,
    sights: tuple[str, ...],
    finish_name: str,
    is_original: bool | None,
    treatment_name: str | None,
    areas: tuple[str, ...],
    start_text: str | None,
    temperature: str,
    rh: str,
    cut: float,
    gallon: str,
    grams_per_litre: float | None,
    waste: str,
    every_day: bool,
    json_path: Path | None,
) -> int:
    """Say whether to clean, revive, reamalgamate, pad over or strip a polished surface, and plan the work."""
    from strikeline.physics.finish import Gallon, shellac_g_per_l
    from strikeline.physics.finish_stages import Treatment
    from strikeline.workshop.climate import read_humidity, read_temperature
    from strikeline.workshop.finish import PlanAsked, judge_finish, read_waste
    from strikeline.workshop.finish_choice import Finish

    check_outputs(json_path, None)
    asked = None
    if areas:
        asked = PlanAsked(
            areas=areas,
            g_per_l=grams_per_litre if grams_per_litre is not None else shellac_g_per_l(cut, gallon=Gallon(gallon)),
            waste_ratio=read_waste(waste),
            start=_day(start_text),
            temperature_degc=read_temperature(temperature, name="temperature").value,
            rh_pct=read_humidity(rh, name="rh").value,
            works_every_day=every_day,
        )
    report = judge_finish(
        sights,
        finish=Finish(finish_name),
        is_original=is_original,
        treatment=None if treatment_name is None else Treatment(TREATMENTS[treatment_name]),
        asked=asked,
    )

    def table() -> str:
        from strikeline.cli.finish_table import finish_table
        from strikeline.cli.table import terminal_width

        return finish_table(report, width=terminal_width())

    return give(report.to_json(), table=table, json_path=json_path)


def _day(text: str | None) -> dt.date:
    from strikeline.errors import InputError

    if text is None:
        return dt.datetime.now().astimezone().date()
    try:
        return dt.date.fromisoformat(text)
    except ValueError as error:
        raise InputError.of("start", text, "a day such as 2026-12-01") from error
