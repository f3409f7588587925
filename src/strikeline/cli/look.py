"""``strikeline look``: what was seen on board, bridges, frame, pedals and castors in, what it means out."""

from __future__ import annotations

from pathlib import Path

import click

from strikeline.cli.results import check_outputs, give, json_option


@click.command()
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False, allow_dash=True), required=False)
@click.option("--kinds", "is_list_wanted", is_flag=True, help="List what is looked at, how, and the words for signs.")
@json_option
def look(file: Path | None, is_list_wanted: bool, json_path: Path | None) -> int:
    """Say of each observation in FILE whether it is cosmetic, to be watched, needs work, or stops work.

    \b
      kind,where,note,seen,not seen,length,width,photo,remark
      board crack,behind rib 4,,,buzz + rib loose,320,0.4,crack.jpg,
      plate crack,strut at the break,,,,40,,,

    Signs are parted by +. A photograph is its file beside FILE, or the SHA-256 of it; what is kept is the hash.
    """  # noqa: D301  # \b is click's own mark for a paragraph that keeps its lines
    from strikeline.cli.look_table import kinds_list, look_table
    from strikeline.cli.table import terminal_width
    from strikeline.errors import InputError, NotFoundError
    from strikeline.media.text_file import read_text
    from strikeline.workshop.observations import content_hash, read_look

    if is_list_wanted:
        click.echo(kinds_list(width=terminal_width()))
        return 0
    if file is None:
        raise InputError("give a table of observations, or --kinds for what can be looked at", name="file")
    check_outputs(json_path, None, file)
    folder = file.parent

    def hash_of(name: str) -> str:
        path = folder / name
        if not path.is_file():
            raise NotFoundError(f"{path}: there is no such photograph")
        return content_hash(path.read_bytes())

    found = read_look(read_text(file), hash_of=hash_of)
    return give(found.to_json(), table=lambda: look_table(found, width=terminal_width()), json_path=json_path)
