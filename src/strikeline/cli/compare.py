"""``strikeline compare``: two recordings of one piano in, what changed out."""

from __future__ import annotations

from pathlib import Path

import click

from strikeline.cli.options import Asked, sound_options
from strikeline.cli.outputs import keep_inputs
from strikeline.cli.progress import progress_bar
from strikeline.cli.results import json_option

_FILE = click.Path(readable=False, path_type=Path)


@click.command()
@click.argument("before", type=_FILE)
@click.argument("after", type=_FILE)
@click.option(
    "--again-before",
    type=_FILE,
    multiple=True,
    metavar="FILE",
    help="The first pass played again with no work in between: it measures what repeats. May be given several times.",
)
@click.option(
    "--again-after", type=_FILE, multiple=True, metavar="FILE", help="The same for the second pass, after the work."
)
@click.option("--out", type=click.Path(path_type=Path), metavar="DIR", help="Folder for a sheet of the comparison.")
@click.option("--title", metavar="TEXT", help="Heading of the sheet; the names of both files when left out.")
@json_option
@sound_options
def compare(
    before: Path,
    after: Path,
    again_before: tuple[Path, ...],
    again_after: tuple[Path, ...],
    out: Path | None,
    title: str | None,
    json_path: Path | None,
    asked: Asked,
) -> int:
    """Say what changed in a piano from BEFORE to AFTER, note by note, and whether it is more than repeats by itself.

    Each is a sound, or the JSON that strikeline listen --json wrote of one. Prints what changed in words; --out makes
    DIR if needed and puts comparison.html, comparison.pdf and comparison.json into it.
    """
    from strikeline import bootstrap

    keep_inputs(json_path, before, after, *again_before, *again_after)
    if out is not None:
        bootstrap.make_folder(out)
    with progress_bar("Listening to before and after") as progress:
        comparison = bootstrap.compare(
            before,
            after,
            again_before=again_before,
            again_after=again_after,
            kind=asked.kind,
            note=asked.note,
            notes=asked.notes,
            n_strings=asked.n_strings,
            compass=asked.compass,
            a4_hz=asked.a4_hz,
            progress=progress,
        )
    if json_path is not None and str(json_path) == "-":
        click.echo(bootstrap.comparison_text(comparison), nl=False)
    else:
        from strikeline.cli.comparison_table import comparison_table
        from strikeline.cli.table import terminal_width

        click.echo(comparison_table(comparison, width=terminal_width()))
        if json_path is not None:
            bootstrap.write_comparison(comparison, json_path)
            click.echo(f"Written: {json_path}", err=True)
    if out is not None:
        files = bootstrap.make_comparison_sheet(
            comparison, out_dir=out, title=title or f"{before.stem} to {after.stem}"
        )
        is_err = json_path is not None and str(json_path) == "-"
        click.echo(f"Page:    {files.html}\nPrint:   {files.pdf}\nNumbers: {files.json}", err=is_err)
    return 0
