"""The committed demo photos: complete, small, and covering every verdict."""

import json

import pytest
from PIL import Image

from solver.findings import Verdict

from .demo import DEMOS, FOLDER

TRUTHS = {p.stem: json.loads(p.read_text(encoding="utf-8")) for p in sorted(FOLDER.glob("*.json"))}


def test_every_demo_is_there():
    assert {demo.name for demo in DEMOS} | {"blank", "exercise-book"} == TRUTHS.keys()


def test_the_demos_cover_every_verdict():
    verdicts = {q["verdict"] for t in TRUTHS.values() for q in t["questions"]}
    assert verdicts == set(Verdict)


def test_each_planned_slip_is_in_some_demo():
    planned = {
        slip
        for demo in DEMOS
        for _, plan in demo.problems
        for slip in plan.values()
        if slip not in (None, "blank", "illegible")
    }
    acted = {s["name"] for t in TRUTHS.values() for q in t["questions"] for s in q["slips"]}
    assert planned < acted
    assert "carried-forward-error" in acted


@pytest.mark.parametrize("name", TRUTHS)
def test_a_demo_photo_opens_and_is_small(name):
    path = FOLDER / TRUTHS[name]["photo"]
    assert path.stat().st_size < 500_000
    with Image.open(path) as photo:
        assert sorted(photo.size) == sorted(TRUTHS[name]["photo_size"])


def test_the_ink_is_attributed():
    text = (FOLDER / "ATTRIBUTION.md").read_text(encoding="utf-8")
    assert "10.5281/zenodo.1195803" in text and "CC BY 4.0" in text
