"""Colours and sizes of the ledger, shared by charts, page and print: paper, ink, one accent.

Contrast against the paper, by the formula of WCAG 2.2: ink 14.9, quiet 5.1, accent 7.4; in grey print the accent is as
dark as the ink, and whatever it marks is also marked by shape and in words.
"""

from __future__ import annotations

from typing import Final

PAPER: Final = "#faf6ec"
INK: Final = "#241f1a"
QUIET: Final = "#6f6353"
HAIRLINE: Final = "#d5c9b3"
SHADE: Final = "#f1e9d9"
BAND: Final = "#e2d6bf"
ACCENT: Final = "#8c2d19"
IVORY: Final = "#fffefa"
EBONY: Final = "#221d19"
"""The keys beneath a chart: dark keys stay dark on a dark screen."""

DARK: Final = {
    PAPER: "#1d1a17",
    INK: "#ece4d6",
    QUIET: "#b3a691",
    HAIRLINE: "#4a4238",
    SHADE: "#27231f",
    BAND: "#3a332b",
    ACCENT: "#f0967c",
    IVORY: "#cfc6b6",
    EBONY: "#221d19",
}
"""What each colour becomes on a dark screen."""

TEXT_FONT: Final = "Strikeline Text"
SYMBOL_FONT: Final = "DejaVu Sans"
"""Has the ♭ ♮, Greek and Cyrillic that the text face lacks."""
