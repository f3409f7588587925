"""The demo's invented piano, played into sound files."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from strikeline.acoustics.listening import Kind
from strikeline.bootstrap.results import make_folder
from strikeline.media.atomic import write_atomically
from strikeline.media.sound import write_wav
from strikeline.reports.json_text import json_text
from strikeline.workshop import demo as workshop_demo

if TYPE_CHECKING:
    from strikeline.synthesis.truth import TrueStrike


@dataclass(frozen=True, slots=True, kw_only=True)
class DemoFiles:
    """One of the demo's sounds and what is true of it."""

    title: str
    folder: Path
    """Where its sheet goes."""
    sound: Path
    truth: Path
    strikes: tuple[TrueStrike, ...]
    """What was struck; empty for plucked strings."""
    notes: tuple[int, ...] | None
    """Whose strings were plucked, as `listen` takes it."""
    n_strings: int | None


def play_demo(kind: Kind, *, out_dir: Path) -> DemoFiles:
    """Play the demo's invented piano into a sound file and write the exact truth beside it as ``truth.json``.

    Parameters
    ----------
    kind : Kind
        A pass goes into `out_dir` itself, short blows and plucked strings into a folder of their name in it.
    out_dir : Path
        Folder, which must exist.

    Returns
    -------
    DemoFiles
        Where both are, and the strikes as played.

    Raises
    ------
    NotFoundError, StoreError
        If writing fails.
    """
    played = workshop_demo.play_demo(kind)
    folder = out_dir if kind is Kind.PASS else out_dir / kind.value
    make_folder(folder)
    sound, truth = folder / f"{kind.value}.wav", folder / "truth.json"
    write_wav(sound, played.samples, sample_rate_hz=played.sample_rate_hz)
    write_atomically(truth, f"{json_text(played.truth)}\n".encode())
    return DemoFiles(
        title=workshop_demo.DEMO_TITLE,
        folder=folder,
        sound=sound,
        truth=truth,
        strikes=played.strikes,
        notes=played.notes,
        n_strings=played.n_strings,
    )
