"""The whole job as one function: good and bad files side by side, faults that stay on one sheet."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from PIL import Image, ImageDraw

from scanner.errors import ExitCode
from scanner.page import Reading
from tests.ui.typed_sheet import typed_sheet
from ui import check
from ui.checked import CheckedSheet, CheckedSheets, FailedFile
from ui.corrections import Corrections


class NothingRead:
    """A reader that makes out nothing: these tests are about what happens around the reading."""

    def read(self, images: Sequence[np.ndarray]) -> list[Reading]:
        return [Reading() for _ in images]


@pytest.fixture(scope="module")
def photo(tmp_path_factory):
    """A drawn sheet with one question and one line of blue ink."""
    image = Image.new("RGB", (1240, 1754), "white")
    draw = ImageDraw.Draw(image)
    draw.text((100, 150), "1. A force of 6.0 N acts on a charge of 2.0 C.", "black", font_size=34)
    draw.text((100, 210), "Calculate the electric field there. (3)", "black", font_size=34)
    draw.text((150, 330), "E = 3.0 N/C", (40, 60, 160), font_size=52)
    path = tmp_path_factory.mktemp("photos") / "sheet.png"
    image.save(path)
    return path


def checked(*paths, **more) -> CheckedSheets:
    return check.check_files(paths, reader=NothingRead(), **more)


def test_bad_file_is_named_and_the_others_go_on(photo, tmp_path):
    bad = tmp_path / "notes.jpg"
    bad.write_text("no picture")
    outcome = checked(bad, photo, tmp_path / "missing.jpg")
    assert [sheet.page.photo for sheet in outcome.sheets if sheet.page] == ["sheet.png"]
    assert [failure.name for failure in outcome.failures] == ["notes.jpg", "missing.jpg"]
    assert outcome.exit_code == ExitCode.PARTIAL


def test_bad_files_alone_leave_their_own_status(tmp_path):
    bad = tmp_path / "notes.jpg"
    bad.write_text("no picture")
    assert checked(bad).exit_code == ExitCode.BAD_INPUT


def test_progress_never_goes_back(photo, tmp_path):
    shares: list[float] = []
    checked(tmp_path / "missing.jpg", photo, progress=lambda what, share: shares.append(share))
    assert shares == sorted(shares)
    assert shares[0] >= 0.0
    assert shares[-1] == 1.0


def test_fault_on_one_sheet_is_said_and_the_others_go_on(photo, monkeypatch):
    real, calls = check.check_page, []

    def faulty(page, *more):
        calls.append(page)
        if len(calls) == 1:
            raise ZeroDivisionError
        return real(page, *more)

    monkeypatch.setattr(check, "check_page", faulty)
    first, second = check.check_each([photo, photo], reader=NothingRead())
    assert isinstance(first, FailedFile)
    assert "fault" in first.message
    assert isinstance(second, CheckedSheet)


def test_questions_may_come_from_typed_text(photo, tmp_path):
    typed = tmp_path / "questions.txt"
    typed.write_text(
        "1. A force of 8.0 N acts on a charge of 2.0 C. Calculate the field there.", "utf-8"
    )
    (sheet,) = checked(photo, questions=check.worksheet_from_file(typed)).sheets
    (question,) = sheet.worksheet.questions
    assert sorted(given.quantity.value for given in question.givens) == [2.0, 8.0]


def test_recheck_follows_a_persons_correction_without_reading_again():
    sheet = typed_sheet()
    corrections = Corrections().with_line((0, 2), "F = 1.08x10^-5 N")
    again = check.rechecked(sheet, corrections)
    assert [sheet.findings.questions[0].verdict, again.findings.questions[0].verdict] == [
        "differs",
        "agrees",
    ]
    assert again.page is sheet.page
    assert check.rechecked(sheet, Corrections()) is sheet


def test_typed_expected_answer_is_judged_and_shown_as_a_persons():
    again = check.rechecked(typed_sheet(), Corrections().with_expected((4, 0), "440 Hz"))
    question = again.findings.questions[4]
    assert question.verdict == "agrees"
    assert question.expected[0].given_by_person


def test_photo_without_writing_is_looked_at(tmp_path):
    path = tmp_path / "white.png"
    noise = np.random.default_rng(5).integers(235, 255, (1754, 1240, 3), dtype=np.uint8)
    Image.fromarray(noise).save(path)
    assert checked(path).exit_code in (ExitCode.LOOK, ExitCode.BAD_INPUT)
