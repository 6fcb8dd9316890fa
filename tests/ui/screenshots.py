"""``python -m tests.ui.screenshots FOLDER``: pictures of the running app for the README.

Every page, at desktop and phone width, from the demo photo and a stack of made-up scripts, which
is handed in and checked on the page. Nothing of the user's own is shown: records and settings are
in a folder of their own. It takes some minutes.
"""

from __future__ import annotations

import argparse
import io
import os
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from PIL import Image
from playwright.sync_api import Browser, Locator, Page, expect

from solver.findings import Verdict
from tests.ui.browser import PHONE, chromium, served
from tests.ui.stack_sheets import make_stack
from ui import setting_words, stack_words, tour_words, words
from ui.records import DATA_FOLDER_VARIABLE
from ui.setup import DEMO_PHOTO, ROOT

FOLDER = ROOT / "ui" / "pictures"
WIDE = {"width": 1280, "height": 860}
_PATIENCE = 120_000  # milliseconds; a photo is read on a busy machine
_STILL = 1500  # milliseconds until formulas and pictures stand
_SEED = 11
_LEARNERS = ("Amara", "Bheki", "Chandra", "Dineo", "Esi", "Farid")
_COLOURS = 256  # a small file in which verdicts keep their colours


@dataclass(frozen=True)
class Camera:
    """Where pictures go, and which window they are taken of."""

    browser: Browser
    folder: Path

    def open(self, address: str, size: dict[str, int], dark: bool = False) -> Page:
        scheme = "dark" if dark else "light"
        context = self.browser.new_context(
            viewport=size, color_scheme=scheme, reduced_motion="reduce"
        )
        page = context.new_page()
        page.set_default_timeout(_PATIENCE)
        page.goto(address)
        return page

    def take(self, page: Page, name: str) -> None:
        page.wait_for_timeout(_STILL)
        picture = Image.open(io.BytesIO(page.screenshot())).convert("RGB")
        small = picture.quantize(_COLOURS, dither=Image.Dither.NONE)
        small.save(self.folder / f"{name}.png", optimize=True)


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.ui.screenshots", description=__doc__)
    parser.add_argument("folder", nargs="?", type=Path, default=FOLDER)
    folder = parser.parse_args().folder
    folder.mkdir(parents=True, exist_ok=True)
    expect.set_options(timeout=_PATIENCE)
    with tempfile.TemporaryDirectory() as kept:
        os.environ[DATA_FOLDER_VARIABLE] = str(Path(kept) / "records")
        pile = _pile(Path(kept) / "pile")
        with chromium() as browser, served("ui/app.py") as address:
            camera = Camera(browser, folder)
            _one_script(camera, address)
            _phone(camera, address)
            _stack(camera, address, pile)
            _others(camera, address)


def _pile(folder: Path) -> Path:
    """Scripts of one worksheet by made-up learners."""
    folder.mkdir()
    scripts = make_stack(_SEED, len(_LEARNERS), level="good", megapixels=6)
    for learner, (_, jpeg, _truth) in zip(_LEARNERS, scripts, strict=True):
        (folder / f"{learner}.jpg").write_bytes(jpeg)
    return folder


def _checked(page: Page) -> None:
    page.locator("input[type=file]").first.set_input_files(DEMO_PHOTO)
    page.locator(".st-key-question-0").wait_for()


def _one_script(camera: Camera, address: str) -> None:
    page = camera.open(address, WIDE)
    page.get_by_role("button", name=words.DEMO).wait_for()
    camera.take(page, "one-script-empty")
    _checked(page)
    camera.take(page, "one-script")
    first = _first_that_differs(page)
    for step in words.HELP_NEXT[1:]:
        button = first.get_by_role("button", name=step)
        if button.count():
            button.click()
            page.wait_for_timeout(_STILL)
    first.get_by_text(words.HELP_HEADS[0]).scroll_into_view_if_needed()
    camera.take(page, "one-script-help")
    first.get_by_role("button", name=words.TRY).click()
    page.get_by_role("dialog").wait_for()
    camera.take(page, "try-again")
    page.context.close()


def _first_that_differs(page: Page) -> Locator:
    differs = words.VERDICT[Verdict.DIFFERS]
    return page.locator("[class*=st-key-question-]").filter(has_text=differs).first


def _phone(camera: Camera, address: str) -> None:
    page = camera.open(address, PHONE, dark=True)
    _checked(page)
    camera.take(page, "phone")
    page.locator(".st-key-question-0").scroll_into_view_if_needed()
    page.mouse.wheel(0, 500)
    camera.take(page, "phone-question")
    page.context.close()


def _stack(camera: Camera, address: str, pile: Path) -> None:
    page = camera.open(f"{address}/stack", WIDE)
    page.get_by_role("textbox", name=stack_words.NAME).fill("Beads 11B")
    page.get_by_role("button", name=stack_words.NEW).click()
    page.locator("input[type=file]").first.set_input_files(sorted(pile.iterdir()))
    page.get_by_text(f"{_LEARNERS[0]}.jpg").wait_for()
    page.get_by_role("button", name=stack_words.CHECK).click()
    page.get_by_role("progressbar").wait_for()
    page.wait_for_timeout(8 * _STILL)
    page.get_by_role("progressbar").scroll_into_view_if_needed()
    camera.take(page, "stack-working")
    stands = stack_words.STANDS.format(checked=len(_LEARNERS), scripts=len(_LEARNERS))
    page.get_by_text(stands).wait_for(timeout=5 * _PATIENCE)
    for view in stack_words.VIEWS:
        page.get_by_role("radio", name=view, exact=True).click()
        camera.take(page, f"stack-{view.lower().replace(' ', '-')}")
        if view == stack_words.MARKS:
            page.get_by_role("heading", name=stack_words.ONE_OF_THEM).evaluate(
                "heading => heading.scrollIntoView({block: 'start'})"
            )
            camera.take(page, "stack-marks-beside")
    page.context.close()


def _others(camera: Camera, address: str) -> None:
    walks: dict[str, tuple[str, Callable[[Page], None]]] = {
        "tour": ("tour", lambda page: page.get_by_role("heading", name=tour_words.TOUR).wait_for()),
        "settings": (
            "settings",
            lambda page: page.get_by_role("heading", name=setting_words.SETTINGS).wait_for(),
        ),
    }
    for name, (path, ready) in walks.items():
        page = camera.open(f"{address}/{path}", WIDE)
        ready(page)
        camera.take(page, name)
        page.context.close()


if __name__ == "__main__":
    main()
