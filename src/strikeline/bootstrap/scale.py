"""Scales from typed tables, with the sound of the piano where it was heard, and what is written of them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from strikeline.bootstrap.results import read_listening
from strikeline.errors import InputError
from strikeline.media.atomic import write_atomically
from strikeline.media.text_file import read_text
from strikeline.physics.string_order import CuttingAllowance
from strikeline.reports.json_text import json_text
from strikeline.reports.order_sheet import order_csv, order_text
from strikeline.workshop import scale as workshop_scale
from strikeline.workshop.order_sheet import CHANGED, OrderSheet, make_order_sheet, read_order
from strikeline.workshop.scale import ScaleChoices, ScaleReport
from strikeline.written import read_quantity


def assess_scale(table: Path, *, choices: ScaleChoices, listening: Path | None) -> ScaleReport:
    """Return what a table of a scale says; see `strikeline.workshop.scale.assess_scale`.

    Parameters
    ----------
    table : Path
        CSV file, or ``-`` for standard input.
    choices : ScaleChoices
        Pitch, wire, tools and limits.
    listening : Path or None
        What ``strikeline listen --json`` wrote of a pass of the same piano.

    Raises
    ------
    InputError
        If the table has mistakes or nothing can be told from it.
    NotFoundError, StoreError
        If a file cannot be read.
    """
    text = read_text(table)
    return workshop_scale.assess_scale(
        text, choices=choices, listening=None if listening is None else read_listening(listening)
    )


def order_sheet(report: ScaleReport, asked: str, *, allowance_text: str | None) -> OrderSheet:
    """Return an order sheet for notes of a scale.

    Parameters
    ----------
    report : ScaleReport
        The scale.
    asked : str
        Notes, or ``all``, ``wound``, ``changed``; see `strikeline.workshop.order_sheet.read_order`.
    allowance_text : str or None
        Wire added at the wrest pin of each string, as people write it.

    Raises
    ------
    InputError
        If it cannot be read or names what the scale does not have.
    """
    allowance = CuttingAllowance()
    if allowance_text is not None:
        added = read_quantity(
            allowance_text, name="allowance", unit="mm", low=0.0, high=1000.0, what="the wire added for a string"
        )
        allowance = replace(allowance, pin_mm=added.value)
    return make_order_sheet(
        report,
        read_order(asked, report),
        is_rescaled=asked.strip().casefold() == CHANGED,
        allowance=allowance,
    )


def order_suffix(path: Path) -> str:
    """Return the suffix of an order in small letters, or refuse it."""
    suffix = path.suffix.lower()
    if suffix not in {".txt", ".csv", ".json"}:
        raise InputError.of("order-to", str(path), "a name that ends in .txt, .csv or .json")
    return suffix


def order_as(sheet: OrderSheet, suffix: str) -> str:
    """Return an order sheet as text, CSV or JSON, by a suffix of `order_suffix`."""
    if suffix == ".json":
        return json_text(sheet.to_json()) + "\n"
    return order_csv(sheet) if suffix == ".csv" else order_text(sheet)


def write_order(sheet: OrderSheet, path: Path) -> None:
    """Write an order sheet as text, CSV or JSON, by the suffix; an older file is replaced only by a whole new one."""
    write_atomically(path, order_as(sheet, order_suffix(path)).encode())
