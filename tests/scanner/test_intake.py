"""Files in: every format, every orientation, and every way in which a file can be bad."""

import dataclasses
import io
import zipfile
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from reportlab.pdfgen.canvas import Canvas

from scanner.errors import BadFile, TooLarge
from scanner.intake import LIMITS, Photo, Refused, read_path, read_stream


def picture(width: int = 320, height: int = 240) -> Image.Image:
    """Left half red, right half blue."""
    pixels = np.zeros((height, width, 3), np.uint8)
    pixels[:, : width // 2] = (200, 20, 20)
    pixels[:, width // 2 :] = (20, 20, 200)
    return Image.fromarray(pixels)


def saved(image: Image.Image, kind: str, **options) -> bytes:
    out = io.BytesIO()
    image.save(out, kind, **options)
    return out.getvalue()


def read(data: bytes, name: str = "file", limits=LIMITS) -> list[Photo | Refused]:
    return list(read_stream(name, io.BytesIO(data), limits))


def refusal(data: bytes, name: str = "file", limits=LIMITS) -> BadFile:
    (item,) = read(data, name, limits)
    assert isinstance(item, Refused)
    return item.error


def zipped(members: dict[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in members.items():
            archive.writestr(name, data)
    return out.getvalue()


def locked_pdf() -> bytes:
    out = io.BytesIO()
    page = Canvas(out, encrypt="secret")
    page.drawString(72, 720, "locked")
    page.save()
    return out.getvalue()


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "TIFF", "HEIF"])
def test_each_format_is_read_whatever_its_name_says(kind):
    (photo,) = read(saved(picture(), kind), "holiday.txt")
    assert photo.image.shape == (240, 320, 3)
    assert photo.image.dtype == np.uint8
    assert photo.image[120, 40, 0] > 150 and photo.image[120, 280, 2] > 150


@pytest.mark.parametrize("mode", ["1", "L", "P", "RGBA", "LA", "CMYK", "I;16"])
def test_every_colour_mode_becomes_rgb(mode):
    kind = "TIFF" if mode in ("CMYK", "I;16") else "PNG"
    image = picture().convert("L") if mode == "I;16" else picture()
    (photo,) = read(saved(image.convert(mode), kind))
    assert photo.image.shape == (240, 320, 3)


def test_transparent_paper_is_white():
    clear = Image.new("RGBA", (300, 300), (0, 0, 0, 0))
    (photo,) = read(saved(clear, "PNG"))
    assert photo.image.min() == 255


@pytest.mark.parametrize("orientation", range(1, 9))
def test_exif_orientation_is_obeyed(orientation):
    undo = {
        2: Image.Transpose.FLIP_LEFT_RIGHT,
        3: Image.Transpose.ROTATE_180,
        4: Image.Transpose.FLIP_TOP_BOTTOM,
        5: Image.Transpose.TRANSPOSE,
        6: Image.Transpose.ROTATE_90,
        7: Image.Transpose.TRANSVERSE,
        8: Image.Transpose.ROTATE_270,
    }
    stored = picture()
    if orientation in undo:
        stored = stored.transpose(undo[orientation])
    exif = Image.Exif()
    exif[0x0112] = orientation
    (photo,) = read(saved(stored, "JPEG", exif=exif, quality=95))
    assert photo.image.shape == (240, 320, 3)
    assert photo.image[120, 40, 0] > 150


def test_all_pages_of_a_tiff_and_a_pdf_are_numbered_from_one():
    pages = [picture(), picture(), picture()]
    tiff = saved(pages[0], "TIFF", save_all=True, append_images=pages[1:])
    pdf = saved(pages[0], "PDF", save_all=True, append_images=pages[1:])
    assert [photo.number for photo in read(tiff)] == [1, 2, 3]
    assert [photo.number for photo in read(pdf)] == [1, 2, 3]


def test_a_large_jpeg_is_decoded_smaller():
    limits = dataclasses.replace(LIMITS, decoded_pixels=320 * 240)
    (photo,) = read(saved(picture(1280, 960), "JPEG"), limits=limits)
    assert photo.image.shape[0] * photo.image.shape[1] <= 320 * 240 * 1.02


def test_a_zip_of_a_version_to_come_is_refused_in_one_sentence():
    data = bytearray(zipped({"a.jpg": b"x"}))
    entry = data.rindex(b"PK\x01\x02")  # the central directory (PKWARE APPNOTE 4.3.12)
    data[entry + 6 : entry + 8] = (99).to_bytes(2, "little")  # version needed to extract: 9.9
    (item,) = read(bytes(data), "pile.zip")
    assert "damaged zip" in str(item.error)


def test_a_zip_gives_all_its_photos_and_skips_clutter():
    data = zipped(
        {
            "a.jpg": saved(picture(), "JPEG"),
            "__MACOSX/a.jpg": b"rubbish",
            ".DS_Store": b"rubbish",
            "inner/b.png": saved(picture(), "PNG"),
        }
    )
    assert [photo.name for photo in read(data, "pile.zip")] == [
        "pile.zip/a.jpg",
        "pile.zip/inner/b.png",
    ]


@pytest.mark.parametrize("path", ["../evil.jpg", "/etc/evil.jpg", "a/../../evil.jpg", "C:\\e.jpg"])
def test_a_zip_member_that_climbs_is_left_out_and_the_others_go_on(path):
    photo = saved(picture(), "JPEG")
    items = read(zipped({path: photo, "good.jpg": photo}), "pile.zip")
    refused = [item for item in items if isinstance(item, Refused)]
    assert len(refused) == 1 and "outside its zip" in str(refused[0].error)
    assert [item.name for item in items if isinstance(item, Photo)] == ["pile.zip/good.jpg"]


def test_a_zip_member_that_is_a_link_is_left_out():
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        link = zipfile.ZipInfo("link.jpg")
        link.external_attr = 0o120777 << 16
        archive.writestr(link, "/etc/hostname")
    assert "link" in str(refusal(out.getvalue(), "pile.zip"))


def test_a_zip_in_a_zip_and_a_zip_with_nothing_are_refused():
    inner = zipped({"a.jpg": saved(picture(), "JPEG")})
    assert "zip inside a zip" in str(refusal(zipped({"inner.zip": inner}), "pile.zip"))
    assert "no photo" in str(refusal(zipped({}), "pile.zip"))


def test_unpacking_stops_at_the_limit_whatever_the_header_claims():
    limits = dataclasses.replace(LIMITS, image_bytes=10_000)
    error = refusal(zipped({"bomb.jpg": b"\0" * 10_000_000}), "pile.zip", limits)
    assert isinstance(error, TooLarge)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "is empty"),
        (b"just some words", "not a photo"),
        (saved(picture(), "JPEG")[:900], "cut short or damaged"),
        (saved(picture(), "PNG")[:200], "cut short or damaged"),
        (saved(picture(30, 20), "PNG"), "too small"),
        (b"%PDF-1.7\nrubbish", "damaged PDF"),
        (b"PK\x03\x04rubbish", "damaged zip"),
        (locked_pdf(), "password"),
    ],
)
def test_each_bad_file_is_one_plain_sentence(data, words):
    message = str(refusal(data, "scan.jpg"))
    assert words in message
    assert message.count("\n") == 0 and message.endswith(".")


def test_too_many_pixels_are_refused_before_decoding():
    header = Image.new("1", (40_000, 40_000))
    assert isinstance(refusal(saved(header, "PNG")), TooLarge)


def test_missing_files_and_folders_are_sentences(tmp_path: Path):
    (missing,) = read_path(tmp_path / "none.jpg")
    (folder,) = read_path(tmp_path)
    assert "no file" in str(missing.error) and "folder" in str(folder.error)


_JPEG, _PNG, _PDF = (saved(picture(), kind) for kind in ("JPEG", "PNG", "PDF"))


@settings(max_examples=60, deadline=None)
@given(st.sampled_from([_JPEG, _PNG, _PDF]), st.data())
def test_no_corruption_raises_anything_but_a_sentence(original, data):
    damaged = bytearray(original[: data.draw(st.integers(0, len(original)))])
    for _ in range(data.draw(st.integers(0, 12))):
        if damaged:
            damaged[data.draw(st.integers(0, len(damaged) - 1))] = data.draw(st.integers(0, 255))
    for item in read(bytes(damaged)):
        assert isinstance(item, Photo | Refused)
