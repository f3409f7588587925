"""The one place where the parts are chosen and wired: files to sounds, sounds to listenings, listenings to sheets.

Each part loads when it is first asked for. What only some commands need stands in modules of its own: `demo`, `scale`,
`tuning`, `pitch`, `records`.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from strikeline.bootstrap.hearing import compare, hear_strings, listen
    from strikeline.bootstrap.results import (
        comparison_text,
        judge_pass,
        listening_text,
        make_folder,
        read_listening,
        strings_text,
        write_comparison,
        write_listening,
        write_strings,
    )
    from strikeline.bootstrap.sheets import SheetFiles, make_comparison_sheet, make_sheet

_PARTS: Final = {
    "hearing": ("compare", "hear_strings", "listen"),
    "results": (
        "comparison_text",
        "judge_pass",
        "listening_text",
        "make_folder",
        "read_listening",
        "strings_text",
        "write_comparison",
        "write_listening",
        "write_strings",
    ),
    "sheets": ("SheetFiles", "make_comparison_sheet", "make_sheet"),
}
_MODULE_OF: Final = {name: part for part, names in _PARTS.items() for name in names}

__all__ = [
    "SheetFiles",
    "compare",
    "comparison_text",
    "hear_strings",
    "judge_pass",
    "listen",
    "listening_text",
    "make_comparison_sheet",
    "make_folder",
    "make_sheet",
    "read_listening",
    "strings_text",
    "write_comparison",
    "write_listening",
    "write_strings",
]


def __getattr__(name: str) -> Any:
    if name in _MODULE_OF:
        return getattr(import_module(f"{__name__}.{_MODULE_OF[name]}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
