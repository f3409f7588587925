"""One string as plain text: a ledger of what it does, what that means, what was taken, and the caution."""

from __future__ import annotations

from typing import Final

from strikeline.cli.cautions import caution_lines
from strikeline.cli.fitted_rows import fitted
from strikeline.cli.plain_text import aligned, bulleted, figure, wrapped
from strikeline.cli.wire_table import SYSTEM_WORDS, number_text, percent, strength_words
from strikeline.measured import Measured
from strikeline.physics.stringing import StringState
from strikeline.physics.wire_strength import ELASTIC_LIMIT_WORDS
from strikeline.reports.figures import ABSENT
from strikeline.units import UNITS
from strikeline.workshop.one_string import OneString, StockEffect, WantedDiameter

_ELASTIC_SHARE: Final = 0.6
_N_PER_LBF: Final = UNITS["lbf"].factor
_N_PER_KGF: Final = UNITS["kgf"].factor
_PARTS: Final = {"core": "wire", "wrap": "winding"}


def string_table(one: OneString, *, width: int | None) -> str:
    """Return one string as text.

    Parameters
    ----------
    one : OneString
        From `workshop.one_string.calculate_string`.
    width : int or None
        Columns of the terminal; ``None`` breaks no line and leaves no column out.
    """
    lines = [wrapped(_heading(one), width)]
    if one.cannot_be_meant is not None:
        lines += ["", wrapped(f"This cannot be meant: {one.cannot_be_meant}.", width)]
    lines += ["", *aligned(_ledger(one.state))]
    lines += ["", *(wrapped(text, width) for text in _meaning(one))]
    if one.stock:
        title = f"Sizes sold nearest to this {_core_word(one)}, at the same pitch:"
        lines += ["", *_stock_lines(title, one.stock, width)]
    for wanted in one.wanted:
        lines += ["", *_wanted_lines(wanted, one, width)]
    lines += bulleted("Note:", one.notices, width)
    lines += bulleted("Taken as:", one.assumptions, width)
    lines += bulleted("Could not be told:", one.cannot_tell, width)
    lines += ["", wrapped("± holds the truth in 95 cases of 100, carried from every measurement and table.", width)]
    return "\n".join([*lines, *caution_lines(("string_tension", "old_wire"), width)])


def _core_word(one: OneString) -> str:
    return "core" if one.dimensions.windings else "wire"


def _heading(one: OneString) -> str:
    dimensions = one.dimensions
    across = " across its flats" if dimensions.is_hexagonal else ""
    parts = [
        f"speaking length {figure(dimensions.length_mm)} mm",
        f"{dimensions.core.name} {_core_word(one)} {figure(dimensions.core_diameter_mm)} mm{across}",
        *(f"{layer.material.name} winding {figure(layer.wrap_diameter_mm)} mm" for layer in dimensions.windings),
    ]
    if dimensions.bare_mm is not None:
        parts.append(f"bare ends {' and '.join(figure(end) for end in dimensions.bare_mm)} mm")
    return "String: " + ", ".join(parts)


def _ledger(state: StringState) -> list[tuple[str, str, str]]:
    tension = state.tension_n
    in_pounds, in_kilograms = (_exact_or(tension, factor=1 / unit) for unit in (_N_PER_LBF, _N_PER_KGF))
    rows = [
        ("f0", _exact_or(state.f0_hz, places=3), "Hz"),
        ("first partial", _exact_or(state.first_partial_hz, places=3), "Hz"),
        ("tension", _exact_or(tension), "N"),
        ("  in pounds", in_pounds, "lbf"),
        ("  in kilograms", in_kilograms, "kgf"),
        ("stress", figure(state.stress_mpa), "MPa"),
        ("breaking load", figure(state.breaking_load_n), "N" if state.breaking_load_n else ""),
        ("breaking share", figure(state.breaking_share, factor=100), "%" if state.breaking_share else ""),
        ("stretched by", figure(state.elongation_mm), "mm"),
        ("mass per length", figure(state.linear_density_kg_per_m, factor=1e3), "g/m"),
        ("impedance", figure(state.impedance_kg_per_s), "kg/s"),
        ("inharmonicity B", figure(state.inharmonicity_b, factor=1e4), "×10⁻⁴"),
    ]  # fmt: skip
    if state.winding_b.value > 0:
        rows += [
            ("  of the core", figure(state.stiffness_b, factor=1e4), "×10⁻⁴"),
            ("  of the winding", figure(state.winding_b, factor=1e4), "×10⁻⁴"),
            ("  of the bare ends", figure(state.bare_ends_b, factor=1e4), "×10⁻⁴" if state.bare_ends_b else ""),
        ]
    return rows


def _exact_or(measured: Measured, *, factor: float = 1.0, places: int = 1) -> str:
    """Return value ± error, or the value alone where it was given as exact."""
    if measured.se > 0:
        return figure(measured, factor=factor)
    return f"{measured.value * factor:.{places}f}"


def _meaning(one: OneString) -> list[str]:
    """Return in sentences what the numbers say."""
    state = one.state
    texts = []
    share_range = None if one.cannot_be_meant is not None else one.breaking_share_range
    if state.breaking_share is not None and share_range is not None and one.strength is not None:
        low, high = (100 * share for share in share_range)
        texts.append(
            f"It carries {low:.0f} to {high:.0f} % of what such wire bears, by the strongest and the weakest allowed; "
            f"{share_words(state.breaking_share)}. As guidance: {ELASTIC_LIMIT_WORDS}."
        )
        texts.append(strength_words(one.strength))
    if state.bare_ends_b is not None:
        share = 100 * state.bare_ends_b.value / state.inharmonicity_b.value
        texts.append(
            f"The bare ends make {share:.0f} % of its B (partials 1 to {state.fitted_partials}); the published formula "
            "is for the core alone and would miss that, and the winding."
        )
    return texts


def share_words(share: Measured) -> str:
    """Return where a share of the breaking load lies against the elastic limit, or that it cannot be told.

    Examples
    --------
    >>> share_words(Measured(0.45, 0.02))
    'below the elastic limit of about 60 %'
    """
    half = share.half_width
    if share.value + half < _ELASTIC_SHARE:
        return "below the elastic limit of about 60 %"
    if share.value - half > _ELASTIC_SHARE:
        return "above the elastic limit of about 60 %: do not raise it, and ask for advice"
    return "cannot tell whether it is above the elastic limit of about 60 %: the wire may be anything in its range"


def _stock_lines(title: str, stock: tuple[StockEffect, ...], width: int | None) -> list[str]:
    rows = [("numbers by", "No.", "mm", "tension N", "change", "B ×10⁻⁴", "change")]
    rows += [
        (
            SYSTEM_WORDS[effect.system],
            number_text(effect.number),
            f"{effect.diameter_mm:.3f}",
            f"{effect.tension_n:.0f}",
            percent(effect.tension_change_ratio),
            f"{effect.inharmonicity_b * 1e4:.2f}",
            percent(effect.b_change_ratio),
        )
        for effect in stock
    ]
    return [wrapped(title, width), *fitted(rows, width, least_first=("change", "B ×10⁻⁴"))]


def _wanted_lines(wanted: WantedDiameter, one: OneString, width: int | None) -> list[str]:
    is_tension = wanted.quantity == "tension_n"
    what = f"a tension of {wanted.wanted.value:.0f} N" if is_tension else f"B = {wanted.wanted.value:.3g}"
    part = "core" if wanted.part == "core" and one.dimensions.windings else _PARTS[wanted.part]
    text = f"For {what} at this pitch the {part} must be {figure(wanted.diameter_mm) or ABSENT} mm."
    stock = _stock_lines("Sizes sold nearest to that:", wanted.stock, width) if wanted.stock else []
    return [wrapped(text, width), *stock]
