"""The scanner's entry: files in, pages out, one small step after the other.

intake -> flatten -> ink -> print words -> pen lines -> reading -> Page
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from scanner.errors import BadPhoto, UserError
from scanner.flatten import FlatPage, flatten
from scanner.ink import Ink, all_but, answer_spaces, coloured, find_ink
from scanner.intake import LIMITS, Limits, Photo, Refused, read_path
from scanner.layout import line_image, numbered_blocks, pen_lines
from scanner.page import Line, Page
from scanner.print_or_pen import is_pen
from scanner.print_words import Reader, find_words, print_only, read_print

Progress = Callable[[str, float], None]


@dataclass(frozen=True)
class FileResult:
    """What became of one file: its pages, and what could not be used, each with its reason."""

    path: Path
    pages: tuple[Page, ...] = ()
    refused: tuple[tuple[str, UserError], ...] = ()


def quiet(stage: str, share: float) -> None:
    """A progress callback that shows nothing."""


def scan_files(
    paths: Iterable[Path | str],
    reader: Reader,
    *,
    progress: Progress = quiet,
    limits: Limits = LIMITS,
) -> Iterator[FileResult]:
    """Scan files one after the other; a bad file or page never stops the others."""
    listed = [Path(p) for p in paths]
    for index, path in enumerate(listed):

        def tell(stage: str, share: float, index: int = index, path: Path = path) -> None:
            progress(f"{path.name}: {stage}", (index + share) / len(listed))

        pages: list[Page] = []
        refused: list[tuple[str, UserError]] = []
        for item in read_path(path, limits):
            if isinstance(item, Refused):
                refused.append((item.name, item.error))
                continue
            try:
                pages.append(scan_photo(item, reader, progress=tell))
            except BadPhoto as error:
                refused.append((item.name, error))
        yield FileResult(path, tuple(pages), tuple(refused))


def scan_file(
    path: Path | str,
    reader: Reader,
    *,
    progress: Progress = quiet,
    limits: Limits = LIMITS,
) -> tuple[Page, ...]:
    """All pages of one file.

    Raises:
        UserError: the first reason, when no page of the file could be used.
    """
    (result,) = scan_files([path], reader, progress=progress, limits=limits)
    if not result.pages and result.refused:
        raise result.refused[0][1]
    return result.pages


def scan_photo(photo: Photo, reader: Reader, *, progress: Progress = quiet) -> Page:
    """One picture to one page.

    Raises:
        BadPhoto: too dark, or nothing on it looks like lines of writing.
    """
    started = time.perf_counter()
    progress("finding the sheet", 0.0)
    page = scan_flat(flatten(photo.image), photo.name, photo.number, reader, progress=progress)
    return replace(page, seconds=time.perf_counter() - started)


def scan_flat(
    flat: FlatPage, name: str, number: int, reader: Reader, *, progress: Progress = quiet
) -> Page:
    """A flattened sheet to a page: the second half of ``scan_photo``."""
    started = time.perf_counter()
    progress("separating print and pen", 0.2)
    ink = find_ink(flat.image)
    known_pen = coloured(ink.parts)
    progress("reading print", 0.3)
    words = find_words(print_only(flat.image, _pixels_of(ink, ~known_pen)))
    pen = is_pen(ink.parts, known_pen, words)
    grey = print_only(flat.image, all_but(ink, _pixels_of(ink, pen)))
    printed_lines = read_print(grey, words, ink.parts.boxes, pen, reader)
    progress("reading handwriting", 0.7)
    written = _read_pen(ink, flat.image, pen, reader)
    height, width = flat.image.shape[:2]
    progress("done", 1.0)
    return Page(
        photo=name,
        number=number,
        size=(width, height),
        to_photo=flat.to_photo,
        lines=numbered_blocks(printed_lines + written),
        spaces=answer_spaces(ink.rules, (width, height)),
        problems=flat.problems,
        seconds=time.perf_counter() - started,
        image=flat.image,
    )


def _pixels_of(ink: Ink, chosen: np.ndarray) -> np.ndarray:
    """Bool (height, width): the ink of the chosen parts."""
    table = np.concatenate([[False], chosen])
    return table[ink.labels]


def _read_pen(ink: Ink, image: np.ndarray, pen: np.ndarray, reader: Reader) -> tuple[Line, ...]:
    ink, lines = pen_lines(ink, pen)
    readings = reader.read([line_image(ink, image, line) for line in lines]) if lines else []
    return tuple(
        Line("pen", line.box, reading, struck=line.struck)
        for line, reading in zip(lines, readings, strict=True)
    )
