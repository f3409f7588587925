"""``strikeline listen``: one recording in, one table or JSON out."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from strikeline.cli.options import Asked, sound_options
from strikeline.cli.outputs import keep_inputs
from strikeline.cli.progress import progress_bar
from strikeline.cli.results import json_option

if TYPE_CHECKING:
    from strikeline.acoustics.listening import Listening


@click.command()
@click.argument("file", type=click.Path(readable=False, path_type=Path))
@sound_options
@json_option
def listen(file: Path, asked: Asked, json_path: Path | None) -> int:
    """Measure every note in FILE, a sound or video as a phone records it.

    Prints a table. Of a pass or a note: pitch, inharmonicity, unison, brightness, sustain and level, each with its
    standard error; of a whole pass also what stands out, areas, where the scale changes, and the toning list. Of
    short blows: what each damper does. Of plucked strings: which of them the hammer touches.
    """
    from strikeline.workshop.listening import Interrupted

    keep_inputs(json_path, file)
    try:
        listening = hear(file, asked)
    except Interrupted as stopped:
        return keep_partial(stopped.so_far, json_path)
    _give(listening, json_path)
    return 0


def hear(file: Path, asked: Asked) -> Listening:
    """Listen to a file as the command line asks for it, with a progress bar."""
    from strikeline import bootstrap

    with progress_bar(f"Listening to {file.name or file}") as progress:
        return bootstrap.listen(
            file,
            kind=asked.kind,
            note=asked.note,
            notes=asked.notes,
            n_strings=asked.n_strings,
            compass=asked.compass,
            a4_hz=asked.a4_hz,
            progress=progress,
        )


def keep_partial(so_far: Listening | None, json_path: Path | None) -> int:
    """Hand over what an interrupted listening has found, named as partial; return the exit code."""
    if so_far is None:
        raise KeyboardInterrupt
    _give(so_far, partial_path(json_path))
    click.echo("strikeline: stopped by the user; what was found so far is kept as partial", err=True)
    return 130


def partial_path(json_path: Path | None) -> Path | None:
    """Return where a partial result goes: ``name.partial.json`` beside ``name.json``, which it never replaces."""
    if json_path is None or str(json_path) == "-":
        return json_path
    suffix = json_path.suffix or ".json"
    return json_path.with_name(f"{json_path.stem}.partial{suffix}")


def _give(listening: Listening, json_path: Path | None) -> None:
    if json_path is not None and str(json_path) == "-":
        from strikeline.bootstrap import listening_text

        click.echo(listening_text(listening), nl=False)
        return
    from strikeline.bootstrap import judge_pass, write_listening
    from strikeline.cli.table import listening_table, terminal_width

    judgement = judge_pass(listening)
    # The table first: a disk that turns out to be full must not cost it.
    click.echo(listening_table(listening, width=terminal_width(), judgement=judgement))
    if json_path is not None:
        write_listening(listening, json_path, judgement)
        click.echo(f"Written: {json_path}", err=True)
