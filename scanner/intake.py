"""Files in, upright pictures out: JPEG, PNG, WebP, TIFF, HEIC/HEIF, PDF, and zips of these.

What a file is, is told by its content, never by its name. Nothing is unpacked to disk. The
picture is turned as its EXIF orientation says, and only its pixels are kept: place, device and
time of the photo are dropped here.
"""

from __future__ import annotations

import io
import stat
import warnings
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import BinaryIO

import numpy as np
import pillow_heif
import pypdfium2
from PIL import Image, ImageOps, UnidentifiedImageError

from scanner.errors import BadFile, TooLarge

pillow_heif.register_heif_opener()

# Names by which Pillow opens files. "JPEG" opens MPO too, which many phones write as .jpg: its
# first picture is the photo.
FORMATS = ("JPEG", "PNG", "WEBP", "TIFF", "HEIF")
PDF_DPI = 220
_IGNORED_MEMBERS = ("__MACOSX", "Thumbs.db", "desktop.ini")


@dataclass(frozen=True)
class Limits:
    """The most that intake accepts; anything over is refused with a sentence.

    ``decoded_pixels`` is not a refusal: larger JPEGs are decoded at half or quarter size, and
    other pictures scaled down, since a page needs no more.
    """

    file_bytes: int = 4 * 1024**3
    image_bytes: int = 150 * 1024**2
    pixels: int = 220_000_000
    decoded_pixels: int = 25_000_000
    smallest_side: int = 200
    pages: int = 500
    zip_members: int = 2000
    unpacked_bytes: int = 8 * 1024**3
    zip_nesting: int = 1


LIMITS = Limits()


@dataclass(frozen=True)
class Photo:
    """One picture: ``image`` is uint8 RGB, shape (height, width, 3), turned upright by EXIF.

    ``number`` counts the pages of the file from 1.
    """

    name: str
    number: int
    image: np.ndarray


@dataclass(frozen=True)
class Refused:
    """A file, a page of a file or a member of a zip that could not be used, and why."""

    name: str
    error: BadFile


def read_path(path: Path, limits: Limits = LIMITS) -> Iterator[Photo | Refused]:
    """All pictures of one file, read as they are asked for."""
    name = path.name
    try:
        if path.is_dir():
            raise BadFile(f"{name} is a folder; name the photos in it.")
        stream = path.open("rb")
    except BadFile as error:
        yield Refused(name, error)
        return
    except FileNotFoundError:
        yield Refused(name, BadFile(f"There is no file {name}; check the name and the folder."))
        return
    except OSError:
        yield Refused(name, BadFile(f"{name} cannot be opened; check that you may read it."))
        return
    with stream:
        yield from read_stream(name, stream, limits)


def read_stream(
    name: str, stream: BinaryIO, limits: Limits = LIMITS, nesting: int = 0
) -> Iterator[Photo | Refused]:
    """All pictures of an open file; ``nesting`` counts the zips around it."""
    try:
        size = stream.seek(0, io.SEEK_END)
        stream.seek(0)
        head = stream.read(1024)
        stream.seek(0)
        if size == 0:
            raise BadFile(f"{name} is empty; copy or take the photo again.")
        if size > limits.file_bytes:
            raise TooLarge(f"{name} is over {_megabytes(limits.file_bytes)}; split it.")
        if b"%PDF-" in head:
            yield from _read_pdf(name, stream, limits)
        elif head.startswith((b"PK\x03\x04", b"PK\x05\x06")):
            if nesting >= limits.zip_nesting:
                raise BadFile(f"{name} is a zip inside a zip; unpack it and add it by itself.")
            yield from _read_zip(name, stream, limits, nesting)
        else:
            if size > limits.image_bytes:
                raise TooLarge(
                    f"{name} is over {_megabytes(limits.image_bytes)}; save the photo smaller."
                )
            yield from _read_image(name, stream, limits)
    except BadFile as error:
        yield Refused(name, error)


def _read_image(name: str, stream: BinaryIO, limits: Limits) -> Iterator[Photo]:
    damaged = BadFile(f"{name} is cut short or damaged; copy or take the photo again.")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            image = Image.open(stream, formats=FORMATS)
    except UnidentifiedImageError:
        raise BadFile(
            f"{name} is not a photo, scan, PDF or zip that can be read; "
            "use JPEG, PNG, WebP, TIFF, HEIC or PDF."
        ) from None
    except Image.DecompressionBombError:
        raise _too_many_pixels(name, limits) from None
    except Exception:  # decoders raise many kinds on damaged headers
        raise damaged from None
    with image:
        frames = getattr(image, "n_frames", 1) if image.format == "TIFF" else 1
        if frames > limits.pages:
            raise TooLarge(f"{name} has more than {limits.pages} pages; split it.")
        for index in range(frames):
            try:
                image.seek(index)
                _check_size(name, image.size, limits)
                pixels = _pixels(image, limits)
            except BadFile:
                raise
            except Exception:  # as above, for damaged bodies
                raise damaged from None
            yield Photo(name, index + 1, pixels)


def _pixels(image: Image.Image, limits: Limits) -> np.ndarray:
    """Upright uint8 RGB of the current frame; transparent parts become white paper."""
    if image.format in ("JPEG", "MPO") and image.width * image.height > limits.decoded_pixels:
        image.draft("RGB", (image.width // 2, image.height // 2))
    image.load()
    upright = ImageOps.exif_transpose(image)
    if upright.mode in ("I", "F") or upright.mode.startswith("I;16"):
        values = np.asarray(upright, dtype=np.float64)
        top = 65535.0 if values.max() > 255 else 255.0
        upright = Image.fromarray(np.clip(values * (255.0 / top), 0, 255).astype(np.uint8))
    if "A" in upright.getbands() or "transparency" in upright.info:
        layered = upright.convert("RGBA")
        paper = Image.new("RGBA", layered.size, "white")
        upright = Image.alpha_composite(paper, layered)
    upright = upright.convert("RGB")
    excess = upright.width * upright.height / limits.decoded_pixels
    if excess > 1:
        upright = upright.resize(
            (round(upright.width / excess**0.5), round(upright.height / excess**0.5)),
            Image.Resampling.BOX,
        )
    return np.asarray(upright)


def _read_pdf(name: str, stream: BinaryIO, limits: Limits) -> Iterator[Photo]:
    try:
        document = pypdfium2.PdfDocument(stream)
    except pypdfium2.PdfiumError as error:
        if "password" in str(error).lower():
            raise BadFile(f"{name} is locked with a password; save it without one.") from None
        raise BadFile(f"{name} is a damaged PDF; save or scan it again.") from None
    try:
        count = len(document)
        if count == 0:
            raise BadFile(f"{name} is a PDF without pages; scan it again.")
        if count > limits.pages:
            raise TooLarge(f"{name} has {count} pages, over {limits.pages}; split it.")
        for index in range(count):
            try:
                yield Photo(name, index + 1, _rendered(document[index], name, limits))
            except pypdfium2.PdfiumError:
                raise BadFile(
                    f"Page {index + 1} of {name} is damaged; save or scan it again."
                ) from None
    finally:
        document.close()


def _rendered(page: pypdfium2.PdfPage, name: str, limits: Limits) -> np.ndarray:
    """A PDF page as uint8 RGB at PDF_DPI, coarser where the page is a poster."""
    width, height = page.get_size()
    if min(width, height) < 1:
        raise BadFile(f"A page of {name} has no size; save or scan it again.")
    scale = PDF_DPI / 72
    scale *= min(1.0, (limits.decoded_pixels / (width * height * scale**2)) ** 0.5)
    if min(width, height) * scale < limits.smallest_side:
        raise BadFile(f"A page of {name} is too small to be a sheet; scan it again.")
    return np.ascontiguousarray(page.render(scale=scale, rev_byteorder=True).to_numpy()[..., :3])


def _read_zip(
    name: str, stream: BinaryIO, limits: Limits, nesting: int
) -> Iterator[Photo | Refused]:
    damaged = BadFile(f"{name} is a damaged zip; pack it again.")
    try:
        archive = zipfile.ZipFile(stream)
        members = [m for m in archive.infolist() if not _is_clutter(m)]
    except (zipfile.BadZipFile, OSError, ValueError, RuntimeError):
        raise damaged from None
    if len(members) > limits.zip_members:
        raise TooLarge(f"{name} holds more than {limits.zip_members} files; split it.")
    left = limits.unpacked_bytes
    usable = 0
    refused = 0
    with archive:
        for member in members:
            inner = f"{name}/{member.filename}"
            try:
                data = _unpacked(inner, archive, member, min(left, limits.image_bytes))
            except BadFile as error:
                refused += 1
                yield Refused(inner, error)
                continue
            left -= len(data)
            for item in read_stream(inner, io.BytesIO(data), limits, nesting + 1):
                usable += isinstance(item, Photo)
                refused += isinstance(item, Refused)
                yield item
    if not usable and not refused:
        raise BadFile(f"{name} holds no photo, scan or PDF; pack the photos again.")


def _unpacked(inner: str, archive: zipfile.ZipFile, member: zipfile.ZipInfo, limit: int) -> bytes:
    """The bytes of one zip member.

    Raises:
        BadFile: its path leaves the zip, it is a link, locked or damaged.
        TooLarge: it unpacks to more than ``limit`` bytes, whatever its header claims.
    """
    path = member.filename.replace("\\", "/")
    if path.startswith("/") or ":" in path[:2] or ".." in PurePosixPath(path).parts:
        raise BadFile(f"{inner} points outside its zip and was left out; pack the photos again.")
    if stat.S_ISLNK(member.external_attr >> 16):
        raise BadFile(f"{inner} is a link, not a photo, and was left out.")
    if member.flag_bits & 1:
        raise BadFile(f"{inner} is locked with a password; pack it without one.")
    try:
        with archive.open(member) as packed:
            data = packed.read(limit + 1)
    except Exception:  # zlib, lzma, bz2 and zipfile each raise their own
        raise BadFile(f"{inner} is damaged; pack the photos again.") from None
    if len(data) > limit:
        raise TooLarge(f"{inner} unpacks to more than {_megabytes(limit)} and was left out.")
    return data


def _is_clutter(member: zipfile.ZipInfo) -> bool:
    """Folders and the hidden files that operating systems put into zips."""
    parts = PurePosixPath(member.filename).parts
    return (
        member.is_dir()
        or not parts
        or any(part in _IGNORED_MEMBERS for part in parts)
        or (parts[-1].startswith(".") and ".." not in parts)
    )


def _check_size(name: str, size: tuple[int, int], limits: Limits) -> None:
    width, height = size
    if width * height > limits.pixels:
        raise _too_many_pixels(name, limits)
    if min(width, height) < limits.smallest_side:
        raise BadFile(f"{name} is only {width} x {height} pixels, too small to read a sheet.")


def _too_many_pixels(name: str, limits: Limits) -> TooLarge:
    return TooLarge(
        f"{name} has more than {limits.pixels // 1_000_000} million pixels; save it smaller."
    )


def _megabytes(count: int) -> str:
    return f"{count // 1024**2} MB"
