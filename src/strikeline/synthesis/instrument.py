"""A whole invented piano as data: strings as tuned, hammers as worn, dampers, board and faults, all from one seed."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.errors import InputError
from strikeline.keyboard import SHORT_COMPASS, Compass, equal_tempered_hz
from strikeline.physics.stretch import natural_stretch, typical_inharmonicity_b
from strikeline.synthesis.damper import Damper, usual_damper_t60_s
from strikeline.synthesis.hammer import Hammer, typical_hammer
from strikeline.synthesis.scale import SMALL_GRAND, UPRIGHT_1920S, ScaleDesign, StringUnison, lay_out_strings
from strikeline.synthesis.soundboard import Soundboard, build_soundboard
from strikeline.units import A4_STANDARD_HZ, cents_from_ratio, ratio_from_cents

_A4_KEY_TYPICAL_B: Final = float(typical_inharmonicity_b(49))


class KeyCondition(StrEnum):
    """What happens when the key goes down."""

    SOUND = "sound"
    WEAK = "weak"
    """The hammer arrives at a third of its speed."""
    DEAD = "dead"
    """The action is heard, no string is."""
    MISSING = "missing"
    """There is no key: nothing is heard."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KeyState:
    """One note of the piano, from key to string."""

    unison: StringUnison
    hammer: Hammer
    damper_t60_s: float | None
    """Time in which the damper takes partial 1 down by 60 dB; ``None`` on notes without damper."""
    condition: KeyCondition = KeyCondition.SOUND
    muted: tuple[int, ...] = ()
    """Places of strings that a wedge keeps silent, from the left, 0 for the first. The hammer still meets them."""
    damper: Damper | None = None
    """A damper described in full; ``None`` for the plain one that `damper_t60_s` describes."""

    @property
    def key(self) -> int:
        """Key number."""
        return self.unison.key

    @property
    def free(self) -> tuple[int, ...]:
        """Places of the strings that sound."""
        return tuple(string for string in range(self.unison.n_strings) if string not in self.muted)

    def only_string(self, string: int) -> KeyState:
        """Return the same note with all its strings muted but one, at this place from the left, 0 for the first."""
        if string not in range(self.unison.n_strings):
            raise InputError.of("string", string, f"0 to {self.unison.n_strings - 1}")
        return replace(self, muted=tuple(other for other in range(self.unison.n_strings) if other != string))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SynthesisedPiano:
    """A piano that can be played by `strikeline.synthesis.rendering.render_pass`."""

    description: str
    a4_hz: float
    compass: Compass
    pitch_level_cents: float
    """How far the whole piano was set above its stretched tuning at `a4_hz`."""
    keys: tuple[KeyState, ...]
    soundboard: Soundboard
    knock_db: float
    """Level of the blow's knock against that of an invented sound action, dB."""
    release_noise_db: float | None = None
    """Level of the noise of key and damper coming back, against that of a usual blow's knock, dB; ``None`` for none."""
    after_ring_db: float | None = None
    """Level at which other free strings are set going through the bridge, against the partial that does it, dB (-40 to
    -60 is usual, no source); ``None`` for not at all."""

    def __getitem__(self, key: int) -> KeyState:
        """Return the state of one key."""
        if key not in self.compass:
            raise InputError.of("key", key, f"a key of {self.compass}")
        return self.keys[key - self.compass.lowest]

    def replacing(self, *states: KeyState) -> SynthesisedPiano:
        """Return the same piano with other states for some keys."""
        new = {state.key: state for state in states}
        for key in new:
            self[key]
        return replace(self, keys=tuple(new.get(state.key, state) for state in self.keys))


@dataclass(frozen=True, slots=True, kw_only=True)
class Upkeep:
    """How well a piano is kept: what separates it from its design."""

    pitch_level_cents: float
    tuning_scatter_cents: float
    """Standard deviation of each note about the smooth tuning."""
    unison_scatter_cents: float
    """Standard deviation of each string about its note."""
    drift_cents: Callable[[int], float] = field(default=lambda _key: 0.0)
    """Smooth departure of the tuning, by key."""
    wear: Callable[[int], float] = field(default=lambda _key: 0.0)
    """Hammer wear by key, 0 to 1."""
    missing_keys: Collection[int] = ()
    dead_keys: Collection[int] = ()
    weak_keys: Collection[int] = ()
    bad_unisons_cents: dict[int, tuple[float, ...]] = field(default_factory=dict)
    """Strings of some notes set apart by hand, cents from the note's pitch."""


def build_piano(
    *, description: str, compass: Compass, design: ScaleDesign, upkeep: Upkeep, seed: int, knock_db: float = 0.0
) -> SynthesisedPiano:
    """Return an invented piano; the same arguments give the same piano.

    Parameters
    ----------
    description : str
        A line for people.
    compass : Compass
        Its keys, at most A0 to C8.
    design : ScaleDesign
        Its stringing.
    upkeep : Upkeep
        Its tuning, wear and faults.
    seed : int
        Chance: tuning and string scatter, windings, uneven hammers, soundboard.
    knock_db : float
        Louder or softer action noise than usual.

    Returns
    -------
    SynthesisedPiano
        Tuned with the natural stretch of its own strings to A4 = 440 Hz, then moved as `upkeep` says.

    Raises
    ------
    InputError
        If the compass exceeds A0 to C8.
    """
    if compass.lowest < 1 or compass.highest > 88:
        raise InputError.of("compass", str(compass), "within A0-C8, for which the scales are designed")
    rng = np.random.default_rng(seed)
    layout = lay_out_strings(compass=compass, design=design, a4_hz=A4_STANDARD_HZ)
    layout = tuple(replace(u, stiffness_ratio=_stiffness_scatter(u, rng)) for u in layout)
    tuned_hz = _smooth_tuning_hz(layout) * ratio_from_cents(
        upkeep.pitch_level_cents
        + np.array([upkeep.drift_cents(key) for key in compass])
        + upkeep.tuning_scatter_cents * rng.standard_normal(len(compass))
    )
    keys = tuple(_key_state(u, float(f0), upkeep, rng) for u, f0 in zip(layout, tuned_hz, strict=True))
    return SynthesisedPiano(
        description=description,
        a4_hz=A4_STANDARD_HZ,
        compass=compass,
        pitch_level_cents=upkeep.pitch_level_cents,
        keys=keys,
        soundboard=build_soundboard(seed + 1),
        knock_db=knock_db,
    )


def piano(
    *,
    compass: Compass,
    seed: int,
    pitch_level_cents: float,
    missing_keys: Collection[int] = (),
    dead_keys: Collection[int] = (),
    weak_keys: Collection[int] = (),
) -> SynthesisedPiano:
    """Return an invented small grand in fair order, for benchmarks; see `build_piano`.

    Parameters
    ----------
    compass : Compass
        Its keys, at most A0 to C8.
    seed : int
        Chance.
    pitch_level_cents : float
        Its pitch against A4 = 440 Hz.
    missing_keys, dead_keys, weak_keys : collection of int
        Faults, see `KeyCondition`.
    """
    upkeep = Upkeep(
        pitch_level_cents=pitch_level_cents,
        tuning_scatter_cents=2.0,
        unison_scatter_cents=0.6,
        wear=lambda _key: 0.2,
        missing_keys=missing_keys,
        dead_keys=dead_keys,
        weak_keys=weak_keys,
    )
    return build_piano(
        description="invented small grand", compass=compass, design=SMALL_GRAND, upkeep=upkeep, seed=seed
    )


def upright_1920s(seed: int) -> SynthesisedPiano:
    """Return the demo's piano: an invented 85-note upright of the 1920s, flat, with worn hammers in the middle.

    About 18 cents flat, the lowest plain strings 6 cents more (they follow the air's moisture most; common practice, no
    source); hammers worn from E4 to A5; unisons loose, four of them bad; B♭6 weak.

    Parameters
    ----------
    seed : int
        Chance; the faults named above stay where they are.
    """
    upkeep = Upkeep(
        pitch_level_cents=-18.0,
        tuning_scatter_cents=2.2,
        unison_scatter_cents=0.9,
        drift_cents=lambda key: -6.0 * float(np.exp(-(((key - 30) / 5.0) ** 2))) if key > 28 else 0.0,
        wear=lambda key: 0.1 + 0.85 * float(np.exp(-(((key - 52) / 9.5) ** 8))),
        weak_keys=(74,),
        bad_unisons_cents={
            37: (-4.5, 0.5, 1.0),
            46: (-2.5, 0.0, 3.5),
            55: (0.0, 0.5, -7.0),
            66: (-6.0, 1.0, 4.0),
        },
    )
    return build_piano(
        description="invented 85-note upright of the 1920s, hammers worn in the middle",
        compass=SHORT_COMPASS,
        design=UPRIGHT_1920S,
        upkeep=upkeep,
        seed=seed,
        knock_db=3.0,
    )


def _stiffness_scatter(unison: StringUnison, rng: np.random.Generator) -> float:
    """Draw B over its formula: about 4 % on wound and 1.2 % on plain strings (wire 0.3 % in diameter)."""
    return float(np.exp((0.04 if unison.is_wound else 0.012) * rng.standard_normal()))


def _smooth_tuning_hz(layout: tuple[StringUnison, ...]) -> NDArray[np.float64]:
    """Return f0 of each note in the natural stretch of these strings; the first partial of A4 at 440 Hz."""
    key = np.array([u.key for u in layout])
    b = np.array([u.inharmonicity_b / u.stiffness_ratio for u in layout])
    a4_b = float(b[key == 49][0]) if (key == 49).any() else _A4_KEY_TYPICAL_B
    stretch = natural_stretch(key, inharmonicity_b=b, a4_inharmonicity_b=a4_b)
    return np.asarray(equal_tempered_hz(key, a4_hz=A4_STANDARD_HZ) * ratio_from_cents(stretch.f0_cents))


def _key_state(unison: StringUnison, f0_hz: float, upkeep: Upkeep, rng: np.random.Generator) -> KeyState:
    """Tune the strings of one note, wear its hammer and set its faults."""
    key, n = unison.key, unison.n_strings
    scatter = upkeep.unison_scatter_cents * rng.standard_normal(3)[:n]
    offsets = np.asarray(upkeep.bad_unisons_cents.get(key, tuple(scatter - scatter.mean())))[:n]
    share = np.exp(0.08 * rng.standard_normal(3))[:n]
    condition = KeyCondition.SOUND
    for keys, fault in (
        (upkeep.weak_keys, KeyCondition.WEAK),
        (upkeep.dead_keys, KeyCondition.DEAD),
        (upkeep.missing_keys, KeyCondition.MISSING),
    ):
        condition = fault if key in keys else condition
    wear = float(np.clip(upkeep.wear(key) + 0.04 * rng.standard_normal(), 0.0, 1.0))
    return KeyState(
        unison=replace(unison, f0_hz=tuple(float(f) for f in f0_hz * ratio_from_cents(offsets))),
        hammer=typical_hammer(key, wear=wear, share=tuple(float(s) for s in share / share.mean())),
        damper_t60_s=usual_damper_t60_s(key),
        condition=condition,
    )


def cents_from_equal_temperament(unison: StringUnison, *, a4_hz: float) -> float:
    """Return the mean f0 of a unison against equal temperament, cents."""
    return float(cents_from_ratio(unison.mean_f0_hz / equal_tempered_hz(unison.key, a4_hz=a4_hz)))
