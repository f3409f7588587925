"""Scale and hammers of Chabassier & Duruflé (2012), INRIA RT-0425, Appendix A."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.closeness import assert_close

from strikeline.keyboard import equal_tempered_hz
from strikeline.physics.strings import fundamental_hz, plain_inharmonicity_b, plain_linear_density_kg_per_m
from strikeline.synthesis.hammer import typical_hammer
from strikeline.synthesis.scale import StringUnison
from strikeline.units import cents_from_ratio

ROWS = list(csv.DictReader((Path(__file__).parent / "scale.csv").read_text().splitlines()))
YOUNG_MODULUS_PA = 2.02e11


def column(name: str) -> NDArray[np.float64]:
    return np.array([float(row[name]) for row in ROWS])


LENGTH_MM, DIAMETER_MM, TENSION_N = column("length_m") * 1e3, column("diameter_mm"), column("tension_n")
MU = plain_linear_density_kg_per_m(diameter_mm=DIAMETER_MM, density_kg_per_m3=column("density_kg_per_m3"))


def test_linear_densities_agree_with_the_table() -> None:
    # half a unit of the printed diameter (0.0005 mm) moves d² by 0.13 % at most
    assert_close(MU * 1e3, column("linear_density_g_per_m"), rtol=1.5e-3, atol=0, why="rounding of the diameter")


def test_fundamentals_agree_with_the_table() -> None:
    f0_hz = fundamental_hz(length_mm=LENGTH_MM, tension_n=TENSION_N, linear_density_kg_per_m=MU)
    rounding = 0.5 / LENGTH_MM + 0.25 / TENSION_N + 0.0005 / DIAMETER_MM  # half units of L, T and d
    worst = np.max(np.abs(f0_hz / column("f0_hz") - 1.0) / rounding)
    assert worst <= 1.0, f"off by {worst:.2f} times the rounding of the printed figures"


def test_inharmonicities_agree_with_the_table() -> None:
    b = plain_inharmonicity_b(
        diameter_mm=DIAMETER_MM, length_mm=LENGTH_MM, tension_n=TENSION_N, young_modulus_pa=YOUNG_MODULUS_PA
    )
    printed = column("inharmonicity_b")
    half_unit = 0.005 / (printed / 10 ** np.floor(np.log10(printed)))  # B is given to three figures
    rounding = 4 * 0.0005 / DIAMETER_MM + 2 * 0.5 / LENGTH_MM + 0.5 / TENSION_N + half_unit
    worst = np.max(np.abs(b / printed - 1.0) / rounding)
    assert worst <= 1.0, f"off by {worst:.2f} times the rounding of the printed figures"


def test_the_printed_tensions_tune_the_piano_to_a_441() -> None:
    f0_hz = fundamental_hz(length_mm=LENGTH_MM, tension_n=TENSION_N, linear_density_kg_per_m=MU)
    cents = cents_from_ratio(f0_hz / equal_tempered_hz(column("midi") - 20, a4_hz=441.0))
    middle = (column("midi") >= 33) & (column("midi") <= 72)
    assert_close(cents[middle], np.zeros(middle.sum()), rtol=0, atol=2.0, why="lengths of 0.34 m are printed to 1 mm")


@pytest.mark.parametrize(
    "row", [row for row in ROWS if row["density_kg_per_m3"] == "7850"], ids=lambda row: row["midi"]
)
def test_a_synthesised_plain_string_comes_out_with_the_published_tension_and_b(row: dict[str, str]) -> None:
    string = StringUnison(
        key=int(row["midi"]) - 20,
        speaking_length_mm=float(row["length_m"]) * 1e3,
        core_diameter_mm=float(row["diameter_mm"]),
        wrap_diameter_mm=None,
        f0_hz=(float(row["f0_hz"]),) * 3,
    )
    rounding = 1.0 / string.speaking_length_mm + 0.001 / string.core_diameter_mm
    tension_n, b = float(row["tension_n"]), float(row["inharmonicity_b"])
    assert_close(string.tension_n, tension_n, rtol=rounding, atol=0.5, why="L to 1 mm, d to 1 µm, T to 1 N")
    assert_close(string.inharmonicity_b, b, rtol=2 * rounding + 0.005, atol=0, why="the same, and B to 3 figures")


@pytest.mark.parametrize(("midi", "mass_g", "exponent", "stiffness"), [(24, 10.95, 2.310, 7.16e7)])
def test_bass_hammers_are_those_of_the_report(midi: int, mass_g: float, exponent: float, stiffness: float) -> None:
    hammer = typical_hammer(midi - 20)
    assert_close(hammer.mass_kg * 1e3, mass_g, rtol=0, atol=0.005, why="printed to 0.01 g")
    assert_close(hammer.exponent, exponent, rtol=0, atol=5e-4, why="printed to 0.001")
    reference_m = 3e-4
    assert_close(hammer.stiffness_n, stiffness * reference_m**hammer.exponent, rtol=2e-3, atol=0, why="3 figures")
