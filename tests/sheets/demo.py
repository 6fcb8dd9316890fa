"""Makes the demo photos of ``tests/sheets/demo`` again, from real ink.

``python -m tests.sheets.demo --ink FOLDER`` writes them all: answered worksheets from a clean scan
to a poor photo, a blank worksheet with its typed text, and an exercise-book page answering it.
"""

from __future__ import annotations

import argparse
import json
import re
import sys
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np

from . import questions as q
from .amounts import Style
from .draw_page import BOTTOM, Sheet, colour_page, empty_layers, print_sheet
from .exercise_book import ruled_paper, typed_text, write_in_book
from .learner import Learner
from .make import answer_sheet, compose_sheet, photograph, truth_of
from .pens import Pen, hand_named
from .photo import Conditions, Level, conditions, take
from .questions import Problem
from .typefaces import print_faces
from .working import Manner, possible_slips

FOLDER = Path(__file__).parent / "demo"
Template = Any


@dataclass(frozen=True)
class Demo:
    """One demo photo: which problems with which slips, on what sheet, by whom, seen how."""

    name: str
    seed: int
    level: Level
    problems: tuple[tuple[Template, Mapping[str, str | None]], ...]
    writer: str
    learner: tuple[str, str]
    colour: str
    sheet: Mapping[str, Any]
    style: Style = Style()
    manner: Mapping[str, Any] = field(default_factory=dict)
    view: Mapping[str, Any] = field(default_factory=dict)
    typeface: str = "LiberationSerif-Regular.ttf"
    word: str = ""  # must occur in the first stem


DEMOS = (
    Demo(
        "beads",
        1,
        "good",
        (
            (q.contact_of_two, {"new": "sign-dropped", "moved": None, "force": None}),
            (q.field_of_a_point_charge, {"field": "direction-missing", "probe": None}),
            (q.force_between_two, {"force": "length-unit-left-unconverted"}),
        ),
        "imp-004",
        ("Lerato Phiri", "11B"),
        "blue",
        {
            "school": "Marula Ridge High School",
            "title": "Worksheet 4: Charged beads",
            "numbering": "dotted",
            "single_joined": True,
            "spaces": "blank",
            "roomy": False,
            "em": 3.7,
            "note": "Take k = 9.0 × 10^{9} N·m^{2}·C^{-2} and e = 1.6 × 10^{-19} C.",
        },
        manner={"detail": "short"},
        view={"desk": "wood", "quarter_turns": 0, "megapixels": 3.2, "orientation_tag": 6},
        word="beads",
    ),
    Demo(
        "droplets",
        2,
        "fair",
        (
            (q.force_in_a_field, {"force": "direction-reversed"}),
            (q.balanced_droplet, {"q": None}),
            (q.electrons_on_a_body, {"count": "power-of-ten-off"}),
            (q.charge_from_field, {"q": "blank"}),
        ),
        "tos-025",
        ("Kofi A.", "12A"),
        "black",
        {
            "numbering": "lettered",
            "roomy": True,
            "spaces": "answer-line",
            "title": "Revision exercise",
        },
        style=Style(",", True),
        view={"desk": "cloth", "quarter_turns": 1, "megapixels": 3.0},
        typeface="Carlito-Regular.ttf",
    ),
    Demo(
        "scan",
        3,
        "scan",
        (
            (q.force_between_two, {"force": "distance-not-squared", "why": None}),
            (q.charge_from_force, {"charge": "unit-wrong"}),
            (q.distance_from_force, {"distance": None}),
        ),
        "apple-090",
        ("Mia van Wyk", "11D"),
        "blue",
        {
            "numbering": "headed",
            "roomy": False,
            "spaces": "rules",
            "title": "Class test 2",
            "em": 3.7,
            "note": None,
            "single_joined": False,
        },
        manner={"detail": "short"},
        view={"megapixels": 3.4},
        typeface="texgyrepagella-regular.otf",
    ),
    Demo(
        "line",
        4,
        "good",
        (
            (q.net_force_on_a_line, {"net": "opposing-forces-added"}),
            (q.field_midway, {"net": None}),
        ),
        "tos-054",
        ("Yusuf Haddad", "12A"),
        "black",
        {
            "numbering": "dotted",
            "roomy": True,
            "spaces": "box",
            "title": "Physics: charges on a line",
        },
        style=Style(",", False),
        view={"desk": "dark", "quarter_turns": 2, "megapixels": 3.0, "orientation_tag": 1},
        typeface="LiberationSans-Regular.ttf",
    ),
    Demo(
        "contact",
        5,
        "fair",
        (
            (q.contact_of_three, {"new": "halving-forgotten"}),
            (q.contact_in_turn, {"final": None}),
            (q.electrons_on_a_body, {"charge": "sign-dropped"}),
            (q.charge_from_field, {"q": None}),
        ),
        "aga-013",
        ("Grace Otieno", "10C"),
        "pencil",
        {
            "numbering": "lettered",
            "roomy": True,
            "spaces": "blank",
            "title": "Homework: sharing charge",
        },
        style=Style(".", True),
        view={"desk": "clutter", "quarter_turns": 0, "megapixels": 3.2},
        typeface="Caladea-Regular.ttf",
    ),
    Demo(
        "dust",
        6,
        "poor",
        (
            (q.field_from_force, {"field": "unit-missing"}),
            (q.force_on_an_electron, {"force": "illegible"}),
            (q.distance_from_field, {"r": None}),
        ),
        "imp-023",
        ("Sipho D.", "11 E"),
        "blue",
        {"numbering": "dotted", "roomy": True, "spaces": "rules", "title": "Class test 2"},
        view={"desk": "wood", "quarter_turns": 0, "megapixels": 3.0},
        typeface="DejaVuSans.ttf",
    ),
    Demo(
        "figure",
        7,
        "good",
        (
            (q.beads_in_a_figure, {"net": None}),
            (q.field_from_force, {"field": "prefix-left-unconverted"}),
            (q.lines_in_words, {"words": None}),
            (q.distance_from_field, {"r": None}),
            (q.electrons_on_a_body, {"count": "blank"}),
        ),
        "ce-042",
        ("Naledi S.", "11B"),
        "blue",
        {
            "numbering": "dotted",
            "roomy": True,
            "spaces": "blank",
            "title": "Electrostatics worksheet",
        },
        view={"desk": "white", "quarter_turns": 3, "megapixels": 3.0, "orientation_tag": 1},
        typeface="OpenSans-Regular.ttf",
    ),
    Demo(
        "balloons",
        8,
        "fair",
        (
            (q.equal_charges_from_force, {"charge": "given-miscopied"}),
            (q.electrons_on_a_body, {"count": None}),
            (q.force_on_an_electron, {"force": "arithmetic-slip"}),
            (q.charge_from_force, {"charge": None}),
        ),
        "ce-021",
        ("Thandi M.", "10A"),
        "blue",
        {
            "numbering": "headed",
            "roomy": True,
            "spaces": "box",
            "title": "Worksheet 4: Electrostatics",
        },
        style=Style(",", True),
        manner={"conversions": True},
        view={"desk": "cloth", "quarter_turns": 0, "megapixels": 3.0, "orientation_tag": 8},
        typeface="texgyreschola-regular.otf",
    ),
)


def make(demo: Demo, ink: Path) -> tuple[bytes, dict]:
    """The photo of one demo and its truth.

    Raises:
        ValueError: the plans could not be acted out with any draw of numbers.
    """
    rng = np.random.default_rng(demo.seed)
    learner = _learner(demo)
    plans = [plan for _, plan in demo.problems]
    for _ in range(3000):
        problems = [template(rng, demo.style) for template, _ in demo.problems]
        if demo.word not in problems[0].stem or not _names_apart(problems):
            continue
        sheet = _sheet(demo, problems, rng)
        if not _as_planned(problems, plans) or print_sheet(sheet, empty_layers()) > BOTTOM:
            continue
        answers = answer_sheet(sheet, learner, rng, plans)
        if not _acted_out(answers, plans, sheet):
            continue
        pen = _pen(demo, ink, rng)
        return photograph(sheet, learner, answers, pen, _conditions(demo, rng), rng)
    raise ValueError(f"The plans of {demo.name} could not be acted out.")


def _learner(demo: Demo) -> Learner:
    return Learner(*demo.learner, demo.colour, Manner(style=demo.style, **demo.manner))


def _sheet(demo: Demo, problems: list[Problem], rng: np.random.Generator) -> Sheet:
    face = next((f for f in print_faces() if f.path.name == demo.typeface), print_faces()[0])
    return compose_sheet(rng, problems, style=demo.style, face=face, **demo.sheet)


def _pen(demo: Demo, ink: Path, rng: np.random.Generator) -> Pen:
    return Pen(hand_named(ink, demo.writer, rng), float(rng.uniform(4.1, 4.7)), 0.42, rng)


def _conditions(demo: Demo, rng: np.random.Generator) -> Conditions:
    return replace(conditions(demo.level, rng), quality=82, **demo.view)


def _as_planned(problems: list[Problem], plans: list[Mapping[str, str | None]]) -> bool:
    """True when these problems have the planned parts and every planned slip can happen."""
    for problem, plan in zip(problems, plans, strict=True):
        if {part.key for part in problem.parts} != set(plan):
            return False
        for part in problem.parts:
            slip = plan[part.key]
            if slip in (None, "blank", "illegible"):
                continue
            if part.task is None or slip not in possible_slips(part.task):
                return False
    return True


def _names_apart(problems: list[Problem]) -> bool:
    """True when no two problems call a body or a point by the same letter."""
    seen: set[str] = set()
    for problem in problems:
        names = set(re.findall(r"\b[B-Z]\b", problem.stem)) - {"C", "N"}
        if names & seen:
            return False
        seen |= names
    return True


def _acted_out(answers, plans, sheet: Sheet) -> bool:
    for index, problem in enumerate(sheet.problems):
        for place, part in enumerate(problem.parts):
            written = answers[sheet.number(index, place)[0]][2]
            plan = plans[index][part.key]
            names = [name for name, _ in written.slips]
            if plan not in (None, "blank", "illegible") and plan not in names:
                return False
            if any(row.struck for row in written.rows):
                return False
    return True


def blank_and_book(ink: Path, folder: Path) -> None:
    """A blank worksheet photographed, its typed text, and a page of answers to it."""
    rng = np.random.default_rng(20)
    style = Style(".", True)
    templates = (q.contact_of_two, q.force_between_two, q.field_from_force)
    while True:
        problems = [template(rng, style) for template in templates]
        if [len(p.parts) for p in problems] == [2, 1, 1]:
            break
    sheet = compose_sheet(
        rng, problems, style=style, numbering="dotted", single_joined=False, spaces="blank",
        title="Homework: charges and fields", school="Marula Ridge High School", note=None,
    )  # fmt: skip
    learner = Learner("Noah Chen", "11B", "blue", Manner(style=style, detail="short"))
    plans: list[dict[str, str | None]] = [
        {"new": None},
        {"force": "distance-not-squared"},
        {"field": None},
    ]
    answers = answer_sheet(sheet, learner, rng, plans)
    layers = empty_layers()
    print_sheet(sheet, layers)
    how = replace(conditions("good", rng), megapixels=3.0, quality=82, quarter_turns=0, desk="wood")
    blank = take(colour_page(layers, "blue", rng), how, rng)
    empty = {n: (part, problem, type(w)()) for n, (part, problem, w) in answers.items()}
    _write(folder, "blank", blank.jpeg, truth_of(sheet, empty, layers, learner, blank, "good", ""))
    (folder / "worksheet.txt").write_text(typed_text(sheet), encoding="utf-8")

    pen = Pen(hand_named(ink, "imp-003", rng), 4.0, 0.42, rng)
    written = {n: w for n, (_, _, w) in answers.items()}
    book = write_in_book(learner, written, pen, rng)
    how = replace(conditions("good", rng), megapixels=3.0, quality=82, desk="dark")
    photo = take(colour_page(book, "blue", rng, ruled_paper(rng)), how, rng)
    truth = truth_of(sheet, answers, book, learner, photo, "good", pen.hand.name)
    _write(folder, "exercise-book", photo.jpeg, {**truth, "worksheet": "worksheet.txt"})


def _write(folder: Path, name: str, jpeg: bytes, truth: dict) -> None:
    (folder / f"{name}.jpg").write_bytes(jpeg)
    text = json.dumps({"photo": f"{name}.jpg", **truth}, ensure_ascii=False, indent=1)
    (folder / f"{name}.json").write_text(text + "\n", encoding="utf-8")
    print(f"{name}.jpg  {len(jpeg) // 1024} KiB", file=sys.stderr)


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.sheets.demo", description=__doc__)
    parser.add_argument("--ink", type=Path, required=True, help="folder of real pen strokes")
    parser.add_argument("--out", type=Path, default=FOLDER)
    parser.add_argument("--only", help="name of one demo")
    options = parser.parse_args(arguments)
    options.out.mkdir(parents=True, exist_ok=True)
    for demo in DEMOS:
        if options.only in (None, demo.name):
            _write(options.out, demo.name, *make(demo, options.ink))
    if options.only in (None, "blank"):
        blank_and_book(options.ink, options.out)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
