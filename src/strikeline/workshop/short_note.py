"""One short blow measured, in either of the two processes that listen."""

from __future__ import annotations

from strikeline.acoustics.listening import Note
from strikeline.acoustics.staccato import measure_staccato
from strikeline.acoustics.strikes import Strike
from strikeline.errors import SignalError


def measure_short_note(strike: Strike, *, key: int, f0_start_hz: float, a4_hz: float) -> Note:
    """Measure one short blow; one that cannot be measured is still a note, with the reason.

    Parameters
    ----------
    strike : Strike
        The sound of the blow and what follows until the next.
    key : int
        Key number, 49 for A4.
    f0_start_hz : float
        f0 to within about 20 cents.
    a4_hz : float
        Frequency of A4 that the instrument is compared with.
    """
    try:
        return measure_staccato(strike, key=key, f0_start_hz=f0_start_hz, a4_hz=a4_hz)
    except SignalError as error:
        return Note(key=key, onset_s=strike.onset_s, end_s=strike.end_s, cannot_tell=(f"everything: {error}",))
