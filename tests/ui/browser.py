"""A running page and a Chromium to look at it."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, sync_playwright

from ui import serve, setup

CHROMIUM_FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
PHONE = {"width": 390, "height": 844}
DESKTOP = {"width": 1280, "height": 860}
WCAG_TAGS = ("wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa")


@contextmanager
def served(script: str) -> Iterator[str]:
    """Run a Streamlit script of this checkout; yields its address."""
    port = _free_port()
    address = f"http://localhost:{port}"
    server = subprocess.Popen(
        [sys.executable, "-m", "ui.server", str(port), script],
        cwd=setup.ROOT,
        env={**os.environ, "PYTHONPATH": str(setup.ROOT)},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        assert serve.is_up(address, server, patience=60)
        yield address
    finally:
        server.terminate()
        server.wait(20)


@contextmanager
def chromium() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=setup.browser(), args=list(CHROMIUM_FLAGS)
        )
        yield browser
        browser.close()


# Nothing fades in or out and no part waits to be drawn again: faded text has too little contrast.
_AT_REST = """() => !document.querySelector('[data-stale="true"]')
  && !document.querySelector('[data-testid="stStatusWidget"]')
  && !document.getAnimations().some(a => a instanceof CSSTransition && a.playState === 'running')"""


def violations(page: Page) -> list[str]:
    """What axe-core finds against WCAG 2.2 A and AA, one line each."""
    page.wait_for_function(_AT_REST)
    options = {"runOnly": {"type": "tag", "values": WCAG_TAGS}, "resultTypes": ["violations"]}
    found = Axe().run(page, options=options).response["violations"]
    return [f"{v['id']}: {v['help']}: {v['nodes'][0]['html'][:200]}" for v in found]


def _free_port() -> int:
    with socket.socket() as listening:
        listening.bind(("localhost", 0))
        return int(listening.getsockname()[1])
