"""What a sheet says of the recording it was made from."""

from __future__ import annotations

from strikeline.acoustics.listening import Listening, Recording
from strikeline.reports.figures import key_range, minutes, sentence
from strikeline.reports.words import a4_name


def recording_facts(listening: Listening) -> tuple[tuple[str, str], ...]:
    """Return the line of facts under the heading of a sheet."""
    recording = listening.recording
    notes = listening.best_by_key()
    heard = str(len(notes)) if recording.compass is None else f"{len(notes)} of {len(recording.compass)}"
    compass = (
        "cannot be told"
        if recording.compass is None
        else key_range(recording.compass.lowest, recording.compass.highest)
    )
    return (
        ("Recording", minutes(recording.duration_s)),
        ("Keys heard", heard),
        ("Compass", compass),
        ("Reference", a4_name(recording.reference_a4_hz)),
    )


def recording_warnings(recording: Recording) -> tuple[str, ...]:
    """Return what is to be known about the recording as a whole, as sentences."""
    warnings = [sentence(warning) for warning in recording.warnings]
    if recording.is_partial:
        warnings.insert(0, "This is a partial result: the listening ended before the recording did.")
    return tuple(warnings)


def recording_provenance(recording: Recording) -> tuple[tuple[str, str], ...]:
    """Return from what and with what the sheet was made."""
    return (
        ("Recording", f"SHA-256 {recording.sha256}"),
        ("Sample rate", f"{recording.sample_rate_hz:,} Hz".replace(",", " ")),
        ("Analyser", f"strikeline {recording.analyser}"),
        ("Reference", a4_name(recording.reference_a4_hz)),
    )
