"""What the tests of the manual's pages ask of a page: its options, and the fields of its results."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import click

from strikeline.cli.main import cli

OF_EVERY_ESTIMATE = {"value", "se", "schema"}
"""Explained once for all results."""


def field_names(data: Any) -> Iterator[str]:
    """Yield the name of every field of a published result, at every depth."""
    if isinstance(data, dict):
        for name, value in data.items():
            yield name
            yield from field_names(value)
    elif isinstance(data, list | tuple):
        for value in data:
            yield from field_names(value)


def missing_options(command: str, text: str) -> list[str]:
    """Return the options of a command that a text does not name."""
    options = [
        option
        for one in cli.commands[command].params
        if isinstance(one, click.Option)
        for option in (*one.opts, *one.secondary_opts)
    ]
    return [option for option in options if not re.search(rf"{re.escape(option)}\b", text)]


def section_of_schema(manual: str, schema: str, *, ends_at: str = "\n### ") -> str:
    """Return the part of a page that describes the JSON of a schema."""
    return manual.partition(f"### strikeline.{schema}/1\n")[2].partition(ends_at)[0]
