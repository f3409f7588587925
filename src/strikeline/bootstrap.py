"""The one place where the parts are chosen and wired: files to sounds, sounds to listenings, listenings to sheets."""

from __future__ import annotations

import json
import os
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from threadpoolctl import threadpool_limits

from strikeline import __version__
from strikeline.acoustics.listening import Kind, Listening
from strikeline.acoustics.listening_json import listening_from_json
from strikeline.acoustics.pass_judgement import PassJudgement, judged_listening_json
from strikeline.acoustics.pass_judgement import judge_pass as acoustics_judge_pass
from strikeline.errors import InputError, StoreError
from strikeline.media.atomic import write_atomically
from strikeline.media.failures import error_in_words
from strikeline.media.sound import open_sound, write_wav
from strikeline.reports.json_text import json_text
from strikeline.workshop import comparison as workshop_comparison
from strikeline.workshop import demo as workshop_demo
from strikeline.workshop import listening as workshop_listening
from strikeline.workshop import plucks as workshop_plucks

if TYPE_CHECKING:
    from strikeline.acoustics.comparison_result import Comparison
    from strikeline.keyboard import Compass
    from strikeline.reports.content import SheetContent
    from strikeline.synthesis.truth import TrueStrike
    from strikeline.workshop.comparison import Hearing
    from strikeline.workshop.ports import Progress
    from strikeline.workshop.strings import StringsHeard


def listen(
    path: str | os.PathLike[str],
    *,
    kind: Kind | str = Kind.PASS,
    note: int | None = None,
    notes: Sequence[int] | None = None,
    n_strings: int | None = None,
    compass: Compass | None = None,
    a4_hz: float = 440.0,
    progress: Progress | None = None,
) -> Listening:
    """Listen to a sound file and measure every note in it.

    Parameters
    ----------
    path : str or path
        A sound or video file as a phone makes it: WAV, FLAC, OGG, MP3, M4A/AAC, MP4, MOV, WebM.
    kind : Kind or str
        ``"pass"`` for a run over the keyboard, ``"note"`` for one note, ``"staccato"`` for short blows up the keyboard,
        ``"plucks"`` for strings plucked one by one while the hammer is held against them.
    note : int, optional
        Key number of the one note (A4 = 49), only for kind ``"note"``; found from the sound when left out.
    notes : sequence of int, optional
        Key numbers of the notes whose strings were plucked, in order, only for kind ``"plucks"``; found from the sound
        when left out.
    n_strings : int, optional
        Strings of each note for kind ``"plucks"``; strings that sounded for kind ``"note"``, 1 for one string alone.
        Refused for other kinds; ``None`` where it is not known.
    compass : Compass, optional
        Keys the piano has; found from the pass when left out.
    a4_hz : float
        Frequency of A4 that the piano is compared with, 380 to 480 Hz. The default is that of ISO 16.
    progress : callable, optional
        Called as ``progress(fraction, words)`` while the listening goes on.

    Returns
    -------
    Listening
        Strikes in the order of time, each number with its standard error.

    Raises
    ------
    InputError
        If an argument leaves the range given above.
    NotFoundError, StoreError
        If the file does not exist, cannot be read or is no sound.
    SignalError
        If the sound holds nothing to measure: silence, speech only.
    strikeline.workshop.listening.Interrupted
        A `KeyboardInterrupt` that carries what was found so far in ``so_far``.
    """
    asked = _kind(kind)
    if notes is not None and asked is not Kind.PLUCKS:
        raise InputError("notes were given, but they name plucked strings; leave them out for this kind", name="notes")
    # The matrices are tiny and two processes share the work already: more threads would only wait for each other.
    with threadpool_limits(limits=1, user_api="blas"):
        if asked is Kind.PLUCKS:
            if note is not None or compass is not None:
                raise InputError("a note or a compass was given; for plucked strings give notes instead", name="note")
            return workshop_plucks.listen_to_plucks(
                open_sound(Path(path)),
                notes=None if notes is None else tuple(notes),
                n_strings=n_strings,
                a4_hz=a4_hz,
                analyser=__version__,
                progress=progress,
            )
        return workshop_listening.listen(
            open_sound(Path(path)),
            kind=asked,
            note=note,
            compass=compass,
            a4_hz=a4_hz,
            n_strings=n_strings,
            analyser=__version__,
            progress=progress,
        )


def _kind(kind: Kind | str) -> Kind:
    try:
        return Kind(kind)
    except ValueError:
        raise InputError.of("kind", kind, " or ".join(repr(known.value) for known in Kind)) from None


def hear_strings(
    together: str | os.PathLike[str],
    *,
    left: str | os.PathLike[str] | None = None,
    middle: str | os.PathLike[str] | None = None,
    right: str | os.PathLike[str] | None = None,
    n_strings: int | None = None,
    note: int | None = None,
    a4_hz: float = 440.0,
    progress: Progress | None = None,
) -> StringsHeard:
    """Listen to one note with all its strings, and to its strings one by one, the others muted.

    Parameters
    ----------
    together : str or path
        The note struck with all its strings free.
    left, middle, right : str or path, optional
        The note struck with only this string free; at least one of the three.
    n_strings : int, optional
        Strings of the note, 2 or 3; as many as were recorded alone when left out.
    note : int, optional
        Key number (A4 = 49); found from the sound when left out.
    a4_hz : float
        Frequency of A4 that names of notes go by, 380 to 480 Hz.
    progress : callable, optional
        Called as ``progress(fraction, words)`` while the listening goes on.

    Raises
    ------
    InputError
        If no string was recorded alone, two files hold the same sound, or they sound different notes.
    NotFoundError, StoreError
        If a file does not exist, cannot be read or is no sound.
    SignalError
        If one of the sounds holds nothing to measure.
    """
    from strikeline.acoustics.pluck_result import StringPlace
    from strikeline.workshop import strings as workshop_strings

    given = {StringPlace.LEFT: left, StringPlace.MIDDLE: middle, StringPlace.RIGHT: right}
    with threadpool_limits(limits=1, user_api="blas"):
        return workshop_strings.hear_strings(
            open_sound(Path(together)),
            {place: open_sound(Path(path)) for place, path in given.items() if path is not None},
            note=note,
            n_strings=n_strings,
            a4_hz=a4_hz,
            analyser=__version__,
            progress=progress,
        )


def strings_text(heard: StringsHeard) -> str:
    """Return what was heard of the strings of a note as JSON text in schema ``strikeline.unison/1``."""
    return json_text(heard.to_json()) + "\n"


def write_strings(heard: StringsHeard, path: Path) -> None:
    """Write what was heard of the strings of a note as JSON; an older file is replaced only by a whole new one.

    Raises
    ------
    NotFoundError, StoreError
        If the folder does not exist or writing fails.
    """
    write_atomically(path, strings_text(heard).encode())


def judge_pass(listening: Listening) -> PassJudgement | None:
    """Return evenness and toning list of a pass, ``None`` for other kinds of playing."""
    # The matrices of the trend are small: on a busy machine several threads made it twenty times slower than one.
    with threadpool_limits(limits=1, user_api="blas"):
        return acoustics_judge_pass(listening)


def listening_text(listening: Listening, judgement: PassJudgement | None = None) -> str:
    """Return a listening as JSON text in schema ``strikeline.listening/1``, with a line end after the last brace.

    Parameters
    ----------
    listening : Listening
        From `listen`.
    judgement : PassJudgement, optional
        From `judge_pass`, if it is at hand.
    """
    judged = judge_pass(listening) if judgement is None else judgement
    return json_text(judged_listening_json(listening, judged)) + "\n"


def write_listening(listening: Listening, path: Path, judgement: PassJudgement | None = None) -> None:
    """Write a listening as JSON; an older file is replaced only by a whole new one.

    Parameters
    ----------
    listening : Listening
        From `listen`.
    path : Path
        Where to.
    judgement : PassJudgement, optional
        From `judge_pass`, if it is at hand.

    Raises
    ------
    NotFoundError, StoreError
        If the folder does not exist or writing fails.
    """
    write_atomically(path, listening_text(listening, judgement).encode())


def make_folder(folder: Path) -> None:
    """Make a folder for results, with the folders above it, unless it is there already.

    Raises
    ------
    StoreError
        If it cannot be made.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise error_in_words(error, folder, doing="write") from error


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetFiles:
    """Where a condition sheet is."""

    html: Path
    pdf: Path
    json: Path


def make_sheet(listening: Listening, *, out_dir: Path, title: str | None) -> SheetFiles:
    """Write the condition sheet of a listening as ``sheet.html``, ``sheet.pdf`` and ``listening.json``.

    Parameters
    ----------
    listening : Listening
        From `listen`.
    out_dir : Path
        Folder, which must exist. Older files of these names are replaced, each only by a whole new one.
    title : str or None
        Heading: which piano or recording this is.

    Returns
    -------
    SheetFiles
        Where they are.

    Raises
    ------
    NotFoundError, StoreError
        If writing fails.
    """
    from strikeline.reports.sheet import sheet_content

    with threadpool_limits(limits=1, user_api="blas"):  # as in judge_pass
        content = sheet_content(listening, title=title, made_on=_today())
    return _write_sheet(content, out_dir / "sheet")


def _today() -> date:
    return datetime.now(tz=UTC).astimezone().date()


def _write_sheet(content: SheetContent, stem: Path) -> SheetFiles:
    """Write a sheet as page and print, and the result that is attached to it beside them."""
    from strikeline.reports.document import render_sheet_pdf
    from strikeline.reports.page import render_sheet_html

    # All is made before anything is written: an older sheet and its numbers stay together if one of them fails.
    html, pdf = render_sheet_html(content).encode(), render_sheet_pdf(content)
    files = SheetFiles(
        html=stem.with_suffix(".html"), pdf=stem.with_suffix(".pdf"), json=stem.with_name(content.attached_name)
    )
    write_atomically(files.json, f"{content.listening_json}\n".encode())
    write_atomically(files.html, html)
    write_atomically(files.pdf, pdf)
    return files


def read_listening(path: str | os.PathLike[str]) -> Listening:
    """Read a listening that `write_listening` or ``strikeline listen --json`` wrote, of this version or an older one.

    Parameters
    ----------
    path : str or path
        The JSON file.

    Raises
    ------
    NotFoundError, StoreError
        If the file does not exist, cannot be read or is no listening.
    """
    file = Path(path)
    try:
        return listening_from_json(json.loads(file.read_text("utf-8")))
    except OSError as error:
        raise error_in_words(error, file, doing="read") from error
    except (ValueError, RecursionError) as error:  # bad UTF-8, bad JSON and InputError are all ValueErrors
        why = (
            str(error) if isinstance(error, InputError) else f"it is no JSON ({error}); it may be damaged or cut short"
        )
        raise StoreError(f"cannot read {file}: {why}") from error


def compare(
    before: str | os.PathLike[str],
    after: str | os.PathLike[str],
    *,
    again_before: Sequence[str | os.PathLike[str]] = (),
    again_after: Sequence[str | os.PathLike[str]] = (),
    kind: Kind | str = Kind.PASS,
    note: int | None = None,
    notes: Sequence[int] | None = None,
    n_strings: int | None = None,
    compass: Compass | None = None,
    a4_hz: float = 440.0,
    progress: Progress | None = None,
) -> Comparison:
    """Compare two recordings of one piano, note by note.

    Parameters
    ----------
    before, after : str or path
        Sounds, or listenings kept as JSON (files named ``.json``).
    again_before, again_after : sequence of str or path
        The same played again without work in between: they measure the repeatability.
    kind, note, notes, n_strings, compass, a4_hz
        What was played, as for `listen`; a listening kept as JSON has its own.
    progress : callable, optional
        Called as ``progress(fraction, words)`` over all recordings.

    Returns
    -------
    Comparison

    Raises
    ------
    InputError
        If an argument leaves its range or the recordings are of different playing.
    NotFoundError, StoreError
        If a file does not exist, cannot be read, or is neither a sound nor a listening.
    SignalError
        If a sound holds nothing to measure.
    KeyboardInterrupt
        If the user stops it; nothing is kept.
    """

    def hearing(path: str | os.PathLike[str]) -> Hearing:
        if Path(path).suffix.lower() == ".json":
            return lambda _progress: read_listening(path)
        return lambda told: listen(
            path,
            kind=kind,
            note=note,
            notes=notes,
            n_strings=n_strings,
            compass=compass,
            a4_hz=a4_hz,
            progress=told,
        )

    with threadpool_limits(limits=1, user_api="blas"):
        return workshop_comparison.compare(
            hearing(before),
            hearing(after),
            before_again=[hearing(path) for path in again_before],
            after_again=[hearing(path) for path in again_after],
            progress=progress,
        )


def comparison_text(comparison: Comparison) -> str:
    """Return a comparison as JSON text in schema ``strikeline.comparison/1``, with a line end after the last brace."""
    return json_text(comparison.to_json()) + "\n"


def write_comparison(comparison: Comparison, path: Path) -> None:
    """Write a comparison as JSON; an older file is replaced only by a whole new one.

    Raises
    ------
    NotFoundError, StoreError
        If the folder does not exist or writing fails.
    """
    write_atomically(path, comparison_text(comparison).encode())


def make_comparison_sheet(comparison: Comparison, *, out_dir: Path, title: str | None) -> SheetFiles:
    """Write the sheet of a comparison as ``comparison.html``, ``comparison.pdf`` and ``comparison.json``.

    Parameters
    ----------
    comparison : Comparison
        From `compare`.
    out_dir : Path
        Folder, which must exist. Older files of these names are replaced, each only by a whole new one.
    title : str or None
        Heading: which piano this is.

    Returns
    -------
    SheetFiles
        Where they are.

    Raises
    ------
    NotFoundError, StoreError
        If writing fails.
    """
    from strikeline.reports.comparison import comparison_content

    return _write_sheet(comparison_content(comparison, title=title, made_on=_today()), out_dir / "comparison")


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
