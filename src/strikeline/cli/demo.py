"""``strikeline demo``: an invented piano, heard and compared with its truth."""

from __future__ import annotations

import os
import sys
import webbrowser
from pathlib import Path
from typing import TYPE_CHECKING

import click

from strikeline.cli.listen import keep_partial
from strikeline.cli.progress import progress_bar
from strikeline.cli.sheet import tell_files

if TYPE_CHECKING:
    from strikeline.acoustics.listening import Listening
    from strikeline.bootstrap.demo import DemoFiles


@click.command()
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    default=Path("strikeline-demo"),
    show_default=True,
    metavar="DIR",
    help="Folder for sound, truth and sheet.",
)
@click.option("--no-open", is_flag=True, help="Do not open the sheet in the browser.")
def demo(out: Path, no_open: bool) -> int:
    """Play an invented, worn upright of the 1920s, listen to it, and write its condition sheet.

    Then the same with short blows, for the dampers, and with plucked strings, for the hammers. What was played is known
    exactly, so that the demo can say how well it was heard.
    """
    from strikeline import bootstrap
    from strikeline.acoustics.listening import Kind
    from strikeline.bootstrap.demo import play_demo
    from strikeline.workshop.listening import Interrupted

    bootstrap.make_folder(out)
    pages = []
    for kind, words, tell in (
        (Kind.PASS, "an invented upright of the 1920s, 85 notes", _tell_pass),
        (Kind.STACCATO, "the same piano with short blows, for its dampers", _tell_staccato),
        (Kind.PLUCKS, "an octave of its strings, plucked against the hammers", _tell_plucks),
    ):
        click.echo(f"Playing {words} …", err=True)
        played = play_demo(kind, out_dir=out)
        try:
            with progress_bar("Listening to it") as progress:
                listening = bootstrap.listen(
                    played.sound, kind=kind, notes=played.notes, n_strings=played.n_strings, progress=progress
                )
        except Interrupted as stopped:
            return keep_partial(stopped.so_far, played.folder / "listening.json")
        files = bootstrap.make_sheet(listening, out_dir=played.folder, title=played.title)
        tell(listening, played)
        click.echo(f"Sound:   {played.sound}")
        click.echo(f"Truth:   {played.truth}")
        tell_files(files)
        click.echo("")
        pages.append(files.html)
    if not no_open and has_display() and webbrowser.open(pages[0].resolve().as_uri()):
        click.echo("The first page opens in your browser.")
    return 0


def has_display() -> bool:
    """Return whether a browser window could be seen here."""
    if sys.platform in {"darwin", "win32"}:
        return True
    return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


def _tell_pass(listening: Listening, played: DemoFiles) -> None:
    """Say in words how the notes that were heard compare with what was played."""
    from strikeline.workshop.trial import compare_with_truth

    trial = compare_with_truth(listening, played.strikes)
    click.echo(f"Played {trial.n_played} notes; {trial.n_right} were heard and named rightly, {trial.n_wrong} wrongly.")
    if trial.n_false:
        click.echo(f"Heard {trial.n_false} notes that were not played.")
    if trial.n_f0:
        click.echo(
            f"f0: {trial.n_f0_covered} of {trial.n_f0} values agree with the note's own strings within 1.96 standard "
            f"errors; half of them are within {trial.median_f0_error_cents:.2f} cent of the strings' mean."
        )


def _tell_staccato(listening: Listening, _played: DemoFiles) -> None:
    """Say which dampers were set wrong and which were heard to be."""
    from strikeline.keyboard import key_name
    from strikeline.reports.damper_words import dampers_sentence
    from strikeline.workshop.demo import LATE_KEY, LEAKING_KEY

    click.echo(f"Dampers set wrong: {key_name(LEAKING_KEY)} leaks, {key_name(LATE_KEY)} lands late.")
    click.echo(f"Heard: {_plain(dampers_sentence(listening))}")


def _tell_plucks(listening: Listening, _played: DemoFiles) -> None:
    """Say which strings were left open and which were heard to be."""
    from strikeline.keyboard import key_name
    from strikeline.reports.pluck_words import COLUMNS, mating_sentence
    from strikeline.workshop.demo import OPEN_STRINGS

    opened = [f"{key_name(key)} {COLUMNS[string].value}" for key, string in OPEN_STRINGS]
    click.echo(f"Strings left open: {' and '.join(opened)}.")
    click.echo(f"Heard: {_plain(mating_sentence(listening))}")


def _plain(text: str) -> str:
    return text.replace("\N{NO-BREAK SPACE}", " ").replace("♯", "#")
