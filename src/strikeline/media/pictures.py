"""Photographs from files: upright, in sRGB, and refused with a way out where their numbers would mislead."""

from __future__ import annotations

import io
import warnings
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray
from PIL import ExifTags, Image, ImageCms, ImageOps, UnidentifiedImageError

from strikeline.domain.photograph import Photograph
from strikeline.errors import StoreError
from strikeline.media.failures import error_in_words

MOST_PIXELS: Final = 120_000_000
"""Phones make up to 108 million; a picture takes three bytes a pixel here."""
_RAW: Final = frozenset(
    f".{kind}"
    for kind in (
        *("3fr", "arw", "cr2", "cr3", "crw", "dng", "erf", "iiq", "kdc", "mos", "mrw", "nef", "nrw", "orf", "pef"),
        *("raf", "raw", "rw2", "sr2", "srw", "x3f"),
    )
)
_HEIC_BRANDS: Final = (b"heic", b"heix", b"hevc", b"heim", b"heis", b"mif1", b"msf1", b"avif")
_DNG_VERSION: Final = 0xC612
_WITH_PICTURES: Final = frozenset({"RGB", "RGBA", "CMYK", "P", "YCbCr"})
_EXPORT: Final = "export it as JPEG or PNG in sRGB, full size and without filters, and give that"


def read_picture(path: Path) -> Photograph:
    """Return a photograph from a file.

    Parameters
    ----------
    path : Path
        JPEG, PNG, TIFF, WebP or what else Pillow reads. Its EXIF orientation is applied and its colour profile
        turned into sRGB; without a profile it is taken to be sRGB.

    Returns
    -------
    Photograph

    Raises
    ------
    NotFoundError, StoreError
        If it cannot be read, is damaged or cut off, too large, without colour, raw or HEIC; with what to do.
    """
    path = Path(path)
    try:
        data = path.read_bytes()
    except OSError as error:
        raise error_in_words(error, path, doing="read") from error
    _refuse_kind(path, data)
    notices = list[str]()
    with warnings.catch_warnings():
        # Pillow warns of large pictures and odd metadata; the first is refused here, the second harms no colour.
        warnings.simplefilter("ignore")
        image = _opened(path, data)
        is_deep = _is_deep(image, data)
        try:
            image.load()
            upright = ImageOps.exif_transpose(image)
        except (OSError, SyntaxError, ValueError, EOFError, Image.DecompressionBombError) as error:
            raise StoreError(f"{path}: the picture is damaged or cut off ({error}); copy or export it anew") from error
        codes = _codes(path, upright or image, notices)
        notices += _automatic(image)
    if is_deep:
        notices.append("It holds 16 bits a channel and was read to 8, which is counted in the errors.")
    return Photograph(name=path.name, codes=codes, notices=tuple(notices))


def _refuse_kind(path: Path, data: bytes) -> None:
    if not data:
        raise StoreError(f"{path}: the file is empty; copy it anew")
    if path.suffix.casefold() in _RAW:
        raise StoreError(
            f"{path}: raw pictures are not read: what their numbers mean differs from camera to camera; {_EXPORT}"
        )
    if data[4:8] == b"ftyp" and data[8:12] in _HEIC_BRANDS:
        raise StoreError(
            f"{path}: HEIC and AVIF are not read; {_EXPORT}, or set the phone's camera to its most compatible format"
        )


def _opened(path: Path, data: bytes) -> Image.Image:
    try:
        image = Image.open(io.BytesIO(data))
    except UnidentifiedImageError as error:
        raise StoreError(f"{path}: this is no picture that can be read; {_EXPORT}") from error
    except (OSError, SyntaxError, ValueError, Image.DecompressionBombError) as error:
        raise StoreError(f"{path}: the picture cannot be read ({error}); {_EXPORT}") from error
    if image.width * image.height > MOST_PIXELS:
        raise StoreError(
            f"{path}: {image.width} × {image.height} pixels are more than the {MOST_PIXELS // 1_000_000} million that "
            "are read; scale it down to half its width"
        )
    if _DNG_VERSION in dict(getattr(image, "tag_v2", {})):
        raise StoreError(f"{path}: raw pictures are not read, whatever their name; {_EXPORT}")
    if image.mode not in _WITH_PICTURES:
        raise StoreError(f"{path}: it holds no colours, only grey or black and white; photograph in colour")
    return image


def _is_deep(image: Image.Image, data: bytes) -> bool:
    if image.format == "PNG":
        return data[24:25] == b"\x10"  # bits a channel, in the first chunk of the file
    return 16 in tuple(dict(getattr(image, "tag_v2", {})).get(258, ()) or ())


def _codes(path: Path, image: Image.Image, notices: list[str]) -> NDArray[np.uint8]:
    """Return sRGB codes; profiles are applied, transparency is refused."""
    profile = image.info.get("icc_profile")
    if image.mode == "CMYK" and not profile:
        raise StoreError(f"{path}: printing colours (CMYK) without a profile mean nothing certain; {_EXPORT}")
    if image.mode == "P" and "transparency" in image.info:
        image = image.convert("RGBA")
    if image.mode == "RGBA":
        if np.asarray(image.getchannel("A")).min() < 255:
            raise StoreError(f"{path}: parts of it are transparent, so colours are missing; {_EXPORT}")
        image = image.convert("RGB")
    if image.mode in {"P", "YCbCr"}:
        image = image.convert("RGB")
    if profile:
        image = _to_srgb(path, image, profile, notices)
    codes = np.asarray(image.convert("RGB"))
    if _is_grey(codes):
        raise StoreError(f"{path}: all of it is grey, it holds no colours; photograph in colour")
    return codes


def _is_grey(codes: NDArray[np.uint8]) -> bool:
    some = codes[:: max(1, codes.shape[0] // 256), :: max(1, codes.shape[1] // 256)]
    return bool((some == some[..., :1]).all()) and bool((codes == codes[..., :1]).all())


def _to_srgb(path: Path, image: Image.Image, profile: bytes, notices: list[str]) -> Image.Image:
    try:
        source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        name = ImageCms.getProfileDescription(source).strip()
        turned = ImageCms.profileToProfile(
            image,
            source,
            ImageCms.createProfile("sRGB"),
            renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
            outputMode="RGB",
        )
    except (ImageCms.PyCMSError, OSError, ValueError) as error:
        raise StoreError(f"{path}: its colour profile cannot be used ({error}); {_EXPORT}") from error
    if "srgb" not in name.casefold():
        notices.append(f"Its colour profile ({name or 'unnamed'}) was turned into sRGB; colours outside were cut off.")
    return turned or image


def _automatic(image: Image.Image) -> list[str]:
    """Return what EXIF says against comparing this photograph with others."""
    tags = image.getexif().get_ifd(ExifTags.IFD.Exif)
    notices = list[str]()
    if tags.get(ExifTags.Base.WhiteBalance) == 0:
        notices.append("The camera chose its white balance by itself; the card makes up for it within this picture.")
    if int(tags.get(ExifTags.Base.Flash, 0) or 0) & 1:
        notices.append("The flash fired: shine on polish and uneven light; better without.")
    return notices
