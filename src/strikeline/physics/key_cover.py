"""How much ivory covers a keyboard: volume, mass and share of the instrument, from the number and thickness of tops."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from strikeline.errors import InputError
from strikeline.measured import Measured, carry

HEAD_MM: Final = (Measured(50.0, 1.5), Measured(22.5, 0.4))
"""Length and width of a head, in front of the sharps (from memory)."""
TAIL_MM: Final = (Measured(97.0, 4.0), Measured(13.0, 0.7))
"""Length and mean width of a tail, between the sharps (from memory)."""
IVORY_G_PER_CM3: Final = Measured(1.85, 0.07)
"""Density of ivory (from memory: 1.7 to 1.95)."""
LEAST_PIANO_KG: Final = 90.0
"""The lightest pianos (movers' pages: 200 lb)."""
HEAVIEST_STUFF_G_PER_CM3: Final = 7.9
"""No material of a piano that counts by volume is heavier than steel (from memory: 7.85), which bounds its volume from
below."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KeyCover:
    """Ivory on a keyboard."""

    volume_cm3: Measured
    mass_g: Measured
    most_share_pct: float
    """Of the volume of the instrument's material: at most this, were it as light as pianos come and all steel."""


def key_cover(n_tops: int, *, thickness_mm: Measured) -> KeyCover:
    """Return how much ivory so many tops hold.

    Parameters
    ----------
    n_tops : int
        Naturals covered with head and tail, 1 to 70.
    thickness_mm : Measured
        Of the ivory alone, 0.3 to 4 mm.

    Returns
    -------
    KeyCover

    Raises
    ------
    InputError
        If a value is not possible.

    Examples
    --------
    >>> cover = key_cover(52, thickness_mm=Measured(1.0, 0.1))
    >>> round(cover.volume_cm3.value), round(cover.mass_g.value), round(cover.most_share_pct, 1)
    (124, 230, 1.3)
    """
    if not 1 <= n_tops <= 70:
        raise InputError.of("tops", n_tops, "1 to 70 naturals")
    if not 0.3 <= thickness_mm.value <= 4.0:
        raise InputError.of("thickness_mm", thickness_mm.value, "0.3 to 4 mm")
    sizes = {
        "head": HEAD_MM[0],
        "head_width": HEAD_MM[1],
        "tail": TAIL_MM[0],
        "tail_width": TAIL_MM[1],
        "thick": thickness_mm,
    }

    def volume(head: float, head_width: float, tail: float, tail_width: float, thick: float) -> float:
        return n_tops * (head * head_width + tail * tail_width) * thick / 1000.0

    def mass(density: float, **own: float) -> float:
        return density * volume(**own)

    whole = carry(volume, **sizes)
    least_cm3 = LEAST_PIANO_KG * 1000.0 / HEAVIEST_STUFF_G_PER_CM3
    return KeyCover(
        volume_cm3=whole,
        mass_g=carry(mass, density=IVORY_G_PER_CM3, **sizes),
        most_share_pct=100.0 * (whole.value + whole.half_width) / least_cm3,
    )
