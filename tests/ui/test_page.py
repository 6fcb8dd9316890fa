"""The page in a real browser: every verdict, corrections, phone and desktop, accessibility."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from tests.ui.browser import DESKTOP, PHONE, chromium, served, violations
from ui import words
from ui.setup import DEMO_PHOTO

expect.set_options(timeout=30_000)
SLOW = 120_000  # milliseconds; a photo is read on a busy two-core machine
VERDICTS = ("agrees", "incomplete", "differs", "unread", "unsolved", "blank")


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as running:
        yield running


@pytest.fixture(scope="module")
def sample_address() -> Iterator[str]:
    with served("tests/ui/sample_app.py") as address:
        yield address


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    with served("ui/app.py") as running:
        yield running


@pytest.fixture(params=[DESKTOP, PHONE], ids=["desktop", "phone"])
def sample(request, browser, sample_address) -> Iterator[Page]:
    """The typed sheet, checked."""
    yield from checked_sheet(browser, sample_address, request.param)


@pytest.fixture(scope="module", params=[DESKTOP, PHONE], ids=["desktop", "phone"])
def seen(request, browser, sample_address) -> Iterator[Page]:
    """The typed sheet, checked, for tests that only look."""
    yield from checked_sheet(browser, sample_address, request.param)


def checked_sheet(browser: Browser, address: str, viewport: dict[str, int]) -> Iterator[Page]:
    context = browser.new_context(viewport=viewport)
    page = context.new_page()
    page.goto(address)
    settle(page)
    yield page
    context.close()


def settle(page: Page) -> None:
    """Wait until the findings stand and their formulas are drawn."""
    expect(card(page, 5)).to_be_visible(timeout=SLOW)
    page.wait_for_function(
        "() => [...document.querySelectorAll('[data-testid=stPopoverButton]')]"
        ".every((button) => button.querySelector('p')?.innerText.trim())"
    )


def card(page: Page, index: int) -> Locator:
    return page.locator(f".st-key-question-{index}")


def open_correction(page: Page, key: str) -> None:
    page.locator(f".st-key-{key}-open button:visible").first.click()


def correct_line(page: Page, question: int, line: int, text: str) -> None:
    open_correction(page, f"line-{question}-{line}")
    field = page.get_by_role("textbox", name=words.CORRECT_LINE.format(number=line))
    field.fill(text)
    field.press("Enter")


def test_every_verdict_is_said_in_words(seen):
    order = ("differs", "agrees", "incomplete", "unread", "unsolved", "blank")
    for index, verdict in enumerate(order):
        expect(card(seen, index).get_by_role("heading")).to_contain_text(verdict)


def all_at_once(page: Page) -> None:
    page.get_by_role("radio", name=words.ALL_AT_ONCE).click()
    expect(card(page, 0).get_by_text(words.UNFOLD)).to_be_visible()


def test_question_tells_given_asked_written_and_why(sample):
    all_at_once(sample)
    question = card(sample, 0)
    for text in (
        "charge of A",
        "the force on A due to B, magnitude only",
        "Line 2 is the first that does not follow: 12 is in cm.",
        "12 is in cm",
    ):
        expect(question.get_by_text(text).locator("visible=true").first).to_be_visible()
    expect(question.get_by_role("img", name="line 2")).to_be_visible()


def test_help_unfolds_only_as_far_as_asked(sample):
    question = card(sample, 0)
    where = question.get_by_text("Line 2 is the first that does not follow.")
    hint = question.get_by_text("Check the unit of every length before it goes into the formula.")
    why = sample.get_by_text("12 is in cm")
    result = question.get_by_text("1.08 × 10⁻⁵ N")
    expect(where).to_be_visible()
    expect(hint).to_have_count(0)
    for button, seen, unseen in zip(
        words.HELP_NEXT[1:], (hint, why.first, result.first), (why, result, None), strict=True
    ):
        question.get_by_role("button", name=button).click()
        expect(seen).to_be_visible()
        if unseen is not None:
            expect(unseen).to_have_count(0)


def test_no_sign_breaks_a_formula_or_becomes_markup(seen):
    expect(card(seen, 6).locator(".katex").first).to_be_attached()
    expect(seen.locator(".katex-error")).to_have_count(0)
    expect(card(seen, 6).get_by_text("$x$ <b>no</b> [x](y) `c` :red[d]")).to_be_visible()


def test_help_is_reached_by_keyboard_alone(sample):
    question = card(sample, 0)
    question.get_by_role("button", name=words.HELP_NEXT[1]).focus()
    for step in (1, 2, 3):
        sample.keyboard.press("Enter")
        expect(question.get_by_text(words.HELP_HEADS[step]).first).to_be_visible()


def test_expected_result_stays_folded_until_asked_for(sample):
    all_at_once(sample)
    question = card(sample, 0)
    result = question.get_by_text("1.08 × 10⁻⁵ N")
    expect(result).to_be_hidden()
    question.get_by_text(words.UNFOLD).click()
    expect(result.first).to_be_visible()


def test_corrected_reading_changes_the_verdict_at_once(sample):
    correct_line(sample, 0, 3, "F = 1.08x10^-5 N")
    expect(card(sample, 0).get_by_role("heading")).to_contain_text("agrees", timeout=SLOW)
    expect(card(sample, 0).get_by_text(words.BY_PERSON)).to_be_visible()
    sample.get_by_role("button", name=words.UNDO, exact=True).click()
    expect(card(sample, 0).get_by_role("heading")).to_contain_text("differs", timeout=SLOW)
    expect(sample.get_by_role("button", name=words.UNDO, exact=True)).to_have_count(0)


def test_new_photo_of_the_sheet_tells_what_changed(sample):
    sample.get_by_role("button", name=words.AGAIN).click()
    field = sample.locator(".st-key-again input[type=file]")
    field.set_input_files(DEMO_PHOTO)
    changed = sample.locator(".st-key-changes")
    expect(changed).to_contain_text("Question 1.1: ▲ differs is now ● agrees", timeout=SLOW)
    expect(changed.get_by_text("Question")).to_have_count(1)
    expect(card(sample, 0).get_by_role("heading")).to_contain_text("agrees")


def test_learner_tries_the_same_question_with_fresh_numbers(sample):
    card(sample, 3).get_by_role("button", name=words.TRY).click()
    dialog = sample.get_by_role("dialog")
    expect(dialog.get_by_text("Calculate the magnitude of the electric field")).to_be_visible()
    dialog.get_by_role("textbox", name=words.TRY_TYPE).fill("E = F/q\nE = 1 N/C")
    dialog.get_by_role("button", name=words.TRY_CHECK).click()
    expect(dialog.get_by_text("differs")).to_be_visible()
    dialog.get_by_role("button", name=words.HELP_NEXT[1]).click()
    expect(dialog.get_by_text(words.HELP_HEADS[1])).to_be_visible()
    assert violations(sample) == []


def test_corrected_given_must_be_a_quantity(sample):
    open_correction(sample, "given-0-0")
    field = sample.get_by_role("textbox", name=words.CORRECT_GIVEN)
    field.fill("many")
    field.press("Enter")
    expect(card(sample, 0).get_by_text("is not one number with its unit")).to_be_visible()
    expect(card(sample, 0).get_by_role("heading")).to_contain_text("differs")


def test_expected_answer_can_be_typed_and_taken_back(sample):
    question = card(sample, 4)
    question.get_by_role("textbox", name=words.TYPE_EXPECTED_HEAD).fill("6.0x10^-10 C")
    question.get_by_role("button", name=words.USE_THIS).click()
    expect(question.get_by_role("heading")).not_to_contain_text("unsolved", timeout=SLOW)
    all_at_once(sample)
    question.get_by_text(words.UNFOLD).click()
    expect(question.get_by_text(words.BY_PERSON).first).to_be_visible()
    question.get_by_role("button", name=words.TAKE_BACK).click()
    expect(question.get_by_role("heading")).to_contain_text("unsolved", timeout=SLOW)


def test_marks_are_shown_only_when_wanted(sample):
    suggested = sample.get_by_text("2 of 4 marks suggested")
    expect(suggested).to_have_count(0)
    sample.get_by_text(words.SHOW_MARKS).click()
    expect(suggested).to_be_visible()


def test_photo_zooms_and_leads_to_its_questions(sample):
    drawing = sample.get_by_label(words.PHOTO["page"])
    width = drawing.bounding_box()["width"]
    sample.get_by_role("button", name=words.PHOTO["larger"]).click()
    assert drawing.bounding_box()["width"] == pytest.approx(1.5 * width, rel=0.02)
    sample.get_by_role("button", name=words.PHOTO["whole"]).click()
    mark = sample.get_by_role("button", name="answer differs")
    mark.focus()
    sample.keyboard.press("Enter")
    expect(card(sample, 0).get_by_role("heading")).to_be_in_viewport()


def test_question_is_shown_on_the_photo(sample):
    card(sample, 0).get_by_role("button", name=words.SHOW_ON_PHOTO).click()
    expect(sample.locator("rect.focus")).to_have_count(1)


def test_nothing_sticks_out_sideways(seen):
    wide, visible = seen.evaluate(
        "() => [document.documentElement.scrollWidth, document.documentElement.clientWidth]"
    )
    assert wide <= visible


def test_file_names_are_shown_as_they_stand(seen):
    expect(seen.get_by_text("<b>notes</b>.txt: This file is not an image.")).to_be_visible()


def test_care_and_privacy_are_said(seen):
    expect(seen.get_by_text(words.CARE).first).to_be_visible()
    expect(seen.get_by_text(words.PRIVACY)).to_be_visible()


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("viewport", [DESKTOP, PHONE], ids=["desktop", "phone"])
def test_no_state_breaks_the_accessibility_rules(browser, sample_address, scheme, viewport):
    """WCAG 2.2 A and AA, as far as axe-core can tell."""
    context = browser.new_context(viewport=viewport, color_scheme=scheme, reduced_motion="reduce")
    page = context.new_page()
    page.goto(sample_address)
    settle(page)
    for step in words.HELP_NEXT[1:]:
        card(page, 0).get_by_role("button", name=step).click()
    expect(card(page, 0).get_by_text("1.08 × 10⁻⁵ N").first).to_be_visible()
    for fold in (words.LEGEND, words.ABOUT):
        page.get_by_text(fold).click()
    page.get_by_text(words.SHOW_MARKS).click()
    expect(page.get_by_text("2 of 4 marks suggested")).to_be_visible()
    assert violations(page) == []
    all_at_once(page)
    for fold in page.get_by_text(words.UNFOLD).all():
        fold.click()
    open_correction(page, "line-0-3")
    expect(page.get_by_role("textbox", name=words.CORRECT_LINE.format(number=3))).to_be_visible()
    assert violations(page) == []
    page.keyboard.press("Escape")
    page.get_by_role("button", name=words.ANOTHER).click()
    expect(page.get_by_role("button", name=words.DEMO)).to_be_visible()
    page.get_by_text(words.ELSEWHERE).click()
    expect(page.get_by_text(words.QUESTIONS_TEXT)).to_be_visible()
    assert violations(page) == []
    context.close()


# --- the whole job ------------------------------------------------------------------------


@pytest.mark.parametrize("viewport", [DESKTOP, PHONE], ids=["desktop", "phone"])
def test_uploaded_photo_comes_back_with_verdicts(browser, address, viewport):
    context = browser.new_context(viewport=viewport)
    page = context.new_page()
    page.goto(address)
    page.locator("input[type=file]").first.set_input_files(DEMO_PHOTO)
    expect(card(page, 0)).to_be_visible(timeout=SLOW)
    heads = page.locator("[class*=st-key-question-] h5").all_inner_texts()
    assert heads
    assert all(re.search("|".join(VERDICTS), head) for head in heads)
    expect(page.get_by_label(words.PHOTO["page"])).to_be_visible(timeout=SLOW)
    assert violations(page) == []
    context.close()


def test_demo_sheet_is_one_press_away(browser, address):
    page = browser.new_page()
    page.goto(address)
    page.get_by_role("button", name=words.DEMO).click()
    expect(card(page, 0)).to_be_visible(timeout=SLOW)
    page.close()


def test_file_that_is_no_photo_gets_one_sentence(browser, address, tmp_path):
    wrong = tmp_path / "notes.png"
    wrong.write_text("not a picture")
    page = browser.new_page()
    page.goto(address)
    page.locator("input[type=file]").first.set_input_files(wrong)
    expect(page.get_by_role("alert")).to_contain_text("notes.png", timeout=SLOW)
    expect(page.get_by_text(words.NO_SHEETS)).to_be_visible()
    assert violations(page) == []
    page.get_by_role("button", name=words.ANOTHER).click()
    expect(page.get_by_role("button", name=words.DEMO)).to_be_visible()
    page.close()
