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
    if any(one is not None and one.exists() and one.samefile(json_path) for one in inputs):
        raise InputError(
            f"--json {json_path} is itself what is read; give the result another name, such as "
            f"{json_path.stem}-result.json",
            name="json",
            value=str(json_path),
        )
    with json_path.open("rb") as file:
        beginning = file.read(64).lstrip()
    if beginning and not beginning.startswith((b"{", b"[")):
        raise InputError(
            f"--json {json_path} exists and is no JSON; it is left as it is, give the result another name",
            name="json",
            value=str(json_path),
        )
