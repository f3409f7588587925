"""Photographs from files: turned upright, made sRGB, refused where their numbers would mislead."""

from __future__ import annotations

import io
import struct
import zlib
from pathlib import Path

import numpy as np
import pytest
import skimage
from PIL import Image, ImageCms
from tests.closeness import assert_close
from tests.photographs import colour_science

from strikeline.errors import NotFoundError, StoreError
from strikeline.media import pictures
from strikeline.media.pictures import read_picture

SHIPPED = Path(skimage.__file__).parent / "data"
RNG = np.random.default_rng(5)


def coloured(height: int = 40, width: int = 60) -> Image.Image:
    """Return smooth colours, red growing to the right and green downwards."""
    down, across = np.mgrid[0:height, 0:width]
    codes = np.stack([across * 4, down * 6, np.full_like(down, 90)], axis=-1)
    return Image.fromarray(codes.astype(np.uint8))


def saved(folder: Path, image: Image.Image, name: str, **options: object) -> Path:
    path = folder / name
    image.save(path, **options)  # type: ignore[arg-type]
    return path


@pytest.mark.parametrize("name", ["a.png", "a.tif", "a.bmp"])
def test_codes_come_as_they_were_written(tmp_path: Path, name: str) -> None:
    picture = read_picture(saved(tmp_path, coloured(), name))
    assert (picture.codes == np.asarray(coloured())).all()
    assert picture.name == name
    assert picture.notices == ()
    assert picture.height_ratio == 40 / 60


@pytest.mark.parametrize(("orientation", "turn"), [(6, Image.Transpose.ROTATE_270), (3, Image.Transpose.ROTATE_180)])
def test_a_picture_held_sideways_is_turned_upright(tmp_path: Path, orientation: int, turn: Image.Transpose) -> None:
    exif = Image.Exif()
    exif[0x0112] = orientation
    picture = read_picture(saved(tmp_path, coloured(), "a.png", exif=exif))
    assert (picture.codes == np.asarray(coloured().transpose(turn))).all()


def test_a_profile_is_turned_into_srgb_as_colour_science_does() -> None:
    path = SHIPPED / "rocket.jpg"
    picture = read_picture(path)
    assert "Adobe RGB" in picture.notices[0]
    with Image.open(path) as image:
        given = np.asarray(image)[50:400:50, 50:600:50] / 255.0
    models = colour_science().models
    expected = colour_science().RGB_to_RGB(
        given, models.RGB_COLOURSPACE_ADOBE_RGB1998, models.RGB_COLOURSPACE_sRGB,
        apply_cctf_decoding=True, apply_cctf_encoding=True,
    )  # fmt: skip
    told = picture.codes[50:400:50, 50:600:50] / 255.0
    assert np.abs(given - told).max() > 0.02, "the profile matters"
    assert_close(told, np.clip(expected, 0, 1), rtol=0, atol=2.5 / 255, why="codes, and a curve kept as a table")


def test_a_profile_of_srgb_changes_nothing(tmp_path: Path) -> None:
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    picture = read_picture(saved(tmp_path, coloured(), "a.png", icc_profile=profile))
    assert picture.notices == ()
    assert np.abs(picture.codes.astype(int) - np.asarray(coloured()).astype(int)).max() <= 1


def test_a_broken_profile_is_refused(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="profile"):
        read_picture(saved(tmp_path, coloured(), "a.png", icc_profile=b"no profile at all"))


def deep_png(codes: np.ndarray[tuple[int, ...], np.dtype[np.uint16]]) -> bytes:
    """Return a PNG with 16 bits a channel."""
    height, width = codes.shape[:2]
    rows = b"".join(b"\0" + row.astype(">u2").tobytes() for row in codes)

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 16, 2, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + head + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b"")


def test_sixteen_bits_are_read_to_eight_and_that_is_said(tmp_path: Path) -> None:
    codes = RNG.integers(0, 65536, (40, 50, 3)).astype(np.uint16)
    path = tmp_path / "deep.png"
    path.write_bytes(deep_png(codes))
    picture = read_picture(path)
    assert_close(picture.codes, codes / 257.0, rtol=0, atol=1.0, why="to 8 bits, rounded or cut")
    assert "16 bits" in picture.notices[0]


def test_what_exif_says_against_comparisons_is_told(tmp_path: Path) -> None:
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0xA403] = 0
    exif.get_ifd(0x8769)[0x9209] = 1
    notices = read_picture(saved(tmp_path, coloured(), "a.jpg", exif=exif)).notices
    assert "white balance by itself" in notices[0]
    assert "flash" in notices[1]


def test_damage_is_told(tmp_path: Path) -> None:
    whole = io.BytesIO()
    Image.fromarray(RNG.integers(0, 255, (300, 300, 3)).astype(np.uint8)).save(whole, "JPEG")
    path = tmp_path / "cut.jpg"
    path.write_bytes(whole.getvalue()[: len(whole.getvalue()) // 2])
    with pytest.raises(StoreError, match="damaged or cut off"):
        read_picture(path)


@pytest.mark.parametrize(
    ("name", "data", "message"),
    [
        ("empty.jpg", b"", "is empty"),
        ("text.jpg", b"this is no picture", "no picture"),
        ("phone.heic", b"\0\0\0\x18ftypheic" + bytes(64), "most compatible format"),
        ("phone.jpg", b"\0\0\0\x18ftypmif1" + bytes(64), "HEIC"),
        ("camera.NEF", b"II*\0" + bytes(64), "raw pictures are not read"),
        ("camera.dng", b"II*\0" + bytes(64), "export it as JPEG"),
    ],
)
def test_other_files_are_refused_with_what_to_do(tmp_path: Path, name: str, data: bytes, message: str) -> None:
    path = tmp_path / name
    path.write_bytes(data)
    with pytest.raises(StoreError, match=message):
        read_picture(path)


def test_a_missing_file_and_a_folder_are_told(tmp_path: Path) -> None:
    with pytest.raises(NotFoundError, match="no such file"):
        read_picture(tmp_path / "none.jpg")
    with pytest.raises(StoreError, match="folder"):
        read_picture(tmp_path)


def test_a_raw_picture_under_another_name_is_refused(tmp_path: Path) -> None:
    from PIL.TiffImagePlugin import ImageFileDirectory_v2

    tags = ImageFileDirectory_v2()
    tags[0xC612] = b"\x01\x04\x00\x00"
    tags.tagtype[0xC612] = 1
    with pytest.raises(StoreError, match="whatever their name"):
        read_picture(saved(tmp_path, coloured(), "a.tif", tiffinfo=tags))


@pytest.mark.parametrize("mode", ["L", "1", "I;16", "LA"])
def test_a_picture_without_colours_is_refused(tmp_path: Path, mode: str) -> None:
    image = coloured().convert("L") if mode != "I;16" else Image.fromarray(np.ones((30, 30), np.uint16))
    with pytest.raises(StoreError, match="no colours"):
        read_picture(saved(tmp_path, image if mode == "I;16" else image.convert(mode), "a.png"))


def test_grey_in_three_channels_is_refused_too(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="holds no colours"):
        read_picture(saved(tmp_path, coloured().convert("L").convert("RGB"), "a.png"))


def test_printing_colours_without_a_profile_are_refused(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="CMYK"):
        read_picture(saved(tmp_path, coloured().convert("CMYK"), "a.tif"))


def test_transparency_is_refused_and_an_opaque_layer_is_not(tmp_path: Path) -> None:
    layer = coloured().convert("RGBA")
    assert read_picture(saved(tmp_path, layer, "opaque.png")).codes.shape == (40, 60, 3)
    layer.putpixel((3, 3), (0, 0, 0, 0))
    with pytest.raises(StoreError, match="transparent"):
        read_picture(saved(tmp_path, layer, "clear.png"))


def test_a_picture_that_would_fill_the_memory_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pictures, "MOST_PIXELS", 1000)
    with pytest.raises(StoreError, match="60 × 40 pixels"):
        read_picture(saved(tmp_path, coloured(), "a.png"))


@pytest.mark.parametrize(
    "name", ["astronaut.png", "chelsea.png", "coffee.png", "color.png", "retina.jpg", "rocket.jpg"]
)
def test_real_pictures_are_read(name: str) -> None:
    picture = read_picture(SHIPPED / name)
    assert picture.codes.dtype == np.uint8
    assert picture.codes.shape[2] == 3
