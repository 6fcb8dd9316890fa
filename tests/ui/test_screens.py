"""Settings, tours and the door for phones in a real browser."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.ui.browser import DESKTOP, PHONE, chromium, served, violations
from ui import setting_words as said
from ui import stack_words, tour_words, words
from ui.phone import PASSWORD_FIELD
from ui.settings import load_settings

expect.set_options(timeout=30_000)


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as running:
        yield running


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    with served("ui/app.py") as running:
        yield running


def opened(browser: Browser, address: str, viewport=DESKTOP, scheme="light") -> Page:
    context = browser.new_context(viewport=viewport, color_scheme=scheme, reduced_motion="reduce")
    page = context.new_page()
    page.goto(address)
    return page


@pytest.mark.parametrize(
    ("viewport", "scheme"), [(DESKTOP, "dark"), (PHONE, "light")], ids=["desktop", "phone"]
)
def test_the_other_pages_keep_the_accessibility_rules(browser, address, viewport, scheme):
    page = opened(browser, f"{address}/tour", viewport, scheme)
    expect(page.get_by_text(tour_words.LEARNER[0][1])).to_be_visible()
    page.get_by_role("radio", name=tour_words.FOR_TEACHER).click()
    expect(page.get_by_text(tour_words.TEACHER[-1][1])).to_be_visible()
    assert violations(page) == []
    page.goto(f"{address}/settings")
    expect(page.get_by_text(said.RULES_CARE)).to_be_visible()
    expect(page.get_by_text(said.KEPT_SCRIPT)).to_be_visible()
    assert violations(page) == []
    page.goto(f"{address}/stack")
    expect(page.get_by_text(stack_words.LEAD)).to_be_visible()
    assert violations(page) == []
    page.context.close()


def test_tour_leads_to_where_the_work_is_done(browser, address):
    page = opened(browser, address)
    page.get_by_role("button", name=tour_words.OFFER).click()
    page.get_by_role("button", name=tour_words.GO_LEARNER).click()
    expect(page.get_by_role("button", name=words.DEMO)).to_be_visible()
    page.context.close()


def test_settings_are_kept_and_text_grows(browser, address):
    page = opened(browser, f"{address}/settings")
    page.get_by_role("radio", name=said.TEXT_SIZES["large"], exact=True).click()
    page.wait_for_function("getComputedStyle(document.documentElement).fontSize === '19px'")
    page.get_by_text(said.UNIT_OWED).click()
    page.get_by_role("button", name=said.KEEP).click()
    expect(page.get_by_text(said.KEPT)).to_be_visible()
    assert not load_settings().unit_owed
    page.get_by_role("button", name=said.USUAL).click()
    expect(page.get_by_role("button", name=said.USUAL)).to_have_count(0)
    assert load_settings().unit_owed
    assert load_settings().text_size == "large"
    page.context.close()


def test_phone_comes_in_by_the_password_and_stays_out_when_off(browser, address):
    page = opened(browser, f"{address}/settings")
    page.get_by_text(said.PHONE_ON).click()
    expect(page.get_by_role("img", name=said.PHONE_CODE)).to_be_visible()
    assert violations(page) == []
    text = page.inner_text("body")
    outside = re.search(r"http://[\d.]+:\d+", text).group()
    password = re.search(r"\b\d{4} \d{4}\b", text).group()

    guest = opened(browser, outside, PHONE)
    field = guest.get_by_role("textbox", name=said.DOOR_PASSWORD)
    field.fill("1234")
    guest.get_by_role("button", name=said.DOOR_OPEN).click()
    expect(guest.get_by_text(said.DOOR_WRONG)).to_be_visible()
    assert violations(guest) == []
    expect(guest.get_by_role("button", name=words.DEMO)).to_have_count(0)
    field.fill(password)
    guest.get_by_role("button", name=said.DOOR_OPEN).click()
    expect(guest.get_by_role("button", name=words.DEMO)).to_be_visible()
    guest.reload()
    expect(guest.get_by_role("button", name=words.DEMO)).to_be_visible()
    expect(page.get_by_text(said.PHONE_COUNT.format(count=1))).to_be_visible()
    fresh = re.search(r"\b\d{4} \d{4}\b", page.inner_text("body")).group()
    by_code = opened(browser, f"{outside}/?{PASSWORD_FIELD}={fresh.replace(' ', '')}", PHONE)
    expect(by_code.get_by_role("button", name=words.DEMO)).to_be_visible()
    assert fresh.replace(" ", "") not in by_code.url
    by_code.context.close()

    page.get_by_text(said.PHONE_ON).click()
    expect(page.get_by_role("img", name=said.PHONE_CODE)).to_have_count(0)
    guest.goto("about:blank")
    with pytest.raises(Exception, match="REFUSED"):
        guest.goto(outside)
    page.context.close()
    guest.context.close()
