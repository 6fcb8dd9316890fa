"""Marks on the flattened page: what was given, written and answered, and where it breaks.

``page_marks`` says what is marked and where each label fits without covering ink; the photo
on the page (``ui.components.photo``) and ``annotated_image`` both draw exactly these marks.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cache
from importlib.util import find_spec
from pathlib import Path
from typing import Literal

from PIL import Image, ImageDraw, ImageFont

from scanner.errors import BadFile, MissingPart
from scanner.page import Box, Page
from solver.findings import QuestionFindings, Verdict
from ui import words
from ui.checked import CheckedSheet
from ui.findings_words import first_broken_line, verdicts_by_line
from ui.verdict_looks import LOOKS, PLAIN, Look

Kind = Literal["given", "line", "answer", "broken", "question", "unplaced"]

LETTERS_ACROSS = 80  # label height in a file: this many fit in the width of a page
_OUTLINE = {
    "given": 0.06,
    "line": 0.06,
    "answer": 0.14,
    "broken": 0.14,
    "question": 0.0,
    "unplaced": 0.1,
}
_SMALL = 0.7  # labels of givens stand between close lines of print
_WIDEST_NOTE = 0.36  # of the page's width; longer notes are left to the findings beside the page
_WEIGHT = 600  # semi-bold: small letters on a coloured ground
_PADDING = 0.35  # of the letter height, inside a label
_AIR = 0.2  # of the letter height, between an outline and its ink


@dataclass(frozen=True)
class Mark:
    """One outlined place; ``label`` is where its words stand, ``letter`` high, in page pixels.

    A question without an answer carries its verdict as a label alone.
    """

    kind: Kind
    box: Box
    text: str
    look: Look
    question: int | None = None
    label: Box = Box(0, 0, 0, 0)
    dashed: bool = False
    letter: int = 0
    note: str = ""

    @property
    def outline(self) -> Box:
        """The box with a little air around its ink."""
        air = round(self.letter * _AIR)
        box = self.box
        return Box(box.x - air, box.y - air, box.width + 2 * air, box.height + 2 * air)

    @property
    def filled(self) -> bool:
        """True for the marks that carry a verdict: white words on the verdict's colour."""
        return self.kind in ("answer", "broken", "question")


def page_marks(sheet: CheckedSheet, letters_across: int = LETTERS_ACROSS) -> tuple[Mark, ...]:
    """Every mark of a sheet that has a page, labels placed; none without a page.

    ``letters_across`` sets the size of labels: so many of their heights fit across the page.
    """
    if sheet.page is None:
        return ()
    marks = [
        mark
        for index, found in enumerate(sheet.findings.questions)
        for mark in _question_marks(index, found)
    ]
    marks += [
        Mark("unplaced", line.box, words.NOT_PLACED, LOOKS[Verdict.UNREAD], dashed=True)
        for line in sheet.worksheet.unmatched
        if line.box
    ]
    letter = letter_height(sheet.page.size, letters_across)
    return _with_labels(_without_repeats(marks), sheet.page, letter)


def letter_height(size: tuple[int, int], letters_across: int = LETTERS_ACROSS) -> int:
    """Height of a label's letters on a page of ``size`` pixels."""
    return max(11, round(size[0] / letters_across))


def _question_marks(index: int, found: QuestionFindings) -> list[Mark]:
    marks = [
        Mark("given", given.box, words.GIVEN, PLAIN, index, dashed=True)
        for given in found.question.givens
        if given.box
    ]
    answers = verdicts_by_line(found)
    broken = first_broken_line(found)
    for number, line in enumerate(found.working, start=1):
        if line.line.box is None:
            continue
        if number in answers:
            verdict = answers[number]
            text = f"{words.ANSWER} {words.VERDICT[verdict]}"
            marks.append(Mark("answer", line.line.box, text, LOOKS[verdict], index))
        elif number == broken:
            text = f"{words.LINE.format(number=number)} {words.BREAKS_HERE}"
            look = LOOKS[Verdict.DIFFERS]
            marks.append(Mark("broken", line.line.box, text, look, index, note=line.note or ""))
        else:
            text = words.LINE.format(number=number)
            marks.append(Mark("line", line.line.box, text, PLAIN, index))
    if not answers and found.question.box:
        text = words.VERDICT[found.verdict]
        marks.append(Mark("question", found.question.box, text, LOOKS[found.verdict], index))
    return marks


def _without_repeats(marks: Iterable[Mark]) -> list[Mark]:
    """A stem's givens count for each of its parts; they are marked once."""
    once: dict[tuple[str, Box], Mark] = {}
    for mark in marks:
        once.setdefault((mark.kind, mark.box), mark)
    return list(once.values())


# --- labels -------------------------------------------------------------------------------


def _with_labels(marks: list[Mark], page: Page, letter: int) -> tuple[Mark, ...]:
    """Put each label beside its outline where it covers the least of everything else."""
    taken = [*(mark.box for mark in marks), *(line.box for line in page.lines)]
    labelled = []
    for mark in marks:
        sized = replace(mark, letter=round(letter * _SMALL) if mark.kind == "given" else letter)
        sized = _with_note(sized, page.size[0])
        label = min(_label_places(sized, page.size), key=lambda place: _covered(place, taken))
        taken.append(label)
        labelled.append(replace(sized, label=label))
    return tuple(labelled)


def _with_note(mark: Mark, page_width: int) -> Mark:
    """The mark with its note in its words, where the label stays short."""
    with_note = replace(mark, text=f"{mark.text}: {mark.note}")
    fits = _label_width(with_note) <= _WIDEST_NOTE * page_width
    return with_note if mark.note and fits else mark


def _label_width(mark: Mark) -> int:
    pad = round(mark.letter * _PADDING)
    words_width = round(_font(mark.letter).getlength(mark.text))
    return words_width + round(1.3 * mark.letter) + 2 * pad


def _label_places(mark: Mark, size: tuple[int, int]) -> list[Box]:
    letter = mark.letter
    pad = round(letter * _PADDING)
    width = _label_width(mark)
    height = letter + 2 * pad
    box = mark.outline
    middle = round(box.centre[1] - height / 2)
    corners = [
        (box.right + pad, middle),
        (box.right + pad, box.y),
        (box.right - width, box.y - height - pad),
        (box.x, box.y - height - pad),
        (box.right - width, box.bottom + pad),
        (box.x, box.bottom + pad),
        (box.x - width - pad, middle),
    ]
    return [
        Box(
            min(max(0, x), max(0, size[0] - width)),
            min(max(0, y), max(0, size[1] - height)),
            width,
            height,
        )
        for x, y in corners
    ]


def _covered(label: Box, others: Iterable[Box]) -> int:
    """Pixels of other boxes under a label."""
    return sum(
        max(0, min(label.right, o.right) - max(label.x, o.x))
        * max(0, min(label.bottom, o.bottom) - max(label.y, o.y))
        for o in others
    )


# --- drawing ------------------------------------------------------------------------------


def annotated_image(sheet: CheckedSheet) -> Image.Image:
    """The flattened page with its marks, RGB.

    Raises:
        ValueError: the sheet has no image.
    """
    if sheet.page is None or sheet.page.image is None:
        raise ValueError("this sheet has no image to draw on")
    image = Image.fromarray(sheet.page.image).convert("RGB")
    draw = ImageDraw.Draw(image)
    for mark in page_marks(sheet):
        if mark.kind != "question":
            _draw_outline(draw, mark)
        _draw_label(draw, mark)
    return image


@cache
def _font(size: int) -> ImageFont.FreeTypeFont:
    """The page's own typeface, which ships with Streamlit and has µ, × and raised figures."""
    streamlit = find_spec("streamlit")
    if streamlit is None or streamlit.origin is None:
        raise MissingPart("Streamlit is not installed; run the set-up command again.")
    media = Path(streamlit.origin).parent / "static" / "static" / "media"
    font = ImageFont.truetype(next(media.glob("SourceSansVF-Upright*.woff2")), size)
    font.set_variation_by_axes([_WEIGHT])
    return font


def _draw_outline(draw: ImageDraw.ImageDraw, mark: Mark) -> None:
    box, letter = mark.outline, mark.letter
    width = max(1, round(letter * _OUTLINE[mark.kind]))
    if not mark.dashed:
        corners = (box.x, box.y, box.right, box.bottom)
        draw.rounded_rectangle(corners, letter // 3, outline=mark.look.colour, width=width)
        return
    dash = max(4, letter // 3)
    for x in range(box.x, box.right, 2 * dash):
        end = min(x + dash, box.right)
        for y in (box.y, box.bottom):
            draw.line((x, y, end, y), mark.look.colour, width)
    for y in range(box.y, box.bottom, 2 * dash):
        end = min(y + dash, box.bottom)
        for x in (box.x, box.right):
            draw.line((x, y, x, end), mark.look.colour, width)


def _draw_label(draw: ImageDraw.ImageDraw, mark: Mark) -> None:
    label, letter = mark.label, mark.letter
    pad = round(letter * _PADDING)
    ground, letters = (mark.look.colour, "white") if mark.filled else ("white", mark.look.colour)
    corners = (label.x, label.y, label.right, label.bottom)
    draw.rounded_rectangle(corners, letter // 3, fill=ground, outline=mark.look.colour)
    left, top = label.x + pad, label.y + pad
    shape = [(left + letter * x, top + letter * y) for x, y in mark.look.corners]
    draw.polygon(shape, fill=letters)
    draw.text((left + 1.3 * letter, label.centre[1]), mark.text, letters, _font(letter), "lm")


def write_annotated(sheet: CheckedSheet, folder: Path, taken: set[Path]) -> Path:
    """Write a sheet that has an image as ``NAME-page-N.jpg``.

    Photos of two folders may share a name: names in ``taken`` are passed over, and the one
    written is added to it. Files of an earlier run are replaced.

    Raises:
        BadFile: the folder cannot be written.
    """
    image = annotated_image(sheet)
    assert sheet.page is not None
    name = f"{Path(sheet.page.photo or 'sheet').stem}-page-{sheet.page.number}"
    path, number = folder / f"{name}.jpg", 2
    while path in taken:
        path, number = folder / f"{name}-{number}.jpg", number + 1
    try:
        folder.mkdir(parents=True, exist_ok=True)
        image.save(path, quality=88)
    except OSError as error:
        raise BadFile(f"{folder} could not be written: {error.strerror}.") from error
    taken.add(path)
    return path
