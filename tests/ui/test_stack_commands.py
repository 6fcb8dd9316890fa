"""``python -m ui stack ...`` over a stack that is already checked."""

from __future__ import annotations

import pypdfium2
import pytest

from scanner.errors import ExitCode
from tests.ui.stacks import QUESTIONS, stack_with_scripts
from ui import command_line

CLASS = """name,sourcedId
Aisha,learner-a
Benjamin Okafor,learner-b
"""


@pytest.fixture
def stack(tmp_path):
    """Call a stack command on the stack "Beads 11B" of a data folder of its own."""
    records, _ = stack_with_scripts(tmp_path / "data")
    records.close()

    def call(*words: object, name: str = "Beads 11B") -> int:
        told = [str(word) for word in words]
        return command_line.main(["stack", *told, "--name", name, "--data", str(tmp_path / "data")])

    return call


@pytest.fixture
def class_csv(tmp_path):
    path = tmp_path / "class.csv"
    path.write_text(CLASS, encoding="utf-8")
    return path


@pytest.fixture
def questions(tmp_path):
    path = tmp_path / "questions.txt"
    path.write_text(QUESTIONS, encoding="utf-8")
    return path


def test_a_worksheet_is_printed_for_each_learner(stack, class_csv, questions, tmp_path):
    out = tmp_path / "sheet.pdf"
    printed = stack("print", questions, "--out", out, "--class-list", class_csv, name="New")
    assert printed == ExitCode.OK
    document = pypdfium2.PdfDocument(out)
    texts = [document[page].get_textpage().get_text_range() for page in range(len(document))]
    document.close()
    assert ["Aisha" in texts[0], "Benjamin Okafor" in texts[1]] == [True, True]


def test_numbered_copies_are_printed_without_a_class_list(stack, questions, tmp_path):
    out = tmp_path / "sheet.pdf"
    assert stack("print", questions, "--out", out, "--copies", 3, name="New") == ExitCode.OK
    document = pypdfium2.PdfDocument(out)
    assert len(document) == 3
    document.close()


def test_it_is_said_whose_script_is_whose_and_who_is_missing(stack, class_csv, questions, capsys):
    stack("print", questions, "--out", class_csv.with_name("s.pdf"), "--class-list", class_csv)
    capsys.readouterr()
    assert stack("learners") == ExitCode.LOOK
    said = capsys.readouterr().out
    assert "Aisha: Aisha\n" in said
    assert "No script yet of Benjamin Okafor.\n" in said
    stack("learners", "--script", "Ben", "--is", "Benjamin Okafor")
    assert "Ben: Benjamin Okafor\n" in capsys.readouterr().out


def test_a_learner_who_is_not_on_the_list_is_refused(stack, capsys):
    assert stack("learners", "--script", "Ben", "--is", "Nobody") == ExitCode.BAD_INPUT
    assert "just as it stands on the class list" in capsys.readouterr().err


def test_oneroster_takes_its_learners_from_the_class_list(stack, class_csv, questions, tmp_path):
    stack("print", questions, "--out", tmp_path / "s.pdf", "--class-list", class_csv)
    ids = ["--class-id", "c", "--school-id", "s", "--period-id", "p"]
    stack("marks", "--oneroster", tmp_path / "marks.zip", *ids)
    assert (tmp_path / "marks.zip").read_bytes().startswith(b"PK")


def test_oneroster_without_learners_says_what_is_missing(stack, tmp_path, capsys):
    ids = ["--class-id", "c", "--school-id", "s", "--period-id", "p"]
    assert stack("marks", "--oneroster", tmp_path / "m.zip", *ids) == ExitCode.BAD_INPUT
    assert "--students or a class list" in capsys.readouterr().err


def test_watching_needs_a_folder(stack, tmp_path, capsys):
    assert stack("run", tmp_path / "a.jpg", "--watch") == ExitCode.BAD_INPUT
    assert "needs a folder" in capsys.readouterr().err
