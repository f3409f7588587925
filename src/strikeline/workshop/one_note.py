"""One named strike measured, in either of the two processes that listen; it loads no more than that needs."""

from __future__ import annotations

from strikeline.acoustics.listening import Note
from strikeline.acoustics.measure import measure_strike
from strikeline.acoustics.newpeaks import NewPeaks
from strikeline.acoustics.strikes import Strike
from strikeline.acoustics.two_notes import find_two_notes
from strikeline.errors import SignalError


def measure_note(
    strike: Strike, *, peaks: NewPeaks, key: int, f0_start_hz: float, a4_hz: float, n_strings: int | None
) -> Note:
    """Measure one strike; one that cannot be measured, or two notes, is still a note, with the reason.

    Parameters
    ----------
    strike : Strike
        The sound of the blow.
    peaks : NewPeaks
        The peaks it was named by.
    key : int
        Key number, 49 for A4.
    f0_start_hz : float
        f0 to within about 20 cents.
    a4_hz : float
        Frequency of A4 that the instrument is compared with.
    n_strings : int or None
        How many strings sound, if that is known.
    """
    try:
        note = measure_strike(strike, key=key, f0_start_hz=f0_start_hz, a4_hz=a4_hz, n_strings=n_strings)
    except SignalError as error:
        return Note(key=key, onset_s=strike.onset_s, end_s=strike.end_s, cannot_tell=(f"everything: {error}",))
    two = find_two_notes(peaks, note, a4_hz=a4_hz)
    return note if two is None else two.instead_of(note)
