"""What listenings say as a whole, and results as JSON: written whole or not at all, and read back."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import TYPE_CHECKING

from threadpoolctl import threadpool_limits

from strikeline.acoustics.listening import Listening
from strikeline.acoustics.listening_json import listening_from_json
from strikeline.acoustics.pass_judgement import PassJudgement, judged_listening_json
from strikeline.acoustics.pass_judgement import judge_pass as acoustics_judge_pass
from strikeline.errors import InputError, StoreError
from strikeline.media.atomic import write_atomically
from strikeline.media.failures import error_in_words
from strikeline.reports.json_text import json_text

if TYPE_CHECKING:
    from strikeline.acoustics.comparison_result import Comparison
    from strikeline.workshop.strings import StringsHeard


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
