"""Set-up with the standard library only."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

from ui import setup


def test_set_up_imports_only_the_standard_library():
    tree = ast.parse(Path(setup.__file__).read_text(encoding="utf-8"))
    modules = {
        name.name.split(".")[0]
        for node in ast.walk(tree)
        if isinstance(node, ast.Import)
        for name in node.names
    } | {
        (node.module or "").split(".")[0]
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom)
    }
    assert modules <= sys.stdlib_module_names


def test_set_up_module_loads_without_any_package():
    command = [
        sys.executable,
        "-I",
        "-S",
        "-c",
        "import sys; sys.path[0:0] = ['.']; import ui.setup",
    ]
    assert subprocess.run(command, cwd=setup.ROOT, check=False).returncode == 0


def test_system_without_apt_gets_one_sentence(monkeypatch):
    monkeypatch.setattr(setup.shutil, "which", lambda name: None)
    with pytest.raises(setup.SetUpError) as raised:
        setup.install_system_parts([setup.TESSERACT])
    assert str(raised.value) == (
        "Please install Tesseract with your system's package manager, then run this command again."
    )


def test_parts_that_are_there_are_left_alone(monkeypatch):
    part = setup.SystemPart("a part", ("a-package",), lambda: True)
    monkeypatch.setattr(setup, "run", lambda command: pytest.fail("nothing is to be installed"))
    setup.install_system_parts([part])


def test_every_requirement_has_one_version():
    lines = setup.REQUIREMENTS.read_text(encoding="utf-8").splitlines()
    names = [line.split("==")[0] for line in lines if line and not line.startswith("#")]
    assert all("==" in line for line in lines if line and not line.startswith("#"))
    assert len(names) == len(set(names))


def test_readme_and_ci_use_the_same_test_command():
    readme = (setup.ROOT / "README.md").read_text(encoding="utf-8")
    ci = (setup.ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert "python3.11 -m ui.setup test" in readme
    assert "python3.11 -m ui.setup test" in ci
