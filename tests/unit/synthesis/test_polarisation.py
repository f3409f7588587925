"""Strings that swing sideways, loose pins, late hammers and muted strings."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.closeness import assert_close

from strikeline.errors import InputError
from strikeline.synthesis.instrument import KeyState, upright_1920s
from strikeline.synthesis.performance import KeyBlow, Performance
from strikeline.synthesis.polarisation import FalseBeat, Polarisation
from strikeline.synthesis.rendering import render_pass
from strikeline.synthesis.room import DRY
from strikeline.synthesis.scale import StringUnison
from strikeline.synthesis.sideways import let_swing_sideways
from strikeline.synthesis.truth import TrueStrike
from strikeline.synthesis.unison import UnisonModes, couple_strings, string_decay_per_s

PARTIAL = np.arange(1, 9)


def strings(*f0_hz: float, polarisation: Polarisation | None, false_beats: tuple[FalseBeat, ...] = ()) -> StringUnison:
    return StringUnison(
        key=49,
        speaking_length_mm=400.0,
        core_diameter_mm=1.0,
        wrap_diameter_mm=None,
        f0_hz=f0_hz,
        polarisation=polarisation,
        false_beats=false_beats,
    )


def on_bridge(unison: StringUnison, ratio: complex = (1 + 0.5j) / 900, **more: object) -> UnisonModes:
    admittance = np.full(PARTIAL.size, ratio / unison.impedance_kg_per_s, dtype=np.complex128)
    share = (1.0,) * unison.n_strings
    return couple_strings(unison, PARTIAL, admittance_s_per_kg=admittance, share=share, **more)  # type: ignore[arg-type]


def test_a_string_that_is_not_struck_sideways_sounds_as_one_that_cannot_swing_sideways() -> None:
    plain = on_bridge(strings(439.7, 440.4, polarisation=None))
    still = on_bridge(strings(439.7, 440.4, polarisation=Polarisation(blow_ratio=(0.0, 0.0))))
    assert still.weight.shape == (8, 4)
    heard = np.abs(still.weight) > 1e-9
    assert (heard.sum(axis=1) == 2).all()
    assert_close(
        np.sort(still.weight[heard].real), np.sort(plain.weight.reshape(-1).real), rtol=1e-9, atol=1e-9, why="rounding"
    )


def test_one_string_has_a_prompt_sound_and_a_fainter_slower_aftersound_at_another_frequency() -> None:
    modes = on_bridge(strings(440.0, polarisation=Polarisation(admittance_db=-15.0)))
    order = np.argsort(-np.abs(modes.weight), axis=1)
    pole = np.take_along_axis(modes.pole_per_s, order, axis=1)
    weight = np.take_along_axis(np.abs(modes.weight), order, axis=1)
    assert (pole[:, 0].real < pole[:, 1].real).all()
    after_db = 20.0 * np.log10(weight[:, 1] / weight[:, 0])
    assert_close(after_db, np.full(8, 20 * np.log10(0.2 * 0.25)), rtol=0, atol=1e-6, why="share times radiation")
    kappa = 2.0 * 440.0 / 900.0
    apart = pole[:, 1] - pole[:, 0]
    expected = kappa * (1.0 + 0.5j) * (1.0 - 10.0 ** (-15.0 / 20.0))
    assert_close(apart.real, np.full(8, expected.real), rtol=1e-6, atol=0, why="what the bridge takes less; rounding")
    assert_close(apart.imag, np.full(8, expected.imag), rtol=1e-6, atol=0, why="the same at all partials, not n times")


def test_a_loose_pin_splits_one_string_by_its_rate_far_below_its_resonance() -> None:
    beat = FalseBeat(string=0, rate_hz=0.8, axis_rad=np.pi / 4, pin_resonance_hz=1e6)
    modes = on_bridge(strings(440.0, polarisation=Polarisation(), false_beats=(beat,)), ratio=0.0)
    split_hz = np.abs(np.diff(modes.pole_per_s.imag, axis=1))[:, 0] / (2 * np.pi)
    stretched = PARTIAL * np.sqrt(1 + strings(440.0, polarisation=None).inharmonicity_b * PARTIAL**2)
    assert_close(split_hz, 0.8 * stretched, rtol=1e-3, atol=0, why="pin loss and (f/f_p)², both below 1e-3")
    level = np.abs(modes.weight)
    assert (level.min(axis=1) > 0.2 * level.max(axis=1)).all(), "both are heard: it beats"


def test_a_pin_is_what_the_wave_equation_of_a_string_on_a_mass_and_a_spring_says() -> None:
    r"""A string that ends on a mass on a spring: cot(π·ω/ω_1) = -i/(Y·Z), Y = iω/(k - m·ω²), as for a bridge."""
    rate_hz, resonance_hz, f0_hz = 0.1, 3000.0, 440.0
    beat = FalseBeat(string=0, rate_hz=rate_hz, pin_resonance_hz=resonance_hz, pin_loss_ratio=0.0)
    omega_1, omega_p = 2 * np.pi * f0_hz, 2 * np.pi * resonance_hz
    z_over_k = rate_hz / f0_hz / (2 * f0_hz)  # i·2·f0·Z·ω_1/k = i·2π·rate
    for n in (1, 4, 6, 8):
        omega = n * omega_1
        for _ in range(60):
            admittance_times_z = 1j * omega * z_over_k / (1 - (omega / omega_p) ** 2)
            target = (-1j / admittance_times_z).real
            omega = n * omega_1 + omega_1 / np.pi * np.arctan(1.0 / target)
        found = -beat.coupling_per_s(np.array([n * f0_hz]), first_hz=f0_hz)[0]
        assert_close(found.imag, omega - n * omega_1, rtol=0.01, atol=0, why="first order in the rate")


def test_pins_and_sideways_bridges_take_energy_and_never_give_any() -> None:
    beats = (FalseBeat(string=0, rate_hz=1.5, axis_rad=0.6), FalseBeat(string=2, rate_hz=0.7, axis_rad=1.0))
    sideways = Polarisation(radiation_ratio=1.0, blow_ratio=(0.3, -0.2, 0.1))  # heard alike: motion is amplitude
    modes = on_bridge(strings(439.5, 440.0, 440.8, polarisation=sideways, false_beats=beats), lag_s=(0.0, 4e-5, 9e-5))
    t = np.linspace(0.0, 2.0, 500)
    for k in range(PARTIAL.size):
        going = modes.start[k][:, None] * np.exp(np.outer(modes.pole_per_s[k], t))
        energy = (np.abs(modes.motion[k] @ going) ** 2).sum(axis=0)
        assert (np.diff(energy) < 0.0).all()


def test_a_string_met_late_starts_late() -> None:
    unison = strings(439.0, 441.0, polarisation=None)
    modes = on_bridge(unison, ratio=0.0, lag_s=(0.0, 1e-4))
    early, late = np.take_along_axis(modes.weight, np.argsort(modes.pole_per_s.imag, axis=1), axis=1).T
    mean_hz = modes.pole_per_s.imag.mean(axis=1) / (2 * np.pi)
    assert_close(np.angle(early), np.zeros(8), rtol=0, atol=1e-9, why="rounding")
    turned = np.exp(-2j * np.pi * mean_hz * 1e-4)
    assert_close(np.abs(late - turned), np.zeros(8), rtol=0, atol=1e-9, why="phase -ω·lag; rounding")


def test_a_string_with_the_others_muted_moves_by_its_own_coupling_only() -> None:
    unison = strings(439.6, 440.0, 440.5, polarisation=None)
    alone = on_bridge(unison, muted=(0, 2))
    assert alone.pole_per_s.shape == (8, 1)
    kappa = 2.0 * unison.mean_f0_hz * (1 + 0.5j) / 900
    law = unison.string_partials_hz(PARTIAL, string_f0_hz=unison.f0_hz)[:, 1]
    expected = 2j * np.pi * law - string_decay_per_s(PARTIAL, unison) - kappa
    assert_close(np.abs(alone.pole_per_s[:, 0] - expected), np.zeros(8), rtol=0, atol=1e-6, why="rounding at 2e4 1/s")


def render(state: KeyState, *, sideways_seed: int | None = None) -> tuple[np.ndarray, TrueStrike]:
    piano = upright_1920s(7).replacing(state)
    if sideways_seed is not None:
        piano = let_swing_sideways(piano, seed=sideways_seed, false_beats_hz={state.key: {1: 0.9}})
    blow = KeyBlow(key=state.key, at_s=0.1, speed_m_per_s=2.5, hold_s=1.5)
    rendered = render_pass(
        piano,
        Performance(blows=(blow,), duration_s=2.0),
        sample_rate_hz=16_000,
        seed=1,
        room=replace(DRY, noise_db=-300),
    )
    return rendered.samples, rendered.truth.strikes[0]


def test_the_truth_of_a_muted_note_names_only_the_string_that_sounds() -> None:
    state = upright_1920s(7)[55]
    _, whole = render(state)
    _, alone = render(state.only_string(2))
    assert [string.place for string in whole.strings] == [0, 1, 2]
    assert [string.place for string in alone.strings] == [2]
    assert alone.strings[0] == whole.strings[2]
    assert alone.f0_hz == state.unison.f0_hz[2]
    assert all(len(partial.modes) == 1 for partial in alone.partials)


def test_the_three_strings_alone_make_up_the_whole_first_moment() -> None:
    """Coupling takes time: at the blow each string has the amplitude that it would have alone."""
    state = upright_1920s(7)[55]

    def first(strike: TrueStrike) -> complex:
        return complex(sum(10 ** (m.level_db / 20) * np.exp(1j * m.phase_rad) for m in strike.partials[0].modes))

    together = first(render(state)[1])
    apart = sum(first(render(state.only_string(string))[1]) for string in range(3))
    assert_close(
        abs(apart - together) / abs(together), 0.0, rtol=0, atol=1e-3, why="modes under the floor are left out"
    )


def test_modes_of_the_truth_add_up_to_the_sound() -> None:
    samples, strike = render(upright_1920s(7)[55], sideways_seed=3)
    assert strike.strings[1].false_beat_hz == 0.9
    start, rate_hz = round(0.1 * 16_000), 16_000
    t = np.arange(2000, 20_000) / rate_hz
    summed = np.zeros(t.size)
    for mode in (m for partial in strike.partials for m in partial.modes):
        amplitude = 10 ** ((mode.level_db - mode.decay_db_per_s * t) / 20)
        summed += amplitude * np.cos(2 * np.pi * mode.f_hz * t + mode.phase_rad)
    sound = samples[start + 2000 : start + 20_000]
    knock = 0.02 * np.abs(sound).max()
    assert np.sqrt(np.mean((summed - sound) ** 2)) < knock, "knock and modes 80 dB down are left out"


def test_a_piano_may_be_let_swing_sideways_again_and_again_alike() -> None:
    piano = upright_1920s(7)
    first, second = (let_swing_sideways(piano, seed=4, false_beats_hz={60: {0: 1.2}}) for _ in range(2))
    assert first.keys == second.keys
    assert first[60].unison.false_beats[0].rate_hz == 1.2
    assert first[61].unison.polarisation is not None
    assert not first[61].unison.false_beats
    with pytest.raises(InputError, match="key"):
        let_swing_sideways(piano, seed=4, false_beats_hz={88: {0: 1.2}})


@pytest.mark.parametrize(
    ("make", "name"),
    [
        (lambda: FalseBeat(string=0, rate_hz=0.0), "rate_hz"),
        (lambda: Polarisation(admittance_db=3.0), "admittance_db"),
        (lambda: strings(440.0, polarisation=None, false_beats=(FalseBeat(string=0, rate_hz=1.0),)), "polarisation"),
        (
            lambda: strings(440.0, polarisation=Polarisation(), false_beats=(FalseBeat(string=1, rate_hz=1.0),)),
            "string",
        ),
        (lambda: replace(strings(440.0, 441.0, polarisation=None), departure_cents=((1.0,),)), "departure_cents"),
        (lambda: upright_1920s(7)[55].only_string(3), "string"),
    ],
)
def test_figures_that_make_no_sense_are_refused(make: object, name: str) -> None:
    assert callable(make)
    with pytest.raises(InputError, match=name):
        make()
