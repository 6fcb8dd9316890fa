from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageFont

from scanner.errors import BadFile
from scanner.page import Box, Candidate, Line, Page, Reading, Word
from scanner.reader import LineReader
from tests.sheets.typefaces import hand_files
from tests.ui.stacks import stack_with_scripts
from ui.batch import page_as_json, page_from_json
from ui.class_list import (
    class_list,
    decide_learner,
    likeness,
    name_lines,
    read_class_list,
    whose_scripts,
    without_script,
)
from ui.look_over import doubts, leave, undo
from ui.mark_sheet import as_csv, mark_sheet
from ui.oneroster import students_of

LIST = """name,number,sourcedId
Aisha,11,learner-a
Ben Okafor,12,learner-b
Carla Moreira,13,learner-c
Dineo Mokoena,14,learner-d
Ann Reed,15,learner-e
Anne Read,16,learner-f
"""


def test_columns_are_found_whatever_their_order():
    learners = class_list("number,Name\n7, Ben  Okafor \n,\n")
    assert [(one.name, one.number) for one in learners] == [("Ben Okafor", "7")]


def test_a_users_file_of_oneroster_is_a_class_list():
    """Columns as in users.csv of the OneRoster 1.2 CSV binding (from memory)."""
    text = "sourcedId,status,givenName,familyName,identifier\nu1,active,Ben,Okafor,12\n"
    (ben,) = class_list(text)
    assert (ben.name, ben.number, ben.sourced_id) == ("Ben Okafor", "12", "u1")


def test_a_list_that_cannot_tell_learners_apart_is_said(tmp_path):
    with pytest.raises(BadFile, match="names “Ben” twice"):
        class_list("name\nBen\nBen\n")
    (tmp_path / "list.csv").write_text("marks\n3\n")
    with pytest.raises(BadFile, match="headed name"):
        read_class_list(tmp_path / "list.csv")


def test_names_may_stand_either_way_round_and_with_or_without_marks():
    assert likeness("Okafor, Ben", "Ben Okafor") == 1.0
    assert likeness("Jose Muñoz", "José Munoz") == 1.0
    assert likeness("Ben Dkafor", "Ben Okafor") > 0.8
    assert likeness("9.2×10^{-5} N", "Ben Okafor") < 0.5


def named(page: Page, *written: Reading) -> Page:
    """The page with a printed "Name:" and handwriting behind it."""
    heading = Box(100, 60, 90, 30)
    word = Word(heading, Reading.certain("Name:"))
    lines = [Line("print", heading, word.reading, words=(word,))]
    lines += [
        Line("pen", Box(220 + 400 * n, 50, 300, 50), reading) for n, reading in enumerate(written)
    ]
    return replace(page, lines=(*lines, *page.lines))


def sure(text: str) -> Reading:
    return Reading((Candidate(text, 0.97),))


WRITTEN = {
    "Ben": (sure("Ben Dkafor"),),
    "=Carl": (sure("13"),),
    "Dineo": (sure("Ann Reod"),),
}


@pytest.fixture
def stack(tmp_path):
    """Scripts named Aisha, Ben, =Carl and Dineo, with names written on three of them."""
    records, stack = stack_with_scripts(tmp_path)
    names = {script.id: script.name for script in records.scripts(stack)}
    for row in records.pages(stack):
        page = named(page_from_json(row.scanned), *WRITTEN.get(names[row.script], ()))
        records.set_page(row.id, "read", scanned=page_as_json(page))
    yield records, records.set_class_list(stack, LIST)
    records.close()


def learners_of(records, stack):
    names = {script.id: script.name for script in records.scripts(stack)}
    return {
        names[script]: who.learner.name if who.learner else None
        for script, who in whose_scripts(records, stack).items()
    }


def test_a_file_s_name_a_number_or_a_likely_name_tells_whose_a_script_is(stack):
    assert learners_of(*stack) == {
        "Aisha": "Aisha",
        "Ben": "Ben Okafor",
        "=Carl": "Carla Moreira",
        "Dineo": None,  # Ann Reed or Anne Read
    }
    assert without_script(*stack) == ["Dineo Mokoena", "Ann Reed", "Anne Read"]


def test_a_name_that_is_unsure_goes_to_a_person_with_the_place_and_the_likeliest_first(stack):
    records, of = stack
    (doubt,) = [doubt for doubt in doubts(records, of) if doubt.kind == "learner"]
    assert (doubt.name, doubt.box) == ("Dineo", Box(220, 50, 300, 50))
    assert set(doubt.readings[:2]) == {"Ann Reed", "Anne Read"}
    decide_learner(records, doubt.script, "Anne Read")
    assert learners_of(records, of)["Dineo"] == "Anne Read"
    assert not [doubt for doubt in doubts(records, of) if doubt.kind == "learner"]
    undo(records, of)
    leave(records, of, doubt)
    assert learners_of(records, of)["Dineo"] is None
    assert not [doubt for doubt in doubts(records, of) if doubt.kind == "learner"]


def test_two_scripts_that_claim_one_learner_both_go_to_a_person(stack):
    records, of = stack
    (row,) = [p for p in records.pages(of) if p.source == "Dineo.jpg"]
    page = named(page_from_json(row.scanned), sure("Ben Okafor"))
    page = replace(page, lines=tuple(one for one in page.lines if one.text != "Ann Reod"))
    records.set_page(row.id, "read", scanned=page_as_json(page))
    found = learners_of(records, of)
    assert (found["Ben"], found["Dineo"]) == (None, None)


def test_what_is_no_surely_read_number_is_no_number(stack):
    records, of = stack
    (row,) = [p for p in records.pages(of) if p.source == "=Carl.jpg"]
    unsure = Reading((Candidate("13", 0.6), Candidate("18", 0.3)))
    page = named(replace(page_from_json(row.scanned), lines=()), unsure)
    records.set_page(row.id, "read", scanned=page_as_json(page))
    assert learners_of(records, of)["=Carl"] is None


def test_only_writing_behind_a_heading_of_names_counts_as_a_name(stack):
    records, of = stack
    (row,) = [p for p in records.pages(of) if p.source == "Ben.jpg"]
    page = page_from_json(row.scanned)
    date = Box(700, 60, 80, 30)
    printed = Line("print", date, Reading.certain("Date:"), words=(Word(date, sure("Date:")),))
    today = Line("pen", Box(800, 50, 200, 50), sure("3 May"))
    dated = replace(page, lines=(*page.lines, printed, today))
    assert [line.text for line in name_lines(dated)] == ["Ben Dkafor"]


def test_the_mark_sheet_names_learners_and_counts_nobody_s_scripts_as_open(stack):
    sheet = mark_sheet(*stack)
    head, *rows = as_csv(sheet).splitlines()
    assert head.startswith("Script,Learner,Question 1.1 (4)")
    assert sorted(row.split(",")[1] for row in rows) == ["", "Aisha", "Ben Okafor", "Carla Moreira"]
    (dineo,) = [row for row in sheet.rows if row.script == "Dineo"]
    assert dineo.doubts == 1
    assert students_of(sheet) == {
        "Aisha": "learner-a",
        "Ben": "learner-b",
        "=Carl": "learner-c",
    }


def test_drawn_names_are_read_and_none_is_taken_for_another():
    """The shipped reader on names in the test sheets' hands, each of a list of twelve."""
    names = ["Abel Mutasa", "Brigid Nolan", "Chen Wei", "Dalia Farouk", "Elif Yilmaz"]
    names += ["Femi Adeyemi", "Giulia Conti", "Henrik Dahl", "Ines Costa", "Jabu Nkosi"]
    names += ["Sam Green", "Pam Green"]
    hands = hand_files()
    images = []
    for number, name in enumerate(names):
        pen = ImageFont.truetype(hands[number % len(hands)], 52)
        image = Image.new("L", (int(pen.getlength(name)) + 40, 90), 250)
        ImageDraw.Draw(image).text((20, 12), name, 70, pen)
        images.append(np.asarray(image))
    readings = LineReader.load(threads=1).read(images)
    best = [max((likeness(one.text, name), name) for name in names)[1] for one in readings]
    assert best == names
