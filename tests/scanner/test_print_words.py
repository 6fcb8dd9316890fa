"""Printed words from Tesseract; spans that may hold a quantity read again by the line reader."""

from collections.abc import Sequence

import cv2
import numpy as np
import pytest

from scanner.page import Box, Candidate, Reading
from scanner.print_words import (
    RawWord,
    find_words,
    needs_reread,
    overlooked_words,
    print_lines,
    read_lines,
    spans_to_reread,
)
from tests.scanner.drawn_sheet import QUESTION, paper, printed


class Always:
    """Reads every line as the same text, and keeps the images it was given."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.images: list[np.ndarray] = []

    def read(self, images: Sequence[np.ndarray]) -> list[Reading]:
        self.images += list(images)
        return [Reading((Candidate(self.text, 0.9),)) for _ in images]


def words(*texts: str, confidence: float = 95.0) -> list[RawWord]:
    placed, x = [], 50
    for text in texts:
        placed.append(RawWord(Box(x, 100, 15 * len(text), 24), text, confidence, (1, 1, 1)))
        x += 15 * len(text) + 10
    return placed


def test_tesseract_reads_clean_print():
    page = cv2.cvtColor(printed(paper(), QUESTION), cv2.COLOR_RGB2GRAY)
    found = find_words(page)
    text = " ".join(word.text for word in found)
    assert "Explain what happens when they touch each other." in text
    hang = next(word for word in found if word.text == "hang")
    assert 200 < hang.box.y < 215 and hang.confidence > 80


def test_an_empty_page_has_no_words():
    assert find_words(np.full((300, 300), 255, np.uint8)) == ()


@pytest.mark.parametrize("token", ["4", "nC", "-3.6", "10°", "µC", "N·C", "×", "(2)", "=", "F1"])
def test_tokens_that_may_hold_a_quantity_are_read_again(token):
    assert needs_reread(token)


@pytest.mark.parametrize("token", ["charge", "The", "apart.", "sphere's", "A", "Explain:"])
def test_plain_words_are_left_alone(token):
    assert not needs_reread(token)


def test_neighbouring_quantity_tokens_make_one_span():
    texts = ["A", "charge", "of", "-3.6", "x", "10°", "C", "is", "12", "cm", "from", "it"]
    assert [texts[a:b] for a, b in spans_to_reread(texts)] == [
        ["-3.6", "x", "10°", "C"],
        ["12", "cm"],
    ]


def test_the_line_reader_has_the_last_word_on_such_spans():
    line = words("A", "charge", "of", "2", "pC", "moves")
    reader = Always("2 µC")
    (read,) = read_lines(np.full((300, 800), 255, np.uint8), [line], reader)
    assert read.text == "A charge of 2 µC moves"
    again = [word for word in read.words if word.reread]
    assert len(again) == 1 and again[0].box == line[3].box.union(line[4].box)
    assert read.reading.confidence == pytest.approx(0.9)


def test_the_span_shown_to_the_reader_is_taller_than_the_words_and_holds_no_neighbour():
    page = np.full((300, 800), 255, np.uint8)
    line = words("is", "25", "metres")
    for word in line:
        page[word.box.y : word.box.bottom, word.box.x : word.box.right] = 0
    page[:, line[0].box.x : line[0].box.right] = 60
    reader = Always("25")
    read_lines(page, [line[:2] + line[2:]], reader)
    (image,) = reader.images
    assert image.shape[0] >= 24 + 10 + 7
    assert not (image == 60).any()


def test_words_on_pen_ink_are_no_print():
    line = words("Name", "Thandi")
    boxes = np.array([[*word.box] for word in line])
    (kept,) = print_lines(tuple(line), boxes, np.array([False, True]))
    assert [word.text for word in kept] == ["Name"]


def test_a_number_that_tesseract_passed_over_is_read_and_leads_its_row():
    row = words("Find", "the", "charge")
    boxes = np.array([[10, 100, 12, 24], [24, 120, 4, 4], *(word.box for word in row)])
    pen = np.zeros(len(boxes), bool)
    (lone,) = overlooked_words(row, boxes, pen)
    assert lone.box == Box(10, 100, 18, 24)
    (line,) = print_lines((*row, lone), boxes, pen)
    page = np.full((200, 400), 255, np.uint8)
    assert read_lines(page, [line], Always("2."))[0].text == "2. Find the charge"


def test_a_speck_and_handwriting_are_no_overlooked_words():
    row = words("Find", "the", "charge")
    boxes = np.array([[10, 110, 4, 4], [10, 300, 14, 24], *(word.box for word in row)])
    pen = np.array([False, True, False, False, False])
    assert overlooked_words(row, boxes, pen) == ()


def test_an_overlooked_word_that_cannot_be_read_leaves_the_row_as_it_was():
    row = words("Find", "the", "charge")
    lone = RawWord(Box(10, 100, 18, 24), "", 0.0, (-1, 0, 0))
    page = np.full((200, 400), 255, np.uint8)
    assert read_lines(page, [[lone, *row]], Always(""))[0].text == "Find the charge"


def test_marks_at_the_margin_join_their_row_but_long_neighbours_do_not():
    row = words("Find", "the", "charge")
    marks = RawWord(Box(700, 102, 40, 24), "(3)", 95.0, (2, 1, 1))
    column = RawWord(Box(900, 102, 200, 24), "elsewhere", 95.0, (3, 1, 1))
    boxes = np.array([word.box for word in (*row, marks, column)])
    lines = print_lines((*row, marks, column), boxes, np.zeros(len(boxes), bool))
    assert [[word.text for word in line] for line in lines] == [
        ["Find", "the", "charge", "(3)"],
        ["elsewhere"],
    ]
