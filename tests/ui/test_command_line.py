"""The command line as a user meets it, without photos."""

from __future__ import annotations

import json
import os
import subprocess
import sys

import jsonschema
import pytest

from scanner.errors import ExitCode
from ui import command_line, document
from ui.setup import ROOT

TWO_BEADS = """1. Two small beads carry charges of +2 nC and -5 nC. They are 3 cm apart.
Calculate the magnitude of the force between them. (4)
"""


@pytest.fixture
def typed(tmp_path):
    path = tmp_path / "beads.txt"
    path.write_text(TWO_BEADS, encoding="utf-8")
    return path


def test_solve_writes_what_is_expected_and_no_answers(typed, tmp_path):
    """F = k Q1 Q2 / r^2 = 9.0e9 x 2e-9 x 5e-9 / 0.03^2 = 1.0e-4 N, worked by hand."""
    out = tmp_path / "findings.json"
    assert command_line.main(["solve", str(typed), "--json", str(out)]) == ExitCode.OK
    written = json.loads(out.read_text(encoding="utf-8"))
    jsonschema.validate(written, document.schema())
    (sheet,) = written["sheets"]
    (question,) = sheet["questions"]
    assert sheet["photo"] is None
    assert question["verdict"] == "blank"
    assert question["answers"] == []
    assert question["expected"][0]["value"] == pytest.approx(1.0e-4, rel=0.005)
    assert question["expected"][0]["unit"] == "N"


def test_solve_shows_how(typed, capsys):
    command_line.main(["solve", str(typed)])
    shown = capsys.readouterr().out
    assert "Coulomb's law: F = k·Q_1·Q_2/r²" in shown
    assert "1 × 10⁻⁴ N" in shown


def test_saved_worksheet_holds_the_same_questions(typed, tmp_path):
    from ui.check import worksheet_from_file

    saved = tmp_path / "saved.json"
    command_line.main(["solve", str(typed), "--save-worksheet", str(saved)])
    assert worksheet_from_file(saved) == worksheet_from_file(typed)


def test_question_that_is_not_understood_asks_for_a_person(tmp_path):
    path = tmp_path / "odd.txt"
    path.write_text("1. Calculate the pitch at which the two beads hum. (2)", encoding="utf-8")
    assert command_line.main(["solve", str(path)]) == ExitCode.LOOK


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (b"", "There is no question in this text"),
        (b"\xff\xfe\x00\x81", "is not plain text"),
        (b"a" * 1_000_001, "is too long for typed questions"),
    ],
)
def test_text_that_is_no_question_gets_one_sentence(tmp_path, capsys, content, sentence):
    path = tmp_path / "odd.txt"
    path.write_bytes(content)
    assert command_line.main(["solve", str(path)]) == ExitCode.BAD_INPUT
    said = capsys.readouterr().err.strip()
    assert sentence in said
    assert "\n" not in said


def test_missing_file_gets_one_sentence(tmp_path, capsys):
    assert command_line.main(["solve", str(tmp_path / "none.txt")]) == ExitCode.BAD_INPUT
    assert "none.txt could not be opened" in capsys.readouterr().err


def test_worksheet_that_was_not_saved_by_us_gets_one_sentence(tmp_path):
    from scanner.errors import BadFile
    from ui.check import worksheet_from_file

    path = tmp_path / "other.json"
    path.write_text('{"questions": 3}', encoding="utf-8")
    with pytest.raises(BadFile, match="is not a saved worksheet"):
        worksheet_from_file(path)


def test_findings_that_cannot_be_written_get_one_sentence(typed, tmp_path, capsys):
    out = tmp_path / "no-such-folder" / "findings.json"
    assert command_line.main(["solve", str(typed), "--json", str(out)]) == ExitCode.BAD_INPUT
    assert "could not be written" in capsys.readouterr().err


def test_schema_is_printed(capsys):
    assert command_line.main(["schema"]) == ExitCode.OK
    assert json.loads(capsys.readouterr().out) == document.schema()


@pytest.mark.parametrize("words", [[], ["check"], ["mark", "photo.jpg"], ["solve", "--json"]])
def test_wrong_words_are_a_usage_error(words, capsys):
    with pytest.raises(SystemExit) as stopped:
        command_line.main(words)
    assert stopped.value.code == ExitCode.USAGE
    assert "usage:" in capsys.readouterr().err


def test_every_command_has_help():
    for words in (["--help"], ["check", "--help"], ["solve", "--help"], ["page", "--help"]):
        command = [sys.executable, "-m", "ui", *words]
        done = subprocess.run(
            command, cwd=ROOT, env={**os.environ, "COLUMNS": "88"}, capture_output=True, check=True
        )
        assert done.stdout.startswith(b"usage: python -m ui")
