"""The unison of one note: what sounds, how it is heard, and each string where it can be told.

Three levels, never mixed. The modes of each strong partial are always given. The verdict follows from them alone. The
strings are told only if the partials agree on them: the same number of modes as strings in most partials, offsets that
are real and the same in cents from partial to partial, and shares of the blow that a hammer can give.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from strikeline.acoustics.law import fit_law
from strikeline.acoustics.unison_modes import PartialModes
from strikeline.acoustics.unison_odds import weigh_verdict
from strikeline.acoustics.unison_offsets import MeanOffsets, mean_offsets
from strikeline.acoustics.unison_result import Unison, UnisonVerdict
from strikeline.acoustics.unison_strings import PartialStrings, estimate_lean, separate_strings
from strikeline.measured import Measured
from strikeline.units import CENTS_PER_NEPER, cents_se, ratio_from_cents

_SHORTEST_S: Final = 0.5
"""Less sound than this holds no beat slower than two a second."""
_SURE: Final = 2.0 / 3.0
"""Probability from which a verdict is told: two to one (a choice)."""
_SHARE_RANGE: Final = (0.4, 2.0)
"""Shares of the blow that a hammer can give to a string (invented); below, it is a mode of something else."""
_REAL_SHARE: Final = 0.2
_LOUD_NEXT: Final = 0.35
"""A mode left out that is louder than this against the loudest (9 dB down) is one too many."""
_FAINT_MODE: Final = 0.15
"""A mode fainter than this against the loudest (16 dB down) can be the sideways swing of a string."""
_FEWEST: Final = 2
_MOST_SE_CENTS: Final = 0.15


@dataclass(frozen=True, slots=True, kw_only=True)
class _Demands:
    """What the partials must show before a number of strings is believed.

    Set on generated notes; those of the benchmark are others.
    """

    fewest: int
    """Partials, unless fewer show as many modes as strings."""
    agreeing_share: float
    """Of the partials that show as many modes as strings."""
    showing_share: float
    """Of all partials resolved."""
    most_scatter: float
    """Scatter of the offsets from partial to partial, over the smallest distance between neighbours."""
    most_uneven: float
    """Largest over smallest share of the blow: two strings in one place make a share of two."""
    most_coupling: float
    """Coupling over spread, both as intervals, in the middle partial."""


_DEMANDS: Final = {
    2: _Demands(
        fewest=3, agreeing_share=0.7, showing_share=0.6, most_scatter=0.1, most_uneven=1.35, most_coupling=0.35
    ),
    3: _Demands(
        fewest=2, agreeing_share=0.5, showing_share=0.5, most_scatter=0.3, most_uneven=np.inf, most_coupling=np.inf
    ),
}
_KNOWN_UNEVEN: Final = 3.0
"""Where the number of strings is known, an uneven blow is just that."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Strings:
    """The strings of one note, told apart."""

    f0_hz: tuple[Measured, ...]
    """Ascending."""
    spread_cents: Measured
    partials: tuple[PartialStrings, ...]
    """Those that agree."""


def judge_unison(
    modes: Sequence[PartialModes],
    *,
    heard_s: float,
    f0_hz: Measured | None,
    inharmonicity_b: Measured | None,
    n_strings: int | None,
    level_db: Sequence[float] | None = None,
) -> tuple[Unison, tuple[str, ...]]:
    """Judge a unison by the modes of its strong partials.

    Parameters
    ----------
    modes : sequence of PartialModes
        From `unison_modes.resolve_modes`.
    heard_s : float
        How long the note is heard.
    f0_hz, inharmonicity_b : Measured or None
        Of the note as a whole; without them the strings are not sought.
    n_strings : int or None
        How many strings sound, if that is known: 1, 2 or 3.
    level_db : sequence of float or None
        Of each partial at the onset, as it was measured apart from its modes; theirs if left out.

    Returns
    -------
    Unison
    tuple of str
        What could not be told, and why.
    """
    if heard_s < _SHORTEST_S or not modes:
        why = f"{heard_s:.2f} s of sound is too short" if heard_s < _SHORTEST_S else "no partial stands clear enough"
        return Unison(verdict=UnisonVerdict.CANNOT_TELL), (f"unison, strings: {why} to hear a beat",)
    odds, beats = weigh_verdict(modes, heard_s=heard_s, level_db=level_db)
    likeliest, next_likeliest, _ = odds.ranked
    if n_strings == 1:
        alone = None if f0_hz is None else (f0_hz,)
        return Unison(verdict=likeliest, beats=beats, string_f0_hz=alone, is_false_beat=bool(beats)), ()
    verdict = likeliest
    untold: tuple[str, ...] = ()
    if odds.most < _SURE:
        verdict, untold = UnisonVerdict.CANNOT_TELL, (_between(likeliest, next_likeliest),)
    strings = None
    # Strings that never part by half a turn have modes too faint or too near to be told apart.
    parts = likeliest is not UnisonVerdict.LOCKED
    if parts and f0_hz is not None and inharmonicity_b is not None:
        strings = find_strings(modes, f0_hz=f0_hz, inharmonicity_b=inharmonicity_b, n_strings=n_strings)
    if strings is None:
        law_is_known = f0_hz is not None and inharmonicity_b is not None
        why = (
            _WHY_NO_STRINGS[likeliest]
            if law_is_known
            else "strings: f0 and inharmonicity they would share are not known"
        )
        return Unison(verdict=verdict, beats=beats), (*untold, why)
    unison = Unison(
        verdict=verdict,
        beats=beats,
        string_f0_hz=strings.f0_hz,
        spread_cents=strings.spread_cents,
        rests_on=_rests_on(strings, is_known=n_strings is not None),
    )
    return unison, untold


_WORDS: Final = {UnisonVerdict.LOCKED: "no beat", UnisonVerdict.UNEVEN: "uneven", UnisonVerdict.BEATING: "beating"}


def _between(*verdicts: UnisonVerdict) -> str:
    """Return why no verdict is told, the gentler of the two named first."""
    gentler, other = (word for verdict, word in _WORDS.items() if verdict in verdicts)
    return f"unison: {gentler} or {other}; it lies too near the limit between them for what is known of its modes"


_ADVICE: Final = "to know them, record each alone with the others muted"
_WHY_NO_STRINGS: Final = {
    UnisonVerdict.LOCKED: f"strings: they sound as one; {_ADVICE}",
    UnisonVerdict.UNEVEN: f"strings: they pull each other through the bridge; {_ADVICE}",
    UnisonVerdict.BEATING: f"strings: the partials do not agree on how many beat; {_ADVICE}",
}


def _rests_on(strings: Strings, *, is_known: bool) -> str:
    number = f"{len(strings.f0_hz)} strings"
    given = "as said" if is_known else f"by the modes of {len(strings.partials)} partials"
    return f"{number}, {given}; alike in wire, on one bridge that takes from all together, struck at the same moment"


def find_strings(
    modes: Sequence[PartialModes], *, f0_hz: Measured, inharmonicity_b: Measured, n_strings: int | None
) -> Strings | None:
    """Return the strings if the partials agree on them, else ``None``.

    Parameters
    ----------
    modes : sequence of PartialModes
        Modes of several partials.
    f0_hz, inharmonicity_b : Measured
        Of the note as a whole: where the law of the strings is sought from.
    n_strings : int or None
        How many there are, if known: 2 or 3.
    """
    for number in (3, 2) if n_strings is None else (n_strings,):
        agreed = _agree(modes, number, inharmonicity_b=inharmonicity_b.value, is_known=n_strings is not None)
        if agreed is not None:
            partials, offset, lean = agreed
            return _strings(partials, offset, lean, f0_hz, inharmonicity_b)
    return None


def _agree(
    modes: Sequence[PartialModes], number: int, *, inharmonicity_b: float, is_known: bool
) -> tuple[list[PartialStrings], MeanOffsets, Measured] | None:
    demands = _DEMANDS[number]
    if sum(one.onset.size >= number for one in modes) < max(_FEWEST, demands.showing_share * len(modes)):
        return None
    lean = estimate_lean(modes, n_strings=number)
    seen = [one for m in modes if (one := separate_strings(m, n_strings=number, lean=lean)) is not None]
    good = [one for one in seen if _are_strings(one)]
    if len(good) < max(_FEWEST, min(demands.fewest, len(seen)), demands.agreeing_share * len(seen)):
        return None
    offsets = mean_offsets(good, inharmonicity_b=inharmonicity_b)
    gap = float(np.diff(offsets.cents).min())
    spread = float(offsets.cents[-1] - offsets.cents[0])
    share = np.median([np.abs(one.share) for one in good], axis=0)
    coupling = float(np.median([one.coupling_cents for one in seen]))
    agrees = (
        offsets.se_cents < min(_MOST_SE_CENTS, gap / 3.0)
        and offsets.scatter_cents < demands.most_scatter * gap
        and float(share.max() / share.min()) < (_KNOWN_UNEVEN if is_known else demands.most_uneven)
        and coupling < demands.most_coupling * spread
    )
    return (good, offsets, lean) if agrees else None


def _are_strings(one: PartialStrings) -> bool:
    """Return whether the modes of a partial can be those of strings struck together.

    Strings nearer than the bridge couples them have their shares of the blow counted together: apart, they are ill
    defined.
    """
    unreal = float(np.abs(one.offset_cents.imag).max())
    if unreal > max(3.0 * one.offset_sd_cents, _REAL_SHARE * one.spread_cents):
        return False
    if one.next_mode_ratio > _LOUD_NEXT or one.faintest_mode_ratio < _FAINT_MODE:
        return False
    apart = np.diff(one.offset_cents.real) > max(one.coupling_cents, 3.0 * one.offset_sd_cents)
    place = np.concatenate([[0], np.cumsum(apart)])
    shares = [float(np.abs(one.share[place == p].mean())) for p in range(place[-1] + 1)]
    return min(shares) > _SHARE_RANGE[0] and max(shares) < _SHARE_RANGE[1]


def _strings(
    partials: list[PartialStrings], offsets: MeanOffsets, lean: Measured, f0_hz: Measured, inharmonicity_b: Measured
) -> Strings:
    """Return the strings' own f0: the law fitted to their mean frequencies, moved by each one's offset."""
    law = fit_law(
        np.array([float(one.partial) for one in partials]),
        f_hz=np.array([one.mean_hz for one in partials]),
        se_cents=np.array([one.mean_sd_cents for one in partials]),
        f0_hz=f0_hz.value,
        inharmonicity_b=inharmonicity_b.value,
    )
    together = float(np.hypot(cents_se(law.f0_hz, law.f0_se_hz), CENTS_PER_NEPER * lean.se / (offsets.cents.size - 1)))
    f0 = law.f0_hz * ratio_from_cents(offsets.cents)
    se_cents = float(np.hypot(together, offsets.se_cents))
    return Strings(
        f0_hz=tuple(Measured(float(f), float(f) * se_cents / CENTS_PER_NEPER) for f in f0),
        spread_cents=Measured(float(offsets.cents[-1] - offsets.cents[0]), float(np.sqrt(2.0)) * offsets.se_cents),
        partials=tuple(partials),
    )
