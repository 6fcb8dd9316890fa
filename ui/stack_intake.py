"""What the teacher hands in, told apart into scripts and their pages.

- A folder's loose photos are a script each (or as many as ``pages_per_script`` says, in the order
  of their names); each folder inside it is one script.
- One scanned PDF or zip alone is a stack; a PDF lying among others is one script.
- A photo that the stack already holds, or that went to another stack by the code on it, is not
  taken in again, whatever its name.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

import numpy as np
from PIL import Image

from scanner.errors import BadFile, ExitCode
from scanner.intake import Refused, read_path
from ui.checked import FailedFile
from ui.records import NewPage, Records, Stack, free_name, natural_order
from ui.sorting import sorted_before

PICTURES = frozenset(
    {".jpg", ".jpeg", ".png", ".webp", ".tif", ".tiff", ".heic", ".heif", ".pdf", ".zip"}
)
_SEVERAL = (b"%PDF-", b"PK\x03\x04", b"PK\x05\x06", b"II*\x00", b"MM\x00*")
_JPEG = {"quality": 95, "subsampling": 0}
_PAGE = ", page "


@dataclass(frozen=True)
class Taken:
    """How many pages are new, and what could not be used."""

    new: int
    refused: tuple[FailedFile, ...]


@dataclass(frozen=True)
class _File:
    """A file and the script that its place settles, if it does."""

    path: Path
    script: str | None = None


@dataclass(frozen=True)
class _Picture:
    content: str
    source: str
    path: Path
    script: str | None


def take_in(
    records: Records, stack: Stack, sources: Sequence[Path], pages_per_script: int = 1
) -> Taken:
    """Record the pages of all sources that the stack does not hold yet, in one step.

    Pictures out of PDFs, zips and TIFFs are kept in the stack's folder until they are flattened.

    Raises:
        BadFile: a folder holds no photo.
    """
    files = list(_files(sources))
    alone = len(files) == 1
    refused: list[FailedFile] = []
    pictures: list[_Picture] = []
    known = {page.content for page in records.pages(stack) if page.state != "failed"}
    known |= sorted_before(records)
    for file in files:
        for item in _pictures(file, stack.folder, known, alone):
            if isinstance(item, Refused):
                refused.append(FailedFile(item.name, str(item.error), ExitCode.BAD_INPUT))
            else:
                pictures.append(item)
    taken_names = {script.name for script in records.scripts(stack)}
    new = records.add_pages(stack, _in_scripts(pictures, taken_names, pages_per_script))
    return Taken(new, tuple(refused))


def with_photos(sources: Iterable[Path]) -> list[Path]:
    """The sources without folders that hold no photo yet."""
    return [s for s in sources if not s.is_dir() or any(True for _ in _in_folder(s))]


def _files(sources: Iterable[Path]) -> Iterator[_File]:
    for source in sources:
        if not source.is_dir():
            yield _File(source)
            continue
        found = list(_in_folder(source))
        if not found:
            raise BadFile(f"The folder {source.name} holds no photo, scan or PDF.")
        yield from found


def _in_folder(folder: Path) -> Iterator[_File]:
    for path in _listed(folder):
        if path.is_dir():
            inside = (p for p in path.rglob("*") if _is_picture(p))
            for inner in sorted(inside, key=lambda p: natural_order(str(p.relative_to(path)))):
                yield _File(inner, path.name)
        elif _is_picture(path):
            yield _File(path)


def _listed(folder: Path) -> list[Path]:
    shown = (path for path in folder.iterdir() if not path.name.startswith("."))
    return sorted(shown, key=lambda path: natural_order(path.name))


def _is_picture(path: Path) -> bool:
    named = path.suffix.lower() in PICTURES and not path.name.startswith(".")
    return named and path.is_file()


def _pictures(
    file: _File, folder: Path, known: set[str], alone: bool
) -> Iterator[_Picture | Refused]:
    """The pictures of a file that are not known; those of a PDF, zip or TIFF are written out."""
    if not _holds_several(file.path):
        content = _hash_of_file(file.path)
        if content is None:
            yield from (item for item in read_path(file.path) if isinstance(item, Refused))
        elif content not in known:
            yield _Picture(content, file.path.name, file.path.resolve(), file.script)
        return
    for item in read_path(file.path):
        if isinstance(item, Refused):
            yield item
            continue
        content = _hash_of_pixels(item.image)
        if content in known:
            continue
        path = folder / f"taken-{content[:24]}.jpg"
        part = path.with_suffix(".part")
        Image.fromarray(item.image).save(part, "JPEG", **_JPEG)
        part.replace(path)
        inner = PurePosixPath(item.name).relative_to(file.path.name)
        paged = PurePosixPath(item.name).suffix.lower() in (".pdf", ".tif", ".tiff")
        source = f"{item.name}{_PAGE}{item.number}" if paged else item.name
        script = file.script
        if script is None and len(inner.parts) > 1:
            script = inner.parts[-2]
        elif script is None and paged and not (alone and not inner.parts):
            script = PurePosixPath(item.name).stem
        yield _Picture(content, source, path, script)


def _holds_several(path: Path) -> bool:
    try:
        with path.open("rb") as stream:
            head = stream.read(1024)
    except OSError:
        return False
    return head.startswith(_SEVERAL) or b"%PDF-" in head


def _hash_of_file(path: Path) -> str | None:
    try:
        with path.open("rb") as stream:
            return hashlib.file_digest(stream, "sha256").hexdigest()
    except OSError:
        return None


def _hash_of_pixels(image: np.ndarray) -> str:
    digest = hashlib.sha256(str(image.shape).encode())
    digest.update(np.ascontiguousarray(image).data)
    return digest.hexdigest()


def _in_scripts(
    pictures: Sequence[_Picture], taken_names: set[str], pages_per_script: int
) -> Iterator[NewPage]:
    """Loose pictures gathered into scripts of so many pages, each under a name of its own."""
    loose = 0
    name = ""
    for picture in pictures:
        if picture.script is not None:
            yield NewPage(picture.script, picture.content, picture.source, picture.path)
            continue
        if loose % pages_per_script == 0:
            name = free_name(_name_of(picture), taken_names)
            taken_names.add(name)
        loose += 1
        yield NewPage(name, picture.content, picture.source, picture.path)


def _name_of(picture: _Picture) -> str:
    """``scan.pdf, page 3`` as ``scan page 3``, ``photos.zip/a.jpg`` as ``a``."""
    file, _, page = picture.source.partition(_PAGE)
    stem = PurePosixPath(file).stem
    return f"{stem} page {page}" if page else stem
