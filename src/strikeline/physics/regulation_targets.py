"""Which figures of blow, dip and aftertouch go together: two are chosen and the third follows, or all three give.

Which one floats is said openly.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np
from numpy.typing import NDArray

from strikeline.errors import InputError
from strikeline.measured import Measured, carried, carry, measured_from
from strikeline.physics.regulation import aftertouch_mm, blow_for_aftertouch_mm, dip_for_aftertouch_mm


class Floats(StrEnum):
    """Which of the three follows from the others."""

    BLOW = "blow"
    DIP = "dip"
    AFTERTOUCH = "aftertouch"
    SHARED = "shared"
    """All three give, each by its share of what is usual."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Targets:
    """What the notes are to be regulated to; what follows from R has the error that R gives it."""

    floats: Floats
    dip_mm: Measured
    blow_mm: Measured
    aftertouch_mm: Measured
    set_off_mm: float
    lost_motion_mm: float
    checking_mm: float | None


def find_targets(
    ratio: Measured,
    *,
    floats: Floats,
    set_off_mm: float,
    lost_motion_mm: float,
    dip_mm: float | None = None,
    blow_mm: float | None = None,
    aftertouch_mm: float | None = None,
    checking_mm: float | None = None,
) -> Targets:
    """Return the figures that go together on this action, two of blow, dip and aftertouch given.

    Parameters
    ----------
    ratio : Measured
        R of this action, with its error.
    floats : Floats
        Which one follows; it must not be given.
    set_off_mm, lost_motion_mm : float
        Wanted.
    dip_mm, blow_mm, aftertouch_mm : float or None
        Wanted, but for the one that floats.
    checking_mm : float or None
        Wanted; ``None`` leaves the checks alone.

    Returns
    -------
    Targets

    Raises
    ------
    InputError
        If not exactly the other two are given, or no action could have what follows from them.

    Examples
    --------
    >>> found = find_targets(
    ...     Measured(5.0, 0.1), floats=Floats.DIP, blow_mm=46.0, aftertouch_mm=1.1, set_off_mm=3.0, lost_motion_mm=0.0
    ... )
    >>> round(found.dip_mm.value, 2), round(found.dip_mm.se, 2)
    (9.7, 0.17)
    """
    given = {Floats.DIP: dip_mm, Floats.BLOW: blow_mm, Floats.AFTERTOUCH: aftertouch_mm}
    wanted = {what: Measured(value, 0.0) for what, value in given.items() if value is not None}
    if floats is Floats.SHARED or set(wanted) != set(given) - {floats}:
        needed = " and ".join(what.value for what in given if what is not floats)
        raise InputError(f"{floats.value} floats, so give {needed} and nothing for {floats.value}", name=floats.value)
    fixed = {"set_off_mm": set_off_mm, "lost_motion_mm": lost_motion_mm}
    chosen = {f"{what.value}_mm": value.value for what, value in wanted.items()}
    wanted[floats] = carry(_FOLLOWS[floats], ratio=ratio, **chosen, **fixed)
    return Targets(
        floats=floats,
        dip_mm=wanted[Floats.DIP],
        blow_mm=wanted[Floats.BLOW],
        aftertouch_mm=wanted[Floats.AFTERTOUCH],
        set_off_mm=set_off_mm,
        lost_motion_mm=lost_motion_mm,
        checking_mm=checking_mm,
    )


def share_targets(
    ratio: Measured,
    *,
    set_off_mm: float,
    lost_motion_mm: float,
    usual: Mapping[Floats, tuple[float, float]],
    checking_mm: float | None = None,
) -> Targets:
    """Return figures that go together on this action, all three as near to what is usual as the ratio lets them.

    Each figure may leave the middle of its range in proportion to the range: the sum of squares of departure over half
    range is least, under the relation of blow, dip and aftertouch. A range of no width is kept.

    Parameters
    ----------
    ratio : Measured
        R of this action, with its error.
    set_off_mm, lost_motion_mm : float
        Wanted.
    usual : mapping of Floats to tuple of float
        Middle and half range of blow, dip and aftertouch; half range 0 for a figure that is wanted as it is.
    checking_mm : float or None
        Wanted; ``None`` leaves the checks alone.

    Returns
    -------
    Targets

    Raises
    ------
    InputError
        If all three are to be kept.

    Notes
    -----
    Least squares under one linear condition (Lagrange); how to share is our reasoning. Technicians speak of priority
    of dip, priority of aftertouch, or splitting the difference (technicians' mailing-list archive, 2002-10, 2009-02).

    Examples
    --------
    >>> usual = {Floats.BLOW: (46.0, 1.75), Floats.DIP: (10.25, 0.8), Floats.AFTERTOUCH: (1.14, 0.38)}
    >>> found = share_targets(Measured(5.2, 0.05), set_off_mm=3.0, lost_motion_mm=0.1, usual=usual)
    >>> round(found.blow_mm.value, 1), round(found.dip_mm.value, 2), round(found.aftertouch_mm.value, 2)
    (46.5, 9.72, 1.26)
    """
    (blow, w_blow), (dip, w_dip), (after, w_after) = (
        (usual[what][0], usual[what][1] ** 2) for what in (Floats.BLOW, Floats.DIP, Floats.AFTERTOUCH)
    )
    if w_blow + w_dip + w_after == 0.0:
        raise InputError(
            "blow, dip and aftertouch cannot all be wanted: one of them follows; leave one out", name="want"
        )

    def shared(ratio_: float) -> NDArray[np.float64]:
        missing = set_off_mm - ratio_ * lost_motion_mm - (blow - ratio_ * dip + ratio_ * after)
        step = missing / (w_blow + ratio_**2 * (w_dip + w_after))
        return np.array([blow + w_blow * step, dip - ratio_ * w_dip * step, after + ratio_ * w_after * step])

    value, shares = carried(shared, {"ratio_": ratio})
    found = [measured_from(value[place], shares[:, place]) for place in range(3)]
    return Targets(
        floats=Floats.SHARED,
        blow_mm=found[0],
        dip_mm=found[1],
        aftertouch_mm=found[2],
        set_off_mm=set_off_mm,
        lost_motion_mm=lost_motion_mm,
        checking_mm=checking_mm,
    )


_FOLLOWS: Final[Mapping[Floats, Callable[..., NDArray[np.float64]]]] = {
    Floats.DIP: dip_for_aftertouch_mm,
    Floats.BLOW: blow_for_aftertouch_mm,
    Floats.AFTERTOUCH: aftertouch_mm,
}
