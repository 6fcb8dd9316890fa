"""Makes photographed worksheets with the truth beside them.

``python -m tests.sheets.make --seed 7 --count 4 --out FOLDER`` writes FOLDER/*.jpg and, for each
photo, a JSON file that says what is printed and written where, and what a check should find.
The same seed gives the same sheets.
"""

from __future__ import annotations

import argparse
import json
import re
import sys
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from scanner.reader.notation import normalise

from .amounts import Style
from .draw_page import (
    BOTTOM,
    SCHOOLS,
    TITLES,
    Layers,
    Sheet,
    colour_page,
    empty_layers,
    print_sheet,
    write_answers,
)
from .exercise_book import PageFull, ruled_paper, typed_text, write_in_book
from .learner import Learner, Result, expected_results, fill_in, someone
from .pens import Pen, hand_of_typeface, real_hand
from .photo import LEVELS, PAGE_MM, Conditions, Level, Photo, conditions, take
from .questions import TEMPLATES, GivenTruth, Part, Problem
from .typefaces import hand_files, print_faces
from .working import Written

LEVEL_SHARES = (0.2, 0.35, 0.3, 0.15)
FULL_SET_OF_SIGNS = "0123456789+−×·µ().,?=[]"
NOTES = (
    "Take k = 9.0 × 10^{9} N·m^{2}·C^{-2} and e = 1.6 × 10^{-19} C.",
    "Show all your working. Use k = 9 × 10^{9} N·m^{2}·C^{-2}; the charge on an electron is "
    "−1.6 × 10^{-19} C.",
    "Answer all the questions. Give your answers in SI units.",
)


def compose_sheet(
    rng: np.random.Generator, problems: Sequence[Problem] | None = None, **choices: Any
) -> Sheet:
    """A worksheet: the given problems, or as many drawn ones as fit on one page.

    ``choices`` are fields of ``Sheet`` that are settled beforehand.
    """
    style = Style(
        decimal=str(rng.choice([".", ","])),
        raised_units=bool(rng.random() < 0.6),
        breaking=bool(rng.random() < 0.15),
    )
    style = choices.get("style", style)
    note = str(rng.choice(NOTES)) if rng.random() < 0.6 else None
    base: dict[str, Any] = {
        "style": style,
        "face": print_faces()[int(rng.integers(len(print_faces())))],
        "em": float(rng.uniform(3.7, 4.3)),
        "school": str(rng.choice(SCHOOLS)),
        "title": str(rng.choice(TITLES)),
        "numbering": str(rng.choice(["dotted", "lettered", "headed"])),
        "roomy": bool(rng.random() < 0.5),
        "single_joined": bool(rng.random() < 0.6),
        "spaces": str(rng.choice(["blank", "rules", "box", "answer-line"])),
        "marks_style": str(rng.choice(["(4)", "(4)", "[4]"])),
        "note": note and re.sub(r"(?<=\d)\.(?=\d)", style.decimal, note),
    } | choices
    if problems is not None:
        return Sheet(problems=tuple(problems), **base)
    fitting: list[Problem] = []
    for template in rng.permutation(len(TEMPLATES)):
        trial = Sheet(problems=(*fitting, TEMPLATES[template](rng, style)), **base)
        if print_sheet(trial, empty_layers()) <= BOTTOM:
            fitting = list(trial.problems)
    return Sheet(problems=tuple(fitting), **base)


Answers = dict[str, tuple[Part, Problem, Written]]


def answer_sheet(
    sheet: Sheet,
    learner: Learner,
    rng: np.random.Generator,
    plans: Sequence[Mapping[str, str | None]] | None = None,
) -> Answers:
    """What the learner writes, by question number; ``plans`` as ``fill_in``, a problem each."""
    answers = {}
    for index, problem in enumerate(sheet.problems):
        written = fill_in(problem, learner, rng, plans[index] if plans else None)
        for place, part in enumerate(problem.parts):
            answers[sheet.number(index, place)[0]] = (part, problem, written[part.key])
    return answers


def truth_of(
    sheet: Sheet,
    answers: Answers,
    layers: Layers,
    learner: Learner,
    photo: Photo,
    level: str,
    hand: str,
) -> dict:
    """Everything a check of the photo may be held against, fit for JSON."""
    results: dict[int, dict[str, Result]] = {id(p): expected_results(p) for p in sheet.problems}
    return {
        "photo_size": list(photo.size),
        "page_mm": list(PAGE_MM),
        "mm_to_photo": np.round(photo.homography, 9).tolist(),
        "corners": np.round(photo.corners, 1).tolist(),
        "grid": np.round(np.hstack([photo.grid_mm, photo.grid_px]), 2).tolist(),
        "level": level,
        "hand": hand,
        "pen": learner.colour,
        "decimal_mark": sheet.style.decimal,
        "print_lines": [
            {"text": normalise(m.text), "box": list(m.box), "kind": m.kind, "question": m.question}
            for m in layers.print_marks
        ],
        "pen_lines": [
            {
                "text": m.text,
                "box": list(m.box),
                "role": m.kind,
                "question": m.question,
                "struck": m.struck,
            }
            for m in layers.pen_marks
        ],
        "spaces": [
            {"kind": m.kind, "box": list(m.box), "question": m.question} for m in layers.spaces
        ],
        "stems": list(layers.stems.values()),
        "questions": [
            _question_truth(sheet.style, number, part, problem, written, results[id(problem)])
            for number, (part, problem, written) in answers.items()
        ],
    }


def _question_truth(
    style: Style,
    number: str,
    part: Part,
    problem: Problem,
    written: Written,
    results: dict[str, Result],
) -> dict:
    task = part.task
    result = results.get(part.key)
    bodies = (task.of, *task.also_of) if task is not None else ()
    answer = []
    if written.value is not None:
        answer = [
            {
                "for": 0,
                "text": written.rows[-1].text,
                "value": written.value,
                "unit": written.unit,
                "direction": written.direction,
                "legible": written.legible,
            }
        ]
    return {
        "number": number,
        "template": problem.template,
        "text": normalise(part.text),
        "stem": normalise(problem.stem),
        "marks": part.marks,
        "numeric": task is not None or part.needs_figure,
        "needs_figure": part.needs_figure,
        "givens": [_given_truth(style, g) for g in (*problem.givens, *part.givens)],
        "asked": [
            {
                "quantity": task.quantity,
                "of": of,
                "due_to": list(task.due_to),
                "wants": task.wants,
            }
            for of in bodies
            if task is not None
        ],
        "expected": [
            {
                "of": of,
                "value": result.value,
                "unit": result.unit,
                "direction": result.direction,
            }
            for of in bodies
            if result is not None
        ],
        "answers": answer,
        "working": [
            {"text": r.text, "follows": r.follows, "struck": r.struck} for r in written.rows
        ],
        "verdict": written.verdict,
        "slips": [{"name": name, "line": line} for name, line in written.slips],
        "first_broken": written.first_broken,
    }


def _given_truth(style: Style, given: GivenTruth) -> dict:
    value, unit = given.amount.si
    return {
        "text": normalise(given.amount.printed(style)),
        "value": value,
        "unit": unit,
        "quantity": given.quantity,
        "of": given.of,
    }


def make_one(seed: int, level: Level | None = None, ink: Path | None = None) -> tuple[bytes, dict]:
    """One photo (JPEG bytes) and its truth; ``ink`` is a folder of real strokes."""
    rng = np.random.default_rng(seed)
    sheet = compose_sheet(rng)
    learner = someone(rng, sheet.style, sheet.roomy)
    answers = answer_sheet(sheet, learner, rng)
    pen = some_pen(rng, ink)
    how = conditions(level or LEVELS[int(rng.choice(4, p=LEVEL_SHARES))], rng)
    jpeg, truth = photograph(sheet, learner, answers, pen, how, rng)
    return jpeg, {"seed": seed, **truth}


def photograph(
    sheet: Sheet,
    learner: Learner,
    answers: Answers,
    pen: Pen,
    how: Conditions,
    rng: np.random.Generator,
) -> tuple[bytes, dict]:
    """Print, fill in and photograph a sheet; the photo (JPEG bytes) and its truth."""
    layers = empty_layers()
    print_sheet(sheet, layers)
    write_answers(sheet, learner, {n: w for n, (_, _, w) in answers.items()}, pen, layers, rng)
    photo = take(colour_page(layers, learner.colour, rng), how, rng)
    return photo.jpeg, truth_of(sheet, answers, layers, learner, photo, how.level, pen.hand.name)


def make_stack(
    seed: int, count: int, level: Level | None = None, ink: Path | None = None
) -> Iterator[tuple[bytes, dict]]:
    """Scripts of one worksheet by ``count`` learners, each with a photo of its own."""
    sheet = compose_sheet(np.random.default_rng(seed))
    for learner_number in range(count):
        rng = np.random.default_rng((seed, learner_number))
        learner = someone(rng, sheet.style, sheet.roomy)
        answers = answer_sheet(sheet, learner, rng)
        how = conditions(level or LEVELS[int(rng.choice(4, p=LEVEL_SHARES))], rng)
        jpeg, truth = photograph(sheet, learner, answers, some_pen(rng, ink), how, rng)
        yield jpeg, {"seed": seed, **truth}


def make_book(seed: int, level: Level | None = None, ink: Path | None = None) -> tuple[bytes, dict]:
    """A page of an exercise book; the truth's ``typed`` holds the questions it answers."""
    rng = np.random.default_rng(seed)
    sheet = compose_sheet(rng)
    learner = someone(rng, sheet.style, roomy=False)
    answers = answer_sheet(sheet, learner, rng)
    pen = some_pen(rng, ink)
    while True:
        try:
            layers = write_in_book(learner, {n: w for n, (_, _, w) in answers.items()}, pen, rng)
            break
        except PageFull:  # the last one is left for another day
            last = [number for number, (_, _, written) in answers.items() if written.rows][-1]
            answers[last] = (*answers[last][:2], Written())
    how = conditions(level or LEVELS[int(rng.choice(4, p=LEVEL_SHARES))], rng)
    photo = take(colour_page(layers, learner.colour, rng, ruled_paper(rng)), how, rng)
    truth = truth_of(sheet, answers, layers, learner, photo, how.level, pen.hand.name)
    return photo.jpeg, {"seed": seed, **truth, "typed": typed_text(sheet)}


def some_pen(rng: np.random.Generator, ink: Path | None) -> Pen:
    """A pen in some hand: a real writer's when there is a folder of strokes, else a typeface's."""
    if ink is not None:
        hand = real_hand(ink, rng)
    else:
        files = hand_files()
        first = int(rng.integers(len(files)))
        hand = hand_of_typeface(files[first], rng, tuple(files[:first] + files[first + 1 :]))
    return Pen(hand, float(rng.uniform(3.8, 5.0)), float(rng.uniform(0.32, 0.55)), rng)


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.sheets.make", description=__doc__)
    parser.add_argument("--seed", type=int, default=1, help="first seed; sheet i uses seed + i")
    parser.add_argument("--count", type=int, default=1, help="how many photos")
    parser.add_argument("--out", type=Path, required=True, help="folder to write to")
    parser.add_argument("--level", choices=LEVELS, help="all photos at this level")
    parser.add_argument("--stack", action="store_true", help="all photos answer one worksheet")
    parser.add_argument("--book", action="store_true", help="answers in an exercise book")
    parser.add_argument("--ink", type=Path, help="folder of real pen strokes")
    options = parser.parse_args(arguments)
    if options.ink is None:
        print("No --ink folder: the handwriting is set in handwriting typefaces.", file=sys.stderr)
    options.out.mkdir(parents=True, exist_ok=True)
    if options.stack:
        made = make_stack(options.seed, options.count, options.level, options.ink)
    else:
        seeds = range(options.seed, options.seed + options.count)
        make = make_book if options.book else make_one
        made = (make(seed, options.level, options.ink) for seed in seeds)
    for index, (jpeg, truth) in enumerate(made):
        name = f"script-{index + 1:02d}" if options.stack else f"sheet-{truth['seed']:05d}"
        (options.out / f"{name}.jpg").write_bytes(jpeg)
        truth = {"photo": f"{name}.jpg", **truth}
        text = json.dumps(truth, ensure_ascii=False, indent=1)
        (options.out / f"{name}.json").write_text(text, encoding="utf-8")
        print(f"{name}.jpg  {truth['level']:5} {truth['hand']}", file=sys.stderr)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
