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
    from strikeline.workshop.trial import Trial


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

    What was played is known exactly, so that the demo can say how well it was heard.
    """
    from strikeline import bootstrap
    from strikeline.workshop.listening import Interrupted
    from strikeline.workshop.trial import compare_with_truth

    bootstrap.make_folder(out)
    click.echo("Playing an invented upright of the 1920s, 85 notes …", err=True)
    played = bootstrap.play_demo(out_dir=out)
    try:
        with progress_bar("Listening to it") as progress:
            listening = bootstrap.listen(played.sound, progress=progress)
    except Interrupted as stopped:
        return keep_partial(stopped.so_far, out / "listening.json")
    files = bootstrap.make_sheet(listening, out_dir=out, title=played.title)
    _tell_trial(compare_with_truth(listening, played.strikes))
    click.echo(f"Sound:   {played.sound}")
    click.echo(f"Truth:   {played.truth}")
    tell_files(files)
    if not no_open and has_display() and webbrowser.open(files.html.resolve().as_uri()):
        click.echo("The page opens in your browser.")
    return 0


def has_display() -> bool:
    """Return whether a browser window could be seen here."""
    if sys.platform in {"darwin", "win32"}:
        return True
    return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


def _tell_trial(trial: Trial) -> None:
    """Say in words how what was heard compares with what was played."""
    click.echo(f"Played {trial.n_played} notes; {trial.n_right} were heard and named rightly, {trial.n_wrong} wrongly.")
    if trial.n_false:
        click.echo(f"Heard {trial.n_false} notes that were not played.")
    if trial.n_f0:
        click.echo(
            f"f0: {trial.n_f0_covered} of {trial.n_f0} values agree with the note's own strings within 1.96 standard "
            f"errors; half of them are within {trial.median_f0_error_cents:.2f} cent of the strings' mean."
        )
