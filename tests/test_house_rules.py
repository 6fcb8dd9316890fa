"""Rules of the house that a reader of the code may rely on."""

from __future__ import annotations

import ast
import re
import sys
from importlib.metadata import packages_distributions
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
ROOMS = ("scanner", "parser", "solver", "ui")
TOP_LEVEL = {"README.md", "DEVELOPERS.md", "requirements.txt", *ROOMS, "tests"}
TRAINING_ONLY = {"torch", "onnx"}


def kept_files() -> list[Path]:
    """Every file of the project, without dot-folders and what Python leaves behind."""
    found = []
    for path in ROOT.rglob("*"):
        parts = path.relative_to(ROOT).parts
        if path.is_file() and not any(p.startswith(".") or p == "__pycache__" for p in parts):
            found.append(path)
    return found


def python_files(*rooms: str) -> list[Path]:
    return [p for p in kept_files() if p.suffix == ".py" and p.relative_to(ROOT).parts[0] in rooms]


def imported(path: Path) -> set[str]:
    """Full names of the modules that a file imports."""
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {name.name for name in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
            names.add(node.module)
    return names


def test_top_level_holds_nothing_else():
    assert {p.relative_to(ROOT).parts[0] for p in kept_files()} == TOP_LEVEL


@pytest.mark.parametrize("room", ROOMS)
def test_room_imports_only_from_rooms_to_its_left(room):
    to_the_right = set(ROOMS[ROOMS.index(room) + 1 :]) | {"tests"}
    for path in python_files(room):
        roots = {name.split(".")[0] for name in imported(path)}
        assert not roots & to_the_right, path.relative_to(ROOT)


def test_training_libraries_stay_in_training():
    for path in python_files(*ROOMS, "tests"):
        if "training" in path.parts:
            continue
        roots = {name.split(".")[0] for name in imported(path)}
        assert not roots & TRAINING_ONLY, path.relative_to(ROOT)


def test_only_the_screens_know_streamlit():
    for path in python_files(*ROOMS):
        if path.is_relative_to(ROOT / "ui"):
            continue
        assert "streamlit" not in {n.split(".")[0] for n in imported(path)}, path.relative_to(ROOT)


@pytest.mark.parametrize("room", ROOMS)
def test_every_folder_of_code_says_what_it_is_for(room):
    for folder in {path.parent for path in python_files(room)}:
        opening = folder / "__init__.py"
        assert opening.exists(), folder.relative_to(ROOT)
    assert ast.get_docstring(ast.parse((ROOT / room / "__init__.py").read_text(encoding="utf-8")))


def test_tests_are_packages():
    for path in python_files("tests"):
        assert (path.parent / "__init__.py").exists(), path.relative_to(ROOT)


@pytest.mark.parametrize(
    "word",
    [
        r"\bxfail\b",
        r"mark\.skip",
    ],
)
def test_no_test_is_passed_over(word):
    for path in python_files(*ROOMS, "tests"):
        if path == Path(__file__):
            continue
        assert not re.search(word, path.read_text(encoding="utf-8")), path.relative_to(ROOT)


def test_text_files_name_no_place_of_one_machine():
    for path in kept_files():
        if path.suffix not in {".py", ".md", ".txt", ".toml", ".ini", ".json", ".css", ".js"}:
            continue
        text = path.read_text(encoding="utf-8")
        if path != Path(__file__):
            assert not re.search(r"/(?:work|home|root|Users)/\w", text), path.relative_to(ROOT)


def test_every_imported_package_is_in_the_requirements():
    """Packages that come along with another one may not be leaned on."""
    lines = (ROOT / "requirements.txt").read_text(encoding="utf-8").splitlines()
    required = {_plain(line.split("==")[0]) for line in lines if "==" in line}
    providers = packages_distributions()
    for path in python_files(*ROOMS, "tests"):
        if "training" in path.parts:
            continue
        for root in {name.split(".")[0] for name in imported(path)}:
            if root in sys.stdlib_module_names or root in {*ROOMS, "tests"}:
                continue
            assert required & {_plain(name) for name in providers.get(root, ())}, (path, root)


def _plain(package: str) -> str:
    return package.strip().lower().replace("_", "-")
