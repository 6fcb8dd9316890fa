"""A stack from photos to findings: intake, work by several processes, resume, late scripts.

The steps: take in (``ui.stack_intake``), flatten every page, sort the pages that carry a code
(``ui.sorting``), learn the printed blank that pages share and read its print once, read the ink
of every page, check every script. Each piece of work is recorded as it finishes, so a run may be
stopped or killed and run again; what is recorded is not done twice. A piece of work depends on
recorded things alone, never on the order or number of the workers: results are the same for any.
"""

from __future__ import annotations

import errno
import os
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image
from pydantic import TypeAdapter

from parser.assemble import worksheet_from_pages
from parser.worksheet import Worksheet
from scanner import stack_consensus
from scanner.errors import BadFile, ExitCode, UserError
from scanner.flatten import FlatPage, flatten
from scanner.intake import Refused, read_path
from scanner.marks import read_code
from scanner.page import AnswerSpace, Box, Line, Matrix, Page
from scanner.print_words import Reader
from scanner.reader import LineReader
from scanner.scan import scan_flat
from scanner.stack_consensus import Alignment, Blank
from ui import document
from ui.checked import CheckedSheet, FailedFile
from ui.decisions import check_decided
from ui.records import Decision, Records, Stack
from ui.records import Page as PageRow
from ui.sorting import elsewhere_to_do, sort_pages
from ui.stack_intake import take_in
from ui.workers import LocalWorkers, Workers

# Pages that share a worksheet before its print is read from all of them. With fewer, pen that
# several writers put in one place passes for print; such pages are read one by one.
LEAST_FOR_BLANK = 10
_MOST_FOR_BLANK = 15  # more pages make the median no better, only slower
_JPEG = {"quality": 95, "subsampling": 0}  # no loss that the reader would see
_GIVEN_UP = 3  # references tried in a row without finding pages that share a blank

HERE = LocalWorkers(1)

LoadReader = Callable[[], Reader]


@dataclass(frozen=True)
class Progress:
    """What happens now, how much is done, and the seconds that are likely left."""

    stage: str
    done: int
    of: int
    seconds_left: float | None

    @property
    def share(self) -> float:
        return self.done / self.of if self.of else 1.0


Tell = Callable[[Progress], None]


@dataclass(frozen=True)
class RunOutcome:
    """What one run did: pages taken in, scripts checked, files and pages that failed.

    ``elsewhere`` are other stacks with pages to do: pages went there by the code on them.
    """

    new_pages: int
    checked: int
    failures: tuple[FailedFile, ...]
    needs_person: bool
    elsewhere: tuple[Stack, ...] = ()

    @property
    def exit_code(self) -> ExitCode:
        if self.failures:
            return ExitCode.PARTIAL if self.checked else ExitCode.BAD_INPUT
        return ExitCode.LOOK if self.needs_person else ExitCode.OK


def quiet(progress: Progress) -> None:
    """Progress that shows nothing."""


def load_line_reader() -> Reader:
    """The line reader on one thread: the processes are what runs side by side."""
    return LineReader.load(threads=1)


def run_stack(
    records: Records,
    stack: Stack,
    sources: Iterable[Path] = (),
    *,
    workers: Workers | None = None,
    pages_per_script: int = 1,
    load_reader: LoadReader = load_line_reader,
    tell: Tell = quiet,
) -> RunOutcome:
    """Take sources in and bring the stack up to date; without sources, go on where it stopped.

    Args:
        workers: who does the work; a process for each processor core when None.
        pages_per_script: how many loose photos, or pages of one scanned PDF, make a script.
        load_reader: called once in each process; must be importable there.

    Raises:
        MissingPart: Tesseract or the reader's model file is not installed.
        BadFile: the records' folder cannot be written.
        NoCluster: the workers of a cluster cannot see the photos or the records' folder.
    """
    workers = workers or LocalWorkers()
    try:
        tell(Progress("taking in", 0, 1, None))
        taken = take_in(records, stack, list(sources), pages_per_script)
        workers.need([stack.folder, *_waiting_photos(records, stack)])
        _flatten_pages(records, stack, workers, tell)
        sort_pages(records, stack)
        _learn_blanks(records, stack, workers, load_reader, tell)
        _read_pages(records, stack, workers, load_reader, tell)
        checked = check_scripts(records, records.stack(stack.name), workers, tell)
    except OSError as error:
        if error.errno == errno.ENOSPC:
            raise BadFile(
                "The disk is full; make room and run the same command again. What was done is kept."
            ) from error
        raise
    failed = [
        FailedFile(page.source, page.message or "", ExitCode.BAD_INPUT)
        for page in records.pages(stack)
        if page.state == "failed"
    ]
    findings = [script.findings or "" for script in records.scripts(stack)]
    return RunOutcome(
        taken.new,
        checked,
        (*taken.refused, *failed),
        any('"needs_person": true' in one for one in findings),
        tuple(elsewhere_to_do(records, stack)),
    )


# --- pages as they are recorded -----------------------------------------------------------


@dataclass(frozen=True)
class _Scanned:
    """A ``scanner.page.Page`` without its image."""

    photo: str | None
    number: int
    size: tuple[int, int]
    to_photo: Matrix
    lines: tuple[Line, ...] = ()
    spaces: tuple[AnswerSpace, ...] = ()
    problems: tuple[str, ...] = ()
    seconds: float = 0.0


@dataclass(frozen=True)
class _Layout:
    """A ``scanner.stack_consensus.Blank`` without its image."""

    lines: tuple[Line, ...]
    spaces: tuple[AnswerSpace, ...]
    codes: tuple[Box, ...] = ()


_SCANNED = TypeAdapter(_Scanned)
_LAYOUT = TypeAdapter(_Layout)
_WORKSHEET = TypeAdapter(Worksheet)


def page_as_json(page: Page) -> str:
    """A page without its image."""
    fields = {name: getattr(page, name) for name in _Scanned.__dataclass_fields__}
    return _SCANNED.dump_json(_Scanned(**fields)).decode()


def page_from_json(text: str, image: Path | None = None) -> Page:
    """A recorded page, with its image when a path is given."""
    scanned = _SCANNED.validate_json(text)
    fields = {name: getattr(scanned, name) for name in _Scanned.__dataclass_fields__}
    return Page(**fields, image=None if image is None else _read_image(image))


def worksheet_from_json(text: str) -> Worksheet:
    """A recorded worksheet, its written lines included."""
    return _WORKSHEET.validate_json(text)


def worksheet_json(worksheet: Worksheet) -> str:
    """A worksheet, its written lines included."""
    return _WORKSHEET.dump_json(worksheet).decode()


def _read_image(path: Path) -> np.ndarray:
    with Image.open(path) as image:
        return np.asarray(image.convert("RGB"))


def _write_image(image: np.ndarray, path: Path) -> None:
    """Write through a temporary name, so that a file that is there is whole."""
    part = path.with_suffix(f".{os.getpid()}.part")
    Image.fromarray(image).save(part, "JPEG", **_JPEG)
    part.replace(path)


# --- work spread over workers -------------------------------------------------------------


@dataclass(frozen=True)
class _Failed:
    message: str


def _spread(
    work: Callable[..., Any],
    jobs: Sequence[tuple[Any, ...]],
    workers: Workers,
    stage: str,
    tell: Tell,
) -> Iterator[tuple[int, Any]]:
    """(index of the job, its result) as they finish, with what is left told after each."""
    if not jobs:
        return
    started = time.monotonic()
    tell(Progress(stage, 0, len(jobs), None))
    for done, (index, result) in enumerate(workers.each(work, jobs), start=1):
        yield index, result
        pace = (time.monotonic() - started) / done
        tell(Progress(stage, done, len(jobs), pace * (len(jobs) - done)))


@cache
def _reader(load: LoadReader) -> Reader:
    """One reader a process."""
    return load()


# --- flattening ----------------------------------------------------------------------------


def _waiting_photos(records: Records, stack: Stack) -> list[Path]:
    """Photos that are still there; one that is gone is said when its turn comes."""
    waiting = (page.path for page in records.pages(stack) if page.state == "waiting")
    return [path for path in waiting if path.exists()]


def _flatten_pages(records: Records, stack: Stack, workers: Workers, tell: Tell) -> None:
    waiting = [page for page in records.pages(stack) if page.state == "waiting"]
    jobs = [(page.path, page.source, page.place, _flat_path(stack, page)) for page in waiting]
    for index, result in _spread(_flatten, jobs, workers, "finding the sheets", tell):
        page = waiting[index]
        if isinstance(result, _Failed):
            records.set_page(page.id, "failed", message=result.message)
        else:
            scanned, code = result
            records.set_page(page.id, "flat", image=jobs[index][3].name, scanned=scanned, code=code)
        if page.path.parent == stack.folder:
            page.path.unlink(missing_ok=True)


def _flat_path(stack: Stack, page: PageRow) -> Path:
    return stack.folder / f"flat-{page.content[:24]}.jpg"


def _flatten(photo: Path, source: str, place: int, out: Path) -> tuple[str, str | None] | _Failed:
    """The flattened page as JSON, and the code that is printed on it."""
    started = time.perf_counter()
    try:
        taken = next(iter(read_path(photo)))
        if isinstance(taken, Refused):
            return _Failed(str(taken.error))
        flat = flatten(taken.image)
    except UserError as error:
        return _Failed(str(error))
    _write_image(flat.image, out)
    height, width = flat.image.shape[:2]
    code = read_code(flat.image)
    page = Page(
        source,
        place + 1 if code is None else code.page,
        (width, height),
        flat.to_photo,
        problems=flat.problems,
        seconds=time.perf_counter() - started,
    )
    return page_as_json(page), None if code is None else str(code)


# --- the printed blank ---------------------------------------------------------------------


def _learn_blanks(
    records: Records, stack: Stack, workers: Workers, load_reader: LoadReader, tell: Tell
) -> None:
    """Find the pages that share their print, and read the print of each kind once."""
    pages = [p for p in records.pages(stack) if p.state == "flat" and p.blank is None]
    for known in records.blanks(stack):
        pages = _without_blank(records, pages, known.id, known.image, workers, tell)
    pages.sort(key=lambda page: page.content)
    misses = 0
    while len(pages) >= LEAST_FOR_BLANK and misses < _GIVEN_UP:
        reference, *others = pages
        jobs = [(page.image, reference.image) for page in others]
        lies: dict[int, Alignment] = {}
        for index, alignment in _spread(_align, jobs, workers, "comparing the pages", tell):
            if alignment is not None:
                lies[index] = alignment
        pages = others
        if len(lies) + 1 < LEAST_FOR_BLANK:
            misses += 1
            continue
        misses = 0
        found = sorted(lies)  # the order of the pages, whichever was compared first
        chosen = [(others[index].image, lies[index]) for index in found[: _MOST_FOR_BLANK - 1]]
        ((_, draft),) = _spread(
            _draft, [(reference.image, chosen)], workers, "finding the shared print", tell
        )
        again = [(path, draft) for path in (reference.image, *(path for path, _ in chosen))]
        onto_draft = dict(_spread(_align, again, workers, "comparing the pages", tell))
        fitting = [
            (path, alignment)
            for index, (path, _) in enumerate(again)
            if (alignment := onto_draft[index]) is not None
        ]
        job = (draft, fitting, load_reader)
        alike = [reference.id, *(others[index].id for index in found)]
        for _, (image, layout) in _spread(_learn, [job], workers, "reading the worksheet", tell):
            records.add_blank(stack, image, layout, alike)
        pages = [page for index, page in enumerate(others) if index not in lies]


def _without_blank(
    records: Records, pages: list[PageRow], blank: int, image: Path, workers: Workers, tell: Tell
) -> list[PageRow]:
    """Give a known blank to the late pages that share it; returns the others."""
    jobs = [(page.image, image) for page in pages]
    shared = set()
    for index, alignment in _spread(_align, jobs, workers, "comparing the pages", tell):
        if alignment is not None:
            shared.add(index)
            records.set_page(pages[index].id, "flat", blank=blank)
    return [page for index, page in enumerate(pages) if index not in shared]


def _align(image: Path, reference: Path) -> Alignment | None:
    return stack_consensus.align(_read_image(image), _read_image(reference))


def _draft(first: Path, others: Sequence[tuple[Path, Alignment]]) -> Path:
    """A first draft of the blank, under the name that the blank will have."""
    laid = ((_read_image(path), alignment) for path, alignment in others)
    path = first.with_name(f"blank-{first.stem[5:]}.png")
    _write_blank(stack_consensus.draft_blank(_read_image(first), laid), path)
    return path


def _learn(
    draft: Path, pages: Sequence[tuple[Path, Alignment]], load_reader: LoadReader
) -> tuple[str, str]:
    """The blank of pages that share their print: its image's name and its layout as JSON."""
    laid = ((_read_image(path), alignment) for path, alignment in pages)
    blank = stack_consensus.learn_blank(laid, _reader(load_reader))
    _write_blank(blank.image, draft)
    return draft.name, _LAYOUT.dump_json(_Layout(blank.lines, blank.spaces)).decode()


def _write_blank(image: np.ndarray, path: Path) -> None:
    part = path.with_suffix(f".{os.getpid()}.part")
    Image.fromarray(image).save(part, "PNG")
    part.replace(path)


@cache
def _blank(image: Path, layout: str) -> Blank:
    known = _LAYOUT.validate_json(layout)
    return Blank(_read_image(image), known.lines, known.spaces, known.codes)


def add_printed_blanks(records: Records, stack: Stack, blanks: Iterable[Blank]) -> None:
    """Record the pages of a worksheet that was printed here; their print is known, not read."""
    known = {blank.page for blank in records.blanks(stack)}
    for number, blank in enumerate(blanks, 1):
        if number in known:
            continue
        path = stack.folder / f"printed-{number}.png"
        _write_blank(blank.image, path)
        layout = _LAYOUT.dump_json(_Layout(blank.lines, blank.spaces, blank.codes)).decode()
        records.add_blank(stack, path.name, layout, number=number)


# --- reading -------------------------------------------------------------------------------


def _read_pages(
    records: Records, stack: Stack, workers: Workers, load_reader: LoadReader, tell: Tell
) -> None:
    blanks: dict[int | None, tuple[Path, str]] = {
        blank.id: (blank.image, blank.layout) for blank in records.blanks(stack)
    }
    flat = [page for page in records.pages(stack) if page.state == "flat"]
    jobs = [
        (page.image, page.scanned, blanks.get(page.blank), _page_path(stack, page), load_reader)
        for page in flat
    ]
    for index, result in _spread(_read, jobs, workers, "reading the scripts", tell):
        page = flat[index]
        records.set_page(page.id, "read", image=_page_path(stack, page).name, scanned=result)
        _flat_path(stack, page).unlink(missing_ok=True)


def _page_path(stack: Stack, page: PageRow) -> Path:
    return stack.folder / f"page-{page.content[:24]}.jpg"


def _read(
    image: Path,
    scanned: str,
    blank: tuple[Path, str] | None,
    out: Path,
    load_reader: LoadReader,
) -> str:
    started = time.perf_counter()
    known = page_from_json(scanned)
    flat = FlatPage(_read_image(image), known.to_photo, 0.0, known.problems)
    name = known.photo or image.name
    reader = _reader(load_reader)
    page = None
    if blank is not None:
        page = stack_consensus.read_against(flat, _blank(*blank), name, known.number, reader)
    if page is None:
        page = scan_flat(flat, name, known.number, reader)
    assert page.image is not None
    _write_image(page.image, out)
    seconds = known.seconds + time.perf_counter() - started
    return page_as_json(replace(page, seconds=seconds))


# --- checking ------------------------------------------------------------------------------


def check_scripts(
    records: Records, stack: Stack, workers: Workers = HERE, tell: Tell = quiet
) -> int:
    """Check every script whose pages are read and that has no findings yet; returns how many."""
    pages: dict[int, list[PageRow]] = {}
    for page in records.pages(stack):
        if page.state == "read":
            pages.setdefault(page.script, []).append(page)
    open_ones = [s for s in records.scripts(stack) if s.findings is None and s.id in pages]
    decisions = records.decisions(stack)
    jobs = [
        (
            [page.scanned for page in pages[script.id]],
            stack.worksheet,
            stack.guideline,
            [decision for decision in decisions if decision.script == script.id],
        )
        for script in open_ones
    ]
    for index, (worksheet, findings) in _spread(_check, jobs, workers, "checking", tell):
        records.set_findings(open_ones[index].id, worksheet, findings)
    return len(jobs)


def check_again(records: Records, stack: Stack, script: int) -> None:
    """Bring the findings of one script up to date with what a person decided."""
    found = next(one for one in records.scripts(stack) if one.id == script)
    if found.worksheet is None:
        return
    worksheet = worksheet_from_json(found.worksheet)
    guideline = records.stack(stack.name).guideline
    decisions = [d for d in records.decisions(stack) if d.script == script]
    page = next(p for p in records.pages(stack) if p.script == script and p.scanned is not None)
    sheet = CheckedSheet(
        *check_decided(worksheet, guideline, decisions), page_from_json(page.scanned or "")
    )
    records.set_findings(script, found.worksheet, document.as_json([sheet]))


def _check(
    scanned: Sequence[str],
    questions: str | None,
    guideline: str | None,
    decisions: Sequence[Decision],
) -> tuple[str, str]:
    """The worksheet as it was read, and the findings with what a person decided."""
    pages = [page_from_json(one) for one in scanned]
    known = worksheet_from_json(questions) if questions else None
    worksheet = worksheet_from_pages(pages, known)
    findings = check_decided(worksheet, guideline, decisions)
    return worksheet_json(worksheet), document.as_json([CheckedSheet(*findings, pages[0])])
