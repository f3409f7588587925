"""What share of all a sample tells: Wilson's interval, and how it narrows where much of the whole was read."""

from __future__ import annotations

import math

from strikeline.errors import InputError
from strikeline.measured import HALF_WIDTHS_PER_SE


def share_interval(n_of_kind: float, n_read: float) -> tuple[float, float]:
    """Return the ends of the share, of things as many as can be, that a sample leaves open (95 %).

    Parameters
    ----------
    n_of_kind, n_read : float
        Things of a kind among those read, and those read, above 0.

    Raises
    ------
    InputError
        If the counts do not go together.

    References
    ----------
    .. [1] E. B. Wilson, J. Am. Stat. Assoc. 22, 209-212 (1927) (from memory).

    Examples
    --------
    >>> [round(end, 3) for end in share_interval(4, 16)]
    [0.102, 0.495]
    """
    if not (0 <= n_of_kind <= n_read and n_read > 0):
        raise InputError.of("counts", (n_of_kind, n_read), "some of those read, at least one read")
    share, z2 = n_of_kind / n_read, HALF_WIDTHS_PER_SE**2
    middle = (share + z2 / (2 * n_read)) / (1 + z2 / n_read)
    half = HALF_WIDTHS_PER_SE / (1 + z2 / n_read) * math.sqrt(share * (1 - share) / n_read + z2 / (4 * n_read**2))
    # At either end the interval reaches it exactly; rounding would miss it.
    return middle - half if n_of_kind > 0 else 0.0, middle + half if n_of_kind < n_read else 1.0


def count_interval(*, n_of_kind: int, n_read: int, n_all: int) -> tuple[float, float, float]:
    """Return how many of a set are of a kind, fewest, likely and most (95 %), from a sample of it.

    Parameters
    ----------
    n_of_kind, n_read : int
        Things of a kind among those read, and those read, at least one.
    n_all : int
        Things in the set.

    Raises
    ------
    InputError
        If the counts do not go together.

    Notes
    -----
    A sample of n out of N things counts as n·(N - 1)/(N - n) things of a set without end: the variance of a count
    drawn without putting back is that much smaller (hypergeometric distribution). How often the truth lies within is
    tested on invented sets (``tests/unit/physics/test_sample_share.py``).

    Examples
    --------
    >>> [round(count) for count in count_interval(n_of_kind=4, n_read=16, n_all=88)]
    [10, 22, 42]
    """
    if not (0 <= n_of_kind <= n_read <= n_all and n_read > 0):
        raise InputError.of("counts", (n_of_kind, n_read, n_all), "bad of read of all, at least one read")
    share = n_of_kind / n_read
    if n_read == n_all:
        return float(n_of_kind), float(n_of_kind), float(n_of_kind)
    counts_as = n_read * (n_all - 1) / (n_all - n_read)
    low, high = share_interval(share * counts_as, counts_as)
    sound = n_read - n_of_kind
    return max(float(n_of_kind), n_all * low), n_all * share, min(float(n_all - sound), n_all * high)
