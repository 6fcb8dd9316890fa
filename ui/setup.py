"""Set up this checkout, then open the demo or run the tests; standard library only.

``python3.11 -m ui.setup demo`` and ``python3.11 -m ui.setup test`` make ``.venv``, install
``requirements.txt`` into it and the missing system parts through apt (Debian, Ubuntu). What is
already there is left alone, so a second run starts at once.
"""

from __future__ import annotations

import argparse
import ctypes.util
import hashlib
import importlib.util
import os
import platform
import shutil
import subprocess
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
REQUIREMENTS = ROOT / "requirements.txt"
STAMP = VENV / "installed-requirements"
DEMO_PHOTO = ROOT / "tests" / "sheets" / "demo" / "beads.jpg"
OLDEST_PYTHON = (3, 11)
FONT_FOLDERS = (Path("/usr/share/fonts"), Path("/usr/local/share/fonts"))
TYPEFACE_FILES = {
    "DejaVuSans.ttf",
    "LiberationSans-Regular.ttf",
    "dkg.ttf",
    "Breip.ttf",
    "Rufscript010.ttf",
}
BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")


class SetUpError(Exception):
    """A set-up step that a person must help with; the message says what to do."""


@dataclass(frozen=True)
class SystemPart:
    """A program or library that pip cannot install."""

    name: str
    packages: tuple[str, ...]
    is_there: Callable[[], bool]


def tesseract_is_there() -> bool:
    return shutil.which("tesseract") is not None


def browser_is_there() -> bool:
    return browser() is not None


def browser() -> str | None:
    """Path of an installed Chromium or Chrome."""
    return next((found for name in BROWSERS if (found := shutil.which(name))), None)


def typefaces_are_there() -> bool:
    """The files that the maker of test sheets draws with."""
    installed = {path.name for folder in FONT_FOLDERS for path in folder.rglob("*.[ot]tf")}
    return installed >= TYPEFACE_FILES


def graphics_libraries_are_there() -> bool:
    """The shared libraries that OpenCV's wheel links to."""
    return sys.platform != "linux" or all(
        ctypes.util.find_library(name) for name in ("GL", "glib-2.0", "gthread-2.0")
    )


def venv_module_is_there() -> bool:
    return VENV.exists() or importlib.util.find_spec("ensurepip") is not None


PYTHON_VENV = SystemPart(
    "Python's venv module",
    (f"python{sys.version_info.major}.{sys.version_info.minor}-venv",),
    venv_module_is_there,
)
TESSERACT = SystemPart("Tesseract", ("tesseract-ocr",), tesseract_is_there)
GRAPHICS = SystemPart(
    "the libraries GL and GLib", ("libgl1", "libglib2.0-0"), graphics_libraries_are_there
)
CHROMIUM = SystemPart("Chromium", ("chromium",), browser_is_there)

TYPEFACES = SystemPart(
    "the typefaces DejaVu, Liberation, DKG Handwriting, Breip and Rufscript",
    (
        "fonts-dejavu-core",
        "fonts-liberation",
        "fonts-dkg-handwriting",
        "fonts-breip",
        "fonts-rufscript",
    ),
    typefaces_are_there,
)

PARTS_TO_USE = (PYTHON_VENV, TESSERACT, GRAPHICS)
PARTS_TO_TEST = (*PARTS_TO_USE, CHROMIUM, TYPEFACES)

CHECKS = (
    ("Lint", ("-m", "ruff", "check", ".")),
    ("Format", ("-m", "ruff", "format", "--check", ".")),
    ("Types", ("-m", "mypy")),
    ("Tests", ("-m", "pytest")),
)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one of the two commands; returns its exit status."""
    parser = argparse.ArgumentParser(
        prog="python3.11 -m ui.setup",
        description="Set up this folder, then show the demo or run the tests.",
    )
    commands = parser.add_subparsers(dest="command", required=True)
    demo = commands.add_parser("demo", help="check a demo photo, then open the page")
    demo.add_argument("--no-page", action="store_true", help="stop after the findings")
    commands.add_parser("test", help="lint, check types and run all tests")
    commands.add_parser("install", help="set up and do nothing else")
    chosen = parser.parse_args(arguments)
    try:
        set_up(PARTS_TO_TEST if chosen.command == "test" else PARTS_TO_USE)
    except SetUpError as error:
        print(f"\n{error}", file=sys.stderr)
        return 1
    try:
        if chosen.command == "demo":
            return show_demo(with_page=not chosen.no_page)
        if chosen.command == "test":
            return run_checks()
    except KeyboardInterrupt:
        print()
    return 0


def set_up(parts: Sequence[SystemPart]) -> None:
    """Install what is missing.

    Raises:
        SetUpError: Python is too old, a system part or a package cannot be installed.
    """
    if sys.version_info < OLDEST_PYTHON:
        raise SetUpError("Python 3.11 or later is needed; start this command with python3.11.")
    say(1, "System parts")
    install_system_parts(parts)
    say(2, "Virtual environment in .venv")
    make_environment()
    say(3, "Python packages (a few minutes the first time)")
    install_packages()


def say(step: int, what: str) -> None:
    print(f"[{step}/4] {what}", flush=True)


# --- system parts -------------------------------------------------------------------------


def install_system_parts(parts: Sequence[SystemPart]) -> None:
    """Install the missing ones through apt, or say in one sentence what to install."""
    missing = [part for part in parts if not part.is_there()]
    if not missing:
        return
    names = " and ".join(part.name for part in missing)
    packages = [package for part in missing for package in part.packages]
    apt = apt_command()
    if apt is None:
        raise SetUpError(
            f"Please install {names} with your system's package manager, then run "
            "this command again."
        )
    print(f"      installing {', '.join(packages)}", flush=True)
    command = [*apt, "install", "--yes", "--no-install-recommends", *packages]
    if not succeeds([*apt, "update"]) or not succeeds(command):
        raise SetUpError(
            f"{names} could not be installed; please run: sudo apt-get install {' '.join(packages)}"
        )
    still_missing = [part.name for part in missing if not part.is_there()]
    if still_missing:
        raise SetUpError(
            f"Please install {' and '.join(still_missing)} by hand, then run this command again."
        )


def apt_command() -> list[str] | None:
    """The start of an apt-get command that may install, or None where there is none."""
    if shutil.which("apt-get") is None:
        return None
    quiet = ["apt-get", "-o", "DPkg::Lock::Timeout=120", "-q"]
    if os.geteuid() == 0:
        return ["env", "DEBIAN_FRONTEND=noninteractive", *quiet]
    if shutil.which("sudo") is None:
        return None
    may_ask = [] if sys.stdin is not None and sys.stdin.isatty() else ["-n"]
    return ["sudo", *may_ask, "env", "DEBIAN_FRONTEND=noninteractive", *quiet]


# --- the virtual environment --------------------------------------------------------------


def environment_python() -> Path:
    """The Python of ``.venv``."""
    if platform.system() == "Windows":
        return VENV / "Scripts" / "python.exe"
    return VENV / "bin" / "python"


def make_environment() -> None:
    python = environment_python()
    if python.exists() and succeeds([str(python), "-c", "import pip"]):
        return
    if not succeeds([sys.executable, "-m", "venv", "--clear", str(VENV)]):
        raise SetUpError("The virtual environment could not be made; is this folder writable?")


def install_packages() -> None:
    wanted = hashlib.sha256(REQUIREMENTS.read_bytes()).hexdigest()
    if STAMP.exists() and STAMP.read_text(encoding="ascii") == wanted:
        return
    command = [str(environment_python()), "-m", "pip", "install", "--disable-pip-version-check"]
    if not succeeds([*command, "--requirement", str(REQUIREMENTS)]):
        raise SetUpError(
            "The Python packages could not be installed; check the network, then run "
            "this command again."
        )
    STAMP.write_text(wanted, encoding="ascii")


# --- after set-up -------------------------------------------------------------------------


def show_demo(with_page: bool) -> int:
    say(4, f"Checking the demo photo {DEMO_PHOTO.relative_to(ROOT)}")
    python = str(environment_python())
    status = run([python, "-m", "ui", "check", str(DEMO_PHOTO)])
    if status > 1:  # 1: checked, and an answer asks for a person's eye
        return status
    return run([python, "-m", "ui", "page"]) if with_page else 0


def run_checks() -> int:
    say(4, "Lint, types, tests")
    failed = []
    for name, command in CHECKS:
        print(f"--- {name}", flush=True)
        if run([str(environment_python()), *command]) != 0:
            failed.append(name)
    print(f"Failed: {', '.join(failed)}" if failed else "All passed.", flush=True)
    return 1 if failed else 0


def run(command: Sequence[str]) -> int:
    return subprocess.run(command, cwd=ROOT, check=False).returncode


def succeeds(command: Sequence[str]) -> bool:
    return run(command) == 0


if __name__ == "__main__":
    sys.exit(main())
