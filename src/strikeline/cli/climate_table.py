"""The climate of one visit or two as plain text: wood, pitch, and whether a drift is climate."""

from __future__ import annotations

from typing import Final

from strikeline.cli.fitted_rows import fitted
from strikeline.cli.plain_text import bulleted, figure, typed, wrapped
from strikeline.measured import Measured
from strikeline.physics.climate_drift import DriftJudgement, DriftVerdict
from strikeline.physics.climate_effects import CALL_BACK_RH_PCT, DAILY_SWING_RH_PCT, Band
from strikeline.reports.figures import listed
from strikeline.workshop.climate import Climate, ClimateReport


def climate_table(report: ClimateReport, *, width: int | None) -> str:
    """Return a report of climate as text.

    Parameters
    ----------
    report : ClimateReport
        The result to print.
    width : int or None
        Columns of the terminal; ``None`` prints sentences unbroken.
    """
    lines = [*_visits(report, width), ""]
    lines += [
        wrapped(sentence, width) for sentence in (*_wood(report), *_level(report), *_panel(report), *_expected(report))
    ]
    if report.drift is not None:
        lines += ["", wrapped(_verdict(report.drift), width)]
        lines += bulleted("Fits climate:", report.drift.speaks_for, width)
        lines += bulleted("Speaks against:", report.drift.speaks_against, width)
        lines += bulleted("Open:", report.drift.left_open, width)
    lines += bulleted("What else can be asked:", _more(report), width)
    return typed("\n".join(lines))


def _visits(report: ClimateReport, width: int | None) -> list[str]:
    """Return a line a visit."""
    rows = [("visit", "humidity %", "temperature °C", "wood settles at %", "level")]
    visits: list[tuple[str, Climate | None]] = [("before", report.before), ("now", report.now)]
    for name, one in visits:
        if one is not None:
            wood = figure(one.moisture_pct)
            rows.append((name, figure(one.rh_pct), figure(one.temperature_degc), wood, one.band.value))
    return fitted(rows, width, least_first=("level",))


def _wood(report: ClimateReport) -> list[str]:
    moisture = figure(report.now.moisture_pct)
    return [f"Spruce left in this air settles at {moisture} % of moisture (of its dry mass), over weeks."]


def _more(report: ClimateReport) -> list[str]:
    """Return what other options would tell."""
    texts = []
    if report.before is None:
        texts.append("with --rh-before (and --temperature-before): what the change since then does to wood and pitch")
    if report.panel is None:
        texts.append("with --panel WIDTH and --rh-before: how far a free soundboard panel swells or shrinks")
    if report.drift is None:
        texts.append("with --before and --after, listenings of two visits: whether a drift of pitch is climate")
    return texts


def _level(report: ClimateReport) -> list[str]:
    words = {
        Band.USUAL: "The humidity now is within what is usually advised.",
        Band.WATCH: "The humidity now is at the edge of what is usually advised.",
        Band.HARMFUL: "The humidity now is where harm is reported: wood fails when dry, steel rusts when damp.",
    }
    swing = f"More than {DAILY_SWING_RH_PCT:.0f} % within a day is worth a word."
    return [f"{words[report.now.band]} {report.steady_first} {swing} (Levels: {report.bands_source}.)"]


def _panel(report: ClimateReport) -> list[str]:
    panel = report.panel
    if panel is None or report.panel_mm is None:
        return []
    beyond = " Its moisture leaves the 6 to 14 % for which the formula is meant." if panel.is_beyond_formula else ""
    way = "swells" if panel.movement_mm.value > 0 else "shrinks"
    movement, moisture = (figure(one, plus=True) for one in (panel.movement_mm, panel.change_pct))
    sentence = (
        f"A free quarter-sawn spruce panel of {figure(report.panel_mm)} mm {way}: {movement} mm across the grain, for "
        f"{moisture} % of moisture, once settled. Glued to ribs and rim it moves less, and the crown takes up the rest."
    )
    return [sentence + beyond]


def _expected(report: ClimateReport) -> list[str]:
    """Return what humidity and temperature each lead to expect."""
    sentences = []
    if report.expected:
        drifts = listed([f"{one.note} {figure(one.cents, plus=True)} cents" for one in report.expected])
        sentences.append(f"Humidity leads to expect, once settled: {drifts} (a technician's reports, one author).")
    if report.before is not None:
        change = abs(report.now.rh_pct.value - report.before.rh_pct.value)
        word = "is" if change >= CALL_BACK_RH_PCT else "is not"
        sentences.append(
            f"A change of {change:.0f} % {word} enough to call a call-back climate before workmanship (from "
            f"{CALL_BACK_RH_PCT:.0f} % on; our rule from the same reports). Note the humidity at every tuning."
        )
    if report.temperature is not None:
        one = report.temperature
        sentences.append(
            f"Temperature alone: {figure(one.settled_cents, plus=True)} cents once strings and frame have followed; up "
            f"to {figure(one.at_once_cents, plus=True)} cents while only the strings have."
        )
    return sentences


def _verdict(drift: DriftJudgement) -> str:
    """Return the verdict on a drift, with its level and its scatter."""
    words = {
        DriftVerdict.NO_CHANGE: "The pitch did not change beyond what repeats.",
        DriftVerdict.CLIMATE: "The drift fits climate.",
        DriftVerdict.PARTLY: "The drift is climate, and something else.",
        DriftVerdict.NOT_CLIMATE: "The drift does not fit climate.",
        DriftVerdict.CANNOT_TELL: "Whether the drift is climate cannot be told.",
    }
    shape = drift.shape
    if shape is None:
        return words[drift.verdict]
    tenor = "" if shape.tenor_cents is None else f", A3 to A4 {figure(shape.tenor_cents, plus=True)}"
    return (
        f"{words[drift.verdict]} {shape.n} notes moved by {figure(shape.mean_cents, plus=True)} cents on average{tenor}"
        f"; single notes scatter about the curve {_scatter(shape.scatter_cents)} beyond reading and repeating."
    )


def _scatter(scatter: Measured) -> str:
    """Return a scatter in words; what rounds to nothing is no figure."""
    if scatter.value < _NO_SCATTER_CENTS:
        most = scatter.half_width
        return "not at all" if most < _NO_SCATTER_CENTS else f"not at all, or by less than {most:.2g} cents,"
    return f"by {figure(scatter)} cents"


_NO_SCATTER_CENTS: Final = 0.005
"""Less than anybody prints."""
