"""The one place where the parts are chosen and wired: files to sounds, sounds to listenings, listenings to sheets.

What only some commands need stands in modules of its own that nothing else loads: `demo`, `scale`, `tuning`, `pitch`.
"""

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
