"""Files that no sheet can be checked from, or that hide one in an awkward shape.

All are made by code, small on disk, and different from one another in kind.
"""

from __future__ import annotations

import io
import struct
import zipfile
import zlib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from PIL import Image, ImageFilter
from reportlab.pdfgen.canvas import Canvas

from .photo import DESKS, desk


@dataclass(frozen=True)
class BadInput:
    """A file and what intake should make of it: how many pictures, how many refusals."""

    name: str
    content: bytes
    pictures: int
    refusals: int


def unreadable() -> list[BadInput]:
    """Files that intake itself refuses."""
    photo = _jpeg(_grey(800, 600))
    return [
        BadInput("letter.jpg", b"Dear Sir, the photos are in the post.\n" * 40, 0, 1),
        BadInput("empty.jpg", b"", 0, 1),
        BadInput("cut-short.jpg", photo[: len(photo) // 3], 0, 1),
        BadInput("bomb.png", png_with_size(60_000, 60_000), 0, 1),
        BadInput("tiny.png", _encoded(_grey(40, 30), "PNG"), 0, 1),
        BadInput("locked.pdf", pdf(1, password="bead"), 0, 1),
        BadInput("damaged.pdf", pdf(1)[:200], 0, 1),
        BadInput("climbing.zip", zip_of({"../../climbed.jpg": photo}), 0, 1),
        BadInput("empty.zip", zip_of({}), 0, 1),
    ]


def usable() -> list[BadInput]:
    """Awkward files with pictures in them that intake should find."""
    photo = _jpeg(_grey(800, 600))
    return [
        BadInput("three-pages.pdf", pdf(3), 3, 0),
        BadInput("phone.heic", _encoded(_grey(800, 600), "HEIF"), 1, 0),
        BadInput("named-wrongly.png", photo, 1, 0),
        BadInput(
            "class.zip", zip_of({"a.jpg": photo, "b/c.jpg": photo, "note.txt": b"hello"}), 2, 1
        ),
    ]


def black() -> np.ndarray:
    """A photo taken in the dark, uint8 RGB."""
    rng = np.random.default_rng(1)
    return rng.integers(0, 6, (1600, 1200, 3)).astype(np.uint8)


def desk_without_sheet(seed: int = 3) -> np.ndarray:
    """A photo of a desk and nothing else."""
    rng = np.random.default_rng(seed)
    return np.clip(desk(str(rng.choice(DESKS[:3])), 1600, 1200, rng), 0, 255).astype(np.uint8)


def blurred(photo: np.ndarray, radius: float = 14) -> np.ndarray:
    """A photo so far out of focus that no line can be read."""
    return np.asarray(Image.fromarray(photo).filter(ImageFilter.GaussianBlur(radius)))


def upside_down(photo: np.ndarray) -> np.ndarray:
    return np.ascontiguousarray(photo[::-1, ::-1])


def png_with_size(width: int, height: int) -> bytes:
    """A PNG of a few bytes whose header promises an enormous picture."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        return (
            struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))
        )

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", header)
        + chunk(b"IDAT", zlib.compress(bytes(1000)))
        + chunk(b"IEND", b"")
    )


def pdf(pages: int, password: str | None = None) -> bytes:
    """A PDF of pages with a line of text each."""
    out = io.BytesIO()
    canvas = Canvas(out, encrypt=password)
    for page in range(pages):
        canvas.drawString(100, 700, f"{page + 1}. A bead carries a charge of 2 nC.")
        canvas.showPage()
    canvas.save()
    return out.getvalue()


def zip_of(members: dict[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    return out.getvalue()


def write_all(folder: Path, make: Callable[[], list[BadInput]]) -> list[tuple[BadInput, Path]]:
    """Write the files of ``make`` into ``folder``."""
    written = []
    for item in make():
        path = folder / item.name
        path.write_bytes(item.content)
        written.append((item, path))
    return written


def _grey(height: int, width: int) -> np.ndarray:
    rng = np.random.default_rng(2)
    picture = np.full((height, width, 3), 235, np.uint8)
    for y in range(10, height - 10, 24):
        end = int(rng.integers(width // 2, width - 2))
        cv2.line(picture, (4, y), (end, y), (40, 40, 40), 2)
    return picture


def _jpeg(picture: np.ndarray) -> bytes:
    return _encoded(picture, "JPEG")


def _encoded(picture: np.ndarray, kind: str) -> bytes:
    out = io.BytesIO()
    Image.fromarray(picture).save(out, kind)
    return out.getvalue()
