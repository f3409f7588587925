"""Where results may go: never over what they were made from."""

from __future__ import annotations

from pathlib import Path

from strikeline.errors import InputError


def keep_inputs(json_path: Path | None, *inputs: Path | None) -> None:
    """Refuse a file for results that holds what they are made from.

    Parameters
    ----------
    json_path : Path or None
        Where the JSON is to go; ``None`` or ``-`` go nowhere on the disk.
    *inputs : Path or None
        What is read.

    Raises
    ------
    InputError
        If the file is one of the inputs, or exists and does not begin as JSON does.
    """
    if json_path is None or str(json_path) == "-" or not json_path.is_file():
        return
    refuse_input("--json", json_path, *inputs, instead=f"{json_path.stem}-result.json")
    with json_path.open("rb") as file:
        beginning = file.read(64).lstrip()
    if beginning and not beginning.startswith((b"{", b"[")):
        raise InputError(
            f"--json {json_path} exists and is no JSON; it is left as it is, give the result another name",
            name="json",
            value=str(json_path),
        )


def refuse_input(option: str, path: Path, *inputs: Path | None, instead: str = "") -> None:
    """Refuse a file for results that is itself one of the files read.

    Parameters
    ----------
    option : str
        Which option named it, for the message.
    path : Path
        Where results are to go.
    *inputs : Path or None
        What is read.
    instead : str
        Another name that would do.

    Raises
    ------
    InputError
        If the file is one of the inputs.
    """
    if path.exists() and any(one is not None and one.exists() and one.samefile(path) for one in inputs):
        other = instead or f"{path.stem}-result{path.suffix}"
        raise InputError(
            f"{option} {path} is itself what is read; give the result another name, such as {other}",
            name=option.lstrip("-"),
            value=str(path),
        )
