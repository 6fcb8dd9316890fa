"""The stack's screen in a real browser: the evening from doubts to a practice sheet."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pypdfium2
import pytest
from playwright.sync_api import Browser, Page, expect

from tests.ui.browser import DESKTOP, PHONE, chromium, served, violations
from tests.ui.stacks import QUESTIONS
from ui import stack_words as said

SLOW = 120_000  # milliseconds, on a busy machine
SIGNS = {
    said.PRINT: said.MAKE_SHEET,
    said.HAND_IN: said.CHECK,
    said.WORKSHEET: said.UNDERSTOOD,
    said.LOOK_OVER: said.MAY_SAY,
    said.MARKS: said.ONE_OF_THEM,
    said.CLASS: said.TEACH,
    said.PRACTISE: said.MAKE,
    said.DELETE: said.DELETE_LEAD,
}
"""Words that stand on each view once it is drawn."""


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as running:
        yield running


@pytest.fixture(scope="module")
def page(browser) -> Iterator[Page]:
    with served("tests/ui/stack_app.py") as address:
        context = browser.new_context(viewport=DESKTOP)
        opened = context.new_page()
        opened.goto(f"{address}/stack")
        expect(opened.get_by_role("heading", name=said.STACK)).to_be_visible(timeout=SLOW)
        yield opened
        context.close()


def turn_to(page: Page, view: str) -> None:
    page.get_by_role("radio", name=view, exact=True).click()


def test_what_was_understood_and_the_guideline_are_shown(page):
    turn_to(page, said.WORKSHEET)
    expect(page.get_by_role("heading", name=said.UNDERSTOOD)).to_be_visible(timeout=SLOW)
    expect(page.get_by_text("the force on A due to B, magnitude only")).to_be_visible()
    expect(page.get_by_role("textbox", name=said.GUIDELINE)).to_have_value(
        re.compile(r"Question 1\.1 \(4 marks\)")
    )
    assert violations(page) == []


def test_a_doubt_is_settled_by_one_key_and_taken_back_by_another(page):
    turn_to(page, said.LOOK_OVER)
    expect(page.get_by_text(said.LEFT_TO_LOOK.format(count=1))).to_be_visible(timeout=SLOW)
    expect(page.get_by_alt_text(said.HANDWRITING)).to_be_visible()
    assert violations(page) == []
    page.keyboard.press("1")
    expect(page.get_by_text(said.NOTHING_OPEN)).to_be_visible(timeout=SLOW)
    page.keyboard.press("u")
    expect(page.get_by_text(said.LEFT_TO_LOOK.format(count=1))).to_be_visible(timeout=SLOW)


def test_every_mark_is_shown_beside_its_handwriting_and_can_be_changed(page):
    turn_to(page, said.MARKS)
    page.get_by_role("combobox", name=said.WHOSE_MARKS).click()
    page.get_by_role("option", name="Ben").click()
    question = page.locator(".st-key-marked-0")
    expect(question.get_by_text("2 of 4 suggested")).to_be_visible(timeout=SLOW)
    expect(question.get_by_role("img", name="line 2")).to_be_visible()
    question.get_by_role("button", name="3", exact=True).click()
    given = question.locator("[data-testid=stBaseButton-primary]")
    expect(given).to_have_text("3", timeout=SLOW)
    page.get_by_role("button", name=said.UNDO).click()
    expect(given).to_have_text("2", timeout=SLOW)


def test_a_changed_guideline_can_be_taken_back(page):
    turn_to(page, said.WORKSHEET)
    field = page.get_by_role("textbox", name=said.GUIDELINE)
    expect(field).to_have_value(re.compile("substitution"))
    undo = page.get_by_role("button", name=said.UNDO)
    expect(undo).to_have_count(0, timeout=SLOW)
    field.fill("Question 1.1 (4 marks)\n  4  answer\n")
    page.get_by_role("button", name=said.USE_GUIDELINE).click()
    undo.click(timeout=SLOW)
    expect(field).to_have_value(re.compile("substitution"), timeout=SLOW)
    expect(undo).to_have_count(0)


def test_marks_can_be_taken_home(page):
    turn_to(page, said.MARKS)
    with page.expect_download(timeout=SLOW) as taken:
        page.get_by_role("button", name=said.CSV).click()
    text = taken.value.path().read_text(encoding="utf-8-sig")
    assert text.splitlines()[0].startswith("Script,Question 1.1 (4)")
    assert violations(page) == []


def test_the_class_sees_what_to_teach_again(page):
    turn_to(page, said.CLASS)
    expect(page.get_by_text("length unit left unconverted: 2 of 4 scripts")).to_be_visible(
        timeout=SLOW
    )
    expect(page.get_by_role("button", name=said.CLASS_PDF)).to_be_visible(timeout=SLOW)


def test_practice_is_made_with_fresh_numbers(page):
    turn_to(page, said.PRACTISE)
    page.get_by_role("button", name=said.MAKE).click()
    with page.expect_download(timeout=SLOW) as taken:
        page.get_by_role("button", name=said.SHEET_PDF).click()
    assert taken.value.path().read_bytes().startswith(b"%PDF")


@pytest.mark.parametrize(
    ("viewport", "scheme"), [(DESKTOP, "dark"), (PHONE, "light"), (PHONE, "dark")]
)
def test_every_view_keeps_the_accessibility_rules(browser, page, viewport, scheme):
    context = browser.new_context(viewport=viewport, color_scheme=scheme, reduced_motion="reduce")
    other = context.new_page()
    other.goto(page.url)
    for view, there in SIGNS.items():
        turn_to(other, view)
        expect(other.get_by_text(there).first).to_be_visible(timeout=SLOW)
        assert violations(other) == [], view
        wide, visible = other.evaluate(
            "() => [document.documentElement.scrollWidth, document.documentElement.clientWidth]"
        )
        assert wide <= visible, view
    context.close()


def test_a_worksheet_is_printed_for_a_class_and_its_learners_are_asked_for(page, tmp_path):
    (tmp_path / "class.csv").write_text("name\nAisha\nBenjamin Okafor\n")
    turn_to(page, said.PRINT)
    page.get_by_role("textbox", name=said.QUESTIONS).fill(QUESTIONS)
    page.locator("input[type=file]").first.set_input_files(tmp_path / "class.csv")
    expect(page.get_by_text("class.csv")).to_be_visible(timeout=SLOW)
    page.get_by_role("button", name=said.MAKE_SHEET).click()
    with page.expect_download(timeout=SLOW) as taken:
        page.get_by_role("button", name=said.WORKSHEET_PDF).click()
    document = pypdfium2.PdfDocument(taken.value.path())
    assert len(document) == 2
    document.close()
    turn_to(page, said.HAND_IN)
    missing = said.NO_SCRIPT_OF.format(names="Benjamin Okafor")
    expect(page.get_by_text(missing)).to_be_visible(timeout=SLOW)
    turn_to(page, said.LOOK_OVER)
    expect(page.get_by_text(said.WHOSE_SCRIPT)).to_be_visible(timeout=SLOW)
    assert violations(page) == []
    page.get_by_role("button", name="1. Benjamin Okafor").click()
    turn_to(page, said.HAND_IN)
    expect(page.get_by_text(missing)).to_have_count(0, timeout=SLOW)


def test_a_stack_is_deleted_only_by_its_name(page):
    turn_to(page, said.DELETE)
    page.get_by_role("button", name=said.DELETE_NOW).click()
    expect(page.get_by_text(said.OTHER_NAME)).to_be_visible(timeout=SLOW)
    page.get_by_label(said.DELETE_NAME).fill("Beads 11B")
    page.get_by_role("button", name=said.DELETE_NOW).click()
    expect(page.get_by_text(said.DELETED.format(name="Beads 11B"))).to_be_visible(timeout=SLOW)
