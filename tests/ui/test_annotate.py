"""Marks on the flattened page."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from scanner.errors import BadFile
from solver.findings import Verdict
from tests.ui.samples import sample_page, sample_sheet
from ui.annotate import annotated_image, page_marks, write_annotated
from ui.verdict_looks import LOOKS


def test_every_verdict_is_told_by_shape_word_and_colour():
    marks = page_marks(sample_sheet())
    words = {mark.text for mark in marks}
    for verdict in Verdict:
        assert any(verdict.value in text for text in words)
    for first, second in combinations(LOOKS.values(), 2):
        assert first.sign != second.sign
        assert first.corners != second.corners
        assert first.colour != second.colour


def test_first_broken_line_is_marked_with_its_reason():
    broken = [mark for mark in page_marks(sample_sheet()) if mark.kind == "broken"]
    assert [mark.text for mark in broken] == ["line 2 breaks here: 12 is in cm"]


def test_shared_given_is_marked_once():
    givens = [mark for mark in page_marks(sample_sheet()) if mark.kind == "given"]
    assert len(givens) == len({mark.box for mark in givens}) == 3


def test_labels_cover_no_ink_where_there_is_room():
    page = sample_page()
    ink = [line.box for line in page.lines]
    for mark in page_marks(sample_sheet()):
        label = mark.label
        assert label.x >= 0
        assert label.right <= page.size[0]
        for box in ink:
            apart = (
                label.right <= box.x
                or box.right <= label.x
                or label.bottom <= box.y
                or box.bottom <= label.y
            )
            assert apart, (mark.text, box)


def test_white_letters_stand_out_on_every_verdict_colour():
    """Contrast as WCAG 2.2 defines it (relative luminance), 4.5 to 1 for small text."""
    for look in LOOKS.values():
        assert 1.05 / (_luminance(look.colour) + 0.05) >= 4.5


def _luminance(colour: str) -> float:
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_annotated_photo_is_the_page_with_marks():
    plain = np.asarray(sample_page().image)
    drawn = np.asarray(annotated_image(sample_sheet()))
    assert drawn.shape == plain.shape
    changed = np.mean(np.any(drawn != plain, axis=2))
    assert 0.005 < changed < 0.15


def test_photos_of_one_name_are_all_written(tmp_path):
    taken: set[Path] = set()
    paths = [write_annotated(sample_sheet(), tmp_path / "out", taken) for _ in range(2)]
    assert [path.name for path in paths] == ["beads-page-1.jpg", "beads-page-1-2.jpg"]
    for path in paths:
        assert Image.open(path).size == sample_page().size


def test_folder_that_cannot_be_made_is_one_sentence(tmp_path):
    blocked = tmp_path / "file"
    blocked.write_text("")
    with pytest.raises(BadFile, match="could not be written"):
        write_annotated(sample_sheet(), blocked / "folder", set())


def test_typed_questions_have_no_marks():
    assert page_marks(replace(sample_sheet(), page=None)) == ()
