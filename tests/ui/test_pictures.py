"""The README's pictures are there."""

from __future__ import annotations

import re

from ui.setup import ROOT


def test_every_picture_that_the_guide_shows_is_there():
    named = re.findall(r"\]\((ui/pictures/[^)]+)\)", (ROOT / "README.md").read_text("utf-8"))
    assert named
    assert [path for path in named if not (ROOT / path).is_file()] == []
