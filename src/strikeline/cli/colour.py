"""``strikeline colour``: photographs that show a card in, colours and how far they lie apart out."""

from __future__ import annotations

from pathlib import Path

import click

from strikeline.cli.results import check_outputs, give, json_option

_FILE = click.Path(path_type=Path, dir_okay=False)


@click.command()
@click.argument("photo", type=_FILE)
@click.option(
    "--card",
    "cards",
    multiple=True,
    metavar="NAME@X0,Y0,X1,Y1",
    help="Card in the picture: grey18@… is a grey of 18 % reflectance, other names are patches of --card-values, "
    "chart@… is the whole chart between its corners. May be given several times.",
)
@click.option(
    "--patch",
    "patches",
    multiple=True,
    metavar="NAME@X0,Y0,X1,Y1",
    help="Patch to be told; the first one is compared with each other. May be given several times.",
)
@click.option(
    "--places",
    "places_path",
    type=_FILE,
    metavar="CSV",
    help="Cards and patches from a table instead: what (card or patch), name, x0, y0, x1, y1, photo (1 or 2).",
)
@click.option("--against", "against", type=_FILE, metavar="PHOTO", help="Second photograph, such as after the work.")
@click.option("--card-against", "cards_against", multiple=True, metavar="NAME@…", help="Card in the second photograph.")
@click.option(
    "--patch-against",
    "patches_against",
    multiple=True,
    metavar="NAME@…",
    help="Patch in the second photograph, under the name it has in the first.",
)
@click.option(
    "--same-setup", "is_same_setup", is_flag=True, help="Both photographs: same camera, same card, same light."
)
@click.option(
    "--card-values",
    "values_path",
    type=_FILE,
    metavar="CSV",
    help="Values of the card: patch, L, a, b or patch, R, G, B; and row, column to mark it as a whole.",
)
@click.option(
    "--card-white",
    type=click.Choice(["D50", "D65"]),
    default="D50",
    show_default=True,
    help="Light that the card's L, a, b are given for.",
)
@json_option
def colour(
    *,
    photo: Path,
    cards: tuple[str, ...],
    patches: tuple[str, ...],
    places_path: Path | None,
    against: Path | None,
    cards_against: tuple[str, ...],
    patches_against: tuple[str, ...],
    is_same_setup: bool,
    values_path: Path | None,
    card_white: str,
    json_path: Path | None,
) -> int:
    """Tell colours of patches in PHOTO, and how far they lie apart, by a grey or colour card that it shows.

    \b
    Places are shares of the picture, from its upper left corner:
      strikeline colour lid.jpg --card grey18@0.05,0.80,0.15,0.95
          --patch hidden@0.30,0.20,0.40,0.35 --patch faded@0.60,0.20,0.70,0.35

    Without a card nothing is told: light, camera and wood cannot be kept apart.
    """  # noqa: D301  # \b is click's own mark for a paragraph that keeps its lines
    from strikeline.errors import InputError
    from strikeline.media.pictures import read_picture
    from strikeline.media.text_file import read_text
    from strikeline.workshop.colour import PhotographAsked, read_colours
    from strikeline.workshop.colour_places import read_marks

    check_outputs(json_path, None, photo, against, values_path, places_path)
    if against is None and (cards_against or patches_against or is_same_setup):
        raise InputError(
            "--card-against, --patch-against and --same-setup belong to a second photograph; give --against",
            name="against",
        )
    if places_path is not None:
        first, second = read_marks(read_text(places_path))
        cards, patches = (*cards, *first.cards), (*patches, *first.patches)
        cards_against, patches_against = (*cards_against, *second.cards), (*patches_against, *second.patches)
    asked = [PhotographAsked(photograph=read_picture(photo), cards=cards, patches=patches)]
    if against is not None:
        # Marks of the first hold for the second, too, where it has none of its own: a camera on a tripod.
        asked.append(
            PhotographAsked(
                photograph=read_picture(against), cards=cards_against or cards, patches=patches_against or patches
            )
        )
    report = read_colours(
        asked,
        card_values=None if values_path is None else read_text(values_path),
        card_white=card_white,
        is_same_setup=is_same_setup,
    )

    def table() -> str:
        from strikeline.cli.colour_table import colour_table
        from strikeline.cli.table import terminal_width

        return colour_table(report, width=terminal_width())

    return give(report.to_json(), table=table, json_path=json_path)
