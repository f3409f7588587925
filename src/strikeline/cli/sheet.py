"""``strikeline sheet``: one recording in, the condition sheet out."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from strikeline.cli.listen import hear, keep_partial
from strikeline.cli.options import Asked, sound_options

if TYPE_CHECKING:
    from strikeline.bootstrap import SheetFiles


@click.command()
@click.argument("file", type=click.Path(readable=False, path_type=Path))
@click.option("--out", type=click.Path(path_type=Path), required=True, metavar="DIR", help="Folder for the sheet.")
@click.option("--title", metavar="TEXT", help="Heading of the sheet; the file's name when left out.")
@sound_options
def sheet(file: Path, out: Path, title: str | None, asked: Asked) -> int:
    """Write the condition sheet of FILE: a page, the same as PDF, and the numbers as JSON.

    Makes DIR if needed and puts sheet.html, sheet.pdf and listening.json into it; prints what the sheet says in short.
    """
    from strikeline import bootstrap
    from strikeline.cli.plain_text import bulleted, typed
    from strikeline.cli.table import terminal_width
    from strikeline.workshop.listening import Interrupted

    bootstrap.make_folder(out)
    try:
        listening = hear(file, asked)
    except Interrupted as stopped:
        return keep_partial(stopped.so_far, out / "listening.json")
    files = bootstrap.make_sheet(listening, out_dir=out, title=title or file.stem)
    width = terminal_width()
    lines = [*bulleted("In short:", [typed(one) for one in files.in_short], width)]
    lines += bulleted("Warnings:", [typed(one) for one in files.warnings], width)
    click.echo("\n".join([*lines[1:], ""]))
    tell_files(files)
    return 0


def tell_files(files: SheetFiles) -> None:
    """Say where the sheet is."""
    click.echo(f"Page:    {files.html}")
    click.echo(f"Print:   {files.pdf}")
    click.echo(f"Numbers: {files.json}")
