"""Worksheets printed with a code: what is on them, and how their photos sort themselves."""

from __future__ import annotations

import json
import random

import numpy as np
import pypdfium2
import pytest
from PIL import Image, ImageDraw, ImageFont

from scanner.errors import BadFile
from scanner.marks import SheetCode, read_code
from tests.sheets.typefaces import hand_files
from tests.ui.fixed_reader import load_plain_reader
from tests.ui.stacks import QUESTIONS
from ui.batch import HERE, page_from_json, run_stack
from ui.look_over import doubts
from ui.print_worksheet import print_worksheet
from ui.printed_sheet import (
    OtherQuestions,
    blank_pages,
    new_printed,
    printed_from_json,
    worksheet_pdf,
)
from ui.records import Records

PEN = (60, 80, 190)
LONG = f"""Take k = 9.0 × 10^9 N·m²·C⁻².

{QUESTIONS}2. Two identical spheres X and Y carry charges of +6.0 × 10^-9 C and -2.0 × 10^-9 C.
They are brought into contact and then separated.
2.1 Calculate the new charge on each sphere. (3)
2.2 How many electrons were transferred? (3)
2.3 The spheres are now 30 cm apart. Calculate the magnitude of the force between them. (4)
"""


def rendered(pdf: bytes) -> list[Image.Image]:
    document = pypdfium2.PdfDocument(pdf)
    pages = [
        document[n].render(scale=200 / 72).to_pil().convert("RGB") for n in range(len(document))
    ]
    document.close()
    return pages


# --- the paper ----------------------------------------------------------------------------


def test_every_page_of_every_copy_carries_its_code():
    printed = new_printed("Beads 11B", LONG, ("Aisha Naidoo", "Ben Okafor"))
    codes = [read_code(np.asarray(page)) for page in rendered(worksheet_pdf(printed))]
    assert codes == [SheetCode(printed.code, page, 2, copy) for copy in (1, 2) for page in (1, 2)]


def test_print_is_known_to_the_word_and_the_pixel():
    """The ink of each word lies inside the box that is said to hold it."""
    (first, _) = blank_pages(new_printed("Beads 11B", LONG))
    assert first.lines[1].text == "Take k = 9.0 × 10^{9} N·m^{2}·C^{-2}."
    ink = first.image.min(axis=2) < 128
    held = np.zeros_like(ink)
    for line in first.lines:
        for word in line.words:
            box = word.box
            inside = ink[box.y : box.bottom, box.x : box.right]
            assert inside.any(), word
            held[box.y - 1 : box.bottom + 1, box.x - 1 : box.right + 1] = True
    body = slice(first.lines[1].box.y - 10, first.lines[-1].box.bottom + 10)
    framed = np.zeros_like(ink)
    for space in first.spaces:
        framed[space.box.y - 4 : space.box.bottom + 4] = True
    assert not (ink & ~held & ~framed)[body].any()


def test_a_power_of_ten_stays_with_its_number_and_unit():
    pages = list(blank_pages(new_printed("Beads 11B", LONG)))
    words = [word.reading.text for page in pages for line in page.lines for word in line.words]
    assert "+6.0 × 10^{-9} C" in words


def test_a_question_that_print_would_change_is_refused():
    with pytest.raises(BadFile, match="no question"):
        new_printed("empty", "  \n")
    with pytest.raises(BadFile, match="too long for one page"):
        new_printed("long", "1. " + "A bead carries a charge of +2.0 nC. " * 200 + "(40)")


def test_printed_again_a_worksheet_keeps_its_code_and_its_copies(tmp_path):
    records = Records.open(tmp_path)
    first, _ = print_worksheet(records, "Beads", QUESTIONS, ["Aisha", "Ben"])
    again, _ = print_worksheet(records, "Beads", QUESTIONS, ["Ben", "Carla"])
    before, after = printed_from_json(first.printed), printed_from_json(again.printed)
    assert (after.code, after.copies) == (before.code, ("Aisha", "Ben", "Carla"))
    assert len(records.blanks(again)) == after.pages
    with pytest.raises(OtherQuestions, match="other questions"):
        print_worksheet(records, "Beads", LONG)
    records.close()


# --- its photos ---------------------------------------------------------------------------


def written_on(page: Image.Image, learner: int) -> Image.Image:
    """The page with two lines of a learner's writing in each frame."""
    draw = ImageDraw.Draw(page)
    hands = hand_files()
    pen = ImageFont.truetype(hands[learner % len(hands)], 52)
    for space in next(iter(blank_pages(new_printed("Beads", QUESTIONS)))).spaces:
        for row in range(2):
            draw.text(
                (200 + 30 * row + 7 * learner, space.box.y + 20 + 100 * row), "F = 2.5 N", PEN, pen
            )
    return page


@pytest.fixture(scope="module")
def sorted_stacks(tmp_path_factory):
    """Two worksheets for three learners, photographed in one pile in no order at all."""
    folder = tmp_path_factory.mktemp("printed")
    records = Records.open(folder / "data")
    learners = ["Aisha Naidoo", "Ben Okafor"]
    _, long = print_worksheet(records, "Spheres", LONG, learners)
    beads, short = print_worksheet(records, "Beads", QUESTIONS, learners[:1])
    pages = [*rendered(long), written_on(rendered(short)[0], 0)]
    names = [f"IMG_{number:04}.jpg" for number in range(len(pages))]
    random.Random(5).shuffle(names)
    photos = folder / "photos"
    photos.mkdir()
    for page, name in zip(pages, names, strict=True):
        page.save(photos / name, quality=90)
    how = {"workers": HERE, "load_reader": load_plain_reader}
    outcome = run_stack(records, beads, [photos], **how)
    others = [run_stack(records, other, **how) for other in outcome.elsewhere]
    again = run_stack(records, beads, [photos], **how)
    yield records, outcome, others, again
    records.close()


def scripts_of(records, stack):
    names = {script.id: script.name for script in records.scripts(records.stack(stack))}
    return [(names[p.script], p.place, p.state) for p in records.pages(records.stack(stack))]


def test_a_pile_of_two_worksheets_sorts_itself(sorted_stacks):
    records, outcome, others, _ = sorted_stacks
    assert scripts_of(records, "Beads") == [("Aisha Naidoo", 0, "read")]
    assert scripts_of(records, "Spheres") == [
        ("Aisha Naidoo", 0, "read"),
        ("Aisha Naidoo", 1, "read"),
        ("Ben Okafor", 0, "read"),
        ("Ben Okafor", 1, "read"),
    ]
    assert [stack.name for stack in outcome.elsewhere] == ["Spheres"]
    assert (outcome.checked, [other.checked for other in others]) == (1, [2])


def test_a_pile_that_is_handed_in_again_brings_nothing_new(sorted_stacks):
    again = sorted_stacks[3]
    assert (again.new_pages, again.checked, again.elsewhere) == (0, 0, ())


def test_every_given_is_exactly_as_typed(sorted_stacks):
    records = sorted_stacks[0]
    (script,) = records.scripts(records.stack("Beads"))
    (sheet,) = json.loads(script.findings)["sheets"]
    givens = [[given["text"] for given in q["givens"]] for q in sheet["questions"]]
    assert givens[0] == ["-3.6 nC", "+4.8 nC", "12 cm"]
    assert {"+2.0 nC", "250 N/C"} <= set(givens[1])


def test_the_code_is_no_writing_and_the_writing_is_each_question_s(sorted_stacks):
    records = sorted_stacks[0]
    (page,) = records.pages(records.stack("Beads"))
    assert len(page_from_json(page.scanned).pen_lines) == 4
    (script,) = records.scripts(records.stack("Beads"))
    (sheet,) = json.loads(script.findings)["sheets"]
    assert [len(question["working"]) for question in sheet["questions"]] == [2, 2]
    blanks = [p for p in records.pages(records.stack("Spheres")) if p.scanned]
    assert not any(page_from_json(p.scanned).pen_lines for p in blanks)


def test_no_page_is_left_in_the_folder_it_was_handed_in_to(sorted_stacks):
    records = sorted_stacks[0]
    kept = {
        name: len(list(records.stack(name).folder.glob("page-*"))) for name in ("Beads", "Spheres")
    }
    assert kept == {"Beads": 1, "Spheres": 4}
    assert not list(records.stack("Beads").folder.glob("flat-*"))


def test_the_same_page_of_one_copy_twice_is_put_in_front_of_a_person(sorted_stacks, tmp_path):
    records = Records.open(tmp_path)
    stack, pdf = print_worksheet(records, "Beads", QUESTIONS, ["Aisha Naidoo"])
    for learner in (0, 1):
        written_on(rendered(pdf)[0], learner).save(tmp_path / f"{learner}.jpg")
    sources = [tmp_path / "0.jpg", tmp_path / "1.jpg"]
    run_stack(records, stack, sources, workers=HERE, load_reader=load_plain_reader)
    assert scripts_of(records, "Beads") == [
        ("Aisha Naidoo", 0, "read"),
        ("Aisha Naidoo", 0, "failed"),
    ]
    (twice,) = [doubt for doubt in doubts(records, stack) if doubt.kind == "photo"]
    assert "handed in twice" in twice.why[0]
    records.close()


def test_copies_without_numbers_keep_the_order_of_the_pile(tmp_path):
    records = Records.open(tmp_path / "data")
    stack, pdf = print_worksheet(records, "Spheres", LONG)
    lost = (0, 1, 0, 0, 1)  # the second learner's page 2 is not in the pile
    pile = [rendered(pdf)[number] for number in lost]
    for number, page in enumerate(pile):
        written_on(page, number).save(tmp_path / f"IMG_{number}.jpg")
    run_stack(
        records,
        stack,
        [tmp_path / f"IMG_{number}.jpg" for number in range(5)],
        workers=HERE,
        load_reader=load_plain_reader,
    )
    assert [(name, place) for name, place, _ in scripts_of(records, "Spheres")] == [
        ("IMG_0", 0),
        ("IMG_0", 1),
        ("IMG_2", 0),
        ("IMG_3", 0),
        ("IMG_3", 1),
    ]
    records.close()
