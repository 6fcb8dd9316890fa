"""The stack's screen in a real browser: the evening from doubts to a practice sheet."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.ui.browser import DESKTOP, chromium, served, violations
from ui import stack_words as said

SLOW = 120_000  # milliseconds, on a busy machine


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as running:
        yield running


@pytest.fixture(scope="module")
def page(browser) -> Iterator[Page]:
    with served("tests/ui/stack_app.py") as address:
        context = browser.new_context(viewport=DESKTOP)
        opened = context.new_page()
        opened.goto(address)
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


def test_a_stack_is_deleted_only_by_its_name(page):
    turn_to(page, said.DELETE)
    page.get_by_role("button", name=said.DELETE_NOW).click()
    page.get_by_label(said.DELETE_NAME).fill("Beads 11B")
    page.get_by_role("button", name=said.DELETE_NOW).click()
    expect(page.get_by_text(said.DELETED.format(name="Beads 11B"))).to_be_visible(timeout=SLOW)
