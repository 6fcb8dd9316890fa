"""Holds a findings document (version 1) against the truth of a made sheet.

``python -m tests.sheets.score FINDINGS.json TRUTH.json [TRUTH.json ...]`` prints the counts; the
sheets of the document and the truths are matched by the photo's name.
"""

from __future__ import annotations

import argparse
import json
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import pint

SAME = 1e-6  # relative difference up to which two readings of one written number are the same
LEAST_OVERLAP = 0.45  # of boxes that are taken to be of one line
EXPECTED_SAME = 0.011  # right results differ by the constants a solver may take
Document = Mapping[str, Any]


@dataclass
class Count:
    """So many of so many."""

    good: int = 0
    of: int = 0

    def add(self, good: bool) -> None:
        self.good += bool(good)
        self.of += 1

    @property
    def share(self) -> float | None:
        return self.good / self.of if self.of else None

    def __iadd__(self, other: Count) -> Count:
        self.good += other.good
        self.of += other.of
        return self


@dataclass
class Score:
    """Counts over sheets; ``misses`` says in words what went wrong where."""

    sheets_whole: Count = field(default_factory=Count)
    questions_found: Count = field(default_factory=Count)
    givens_right: Count = field(default_factory=Count)
    bodies_right: Count = field(default_factory=Count)
    givens_all_right: Count = field(default_factory=Count)
    expected_right: Count = field(default_factory=Count)
    lines_found: Count = field(default_factory=Count)
    lines_exact: Count = field(default_factory=Count)
    answers_exact: Count = field(default_factory=Count)
    answers_exact_or_sent: Count = field(default_factory=Count)
    verdict_right: Count = field(default_factory=Count)
    verdict_right_or_sent: Count = field(default_factory=Count)
    sent_to_a_person: Count = field(default_factory=Count)
    false_agrees: Count = field(default_factory=Count)
    slip_named: Count = field(default_factory=Count)
    first_broken_line: Count = field(default_factory=Count)
    misses: list[str] = field(default_factory=list)

    def __iadd__(self, other: Score) -> Score:
        for name, count in self.counts().items():
            count += getattr(other, name)
        self.misses += other.misses
        return self

    def counts(self) -> dict[str, Count]:
        return {n: c for n, c in vars(self).items() if isinstance(c, Count)}

    @property
    def trouble(self) -> int:
        """How badly a sheet went; for choosing the ones to look at."""
        lost = (self.questions_found, self.givens_right, self.answers_exact, self.verdict_right)
        return sum(c.of - c.good for c in lost) + 10 * self.false_agrees.good


def score_sheet(sheet: Document, truth: Document) -> Score:
    """Counts for one sheet of a findings document."""
    score = Score()
    found = {plain_number(q["number"]): q for q in sheet["questions"]}
    name = truth["photo"]
    all_found = True
    for wanted in truth["questions"]:
        question = found.get(plain_number(wanted["number"]))
        score.questions_found.add(question is not None)
        if question is None:
            all_found = False
            score.misses.append(f"{name} {wanted['number']}: question not found")
            question = _EMPTY
        _score_question(score, question, wanted, f"{name} {wanted['number']}")
    score.sheets_whole.add(all_found)
    if "to_photo" in sheet and "pen_lines" in truth:
        _score_places(score, sheet, truth, name)
    return score


def _score_places(score: Score, sheet: Document, truth: Document, name: str) -> None:
    """Compare places in millimetres of the page; a slight curl moves them a little."""
    to_mm = np.linalg.inv(np.array(truth["mm_to_photo"])) @ np.array(sheet["to_photo"])
    found = [
        _moved(working["box"], to_mm)
        for question in sheet["questions"]
        for working in question["working"]
        if working["box"]
    ]
    for line in truth["pen_lines"]:
        if line["role"] in ("working", "answer"):
            x, y, width, height = line["box"]
            wanted = (x, y, x + width, y + height)
            best = max((_overlap(wanted, box) for box in found), default=0.0)
            score.lines_found.add(best >= LEAST_OVERLAP)
            if best < LEAST_OVERLAP:
                score.misses.append(f"{name} {line['question']}: no line at {line['text']!r}")


def _moved(box: Sequence[float], matrix: np.ndarray) -> tuple[float, float, float, float]:
    x, y, width, height = box
    corners = np.array([[x, y], [x + width, y], [x, y + height], [x + width, y + height]])
    points = np.column_stack([corners, np.ones(4)]) @ matrix.T
    points = points[:, :2] / points[:, 2:]
    (left, top), (right, bottom) = points.min(0), points.max(0)
    return float(left), float(top), float(right), float(bottom)


def _overlap(one: Sequence[float], other: Sequence[float]) -> float:
    """Shared area over joint area."""
    width = min(one[2], other[2]) - max(one[0], other[0])
    height = min(one[3], other[3]) - max(one[1], other[1])
    if width <= 0 or height <= 0:
        return 0.0
    areas = [(b[2] - b[0]) * (b[3] - b[1]) for b in (one, other)]
    return width * height / (sum(areas) - width * height)


_EMPTY: Document = {
    "givens": [], "expected": [], "answers": [], "working": [], "slips": [],
    "verdict": "unsolved", "needs_person": True,
}  # fmt: skip


def _score_question(score: Score, question: Document, wanted: Document, where: str) -> None:
    if wanted["numeric"] and not wanted["needs_figure"]:
        _score_givens(score, question, wanted, where)
        solved = all(_same_expected(e, question["expected"]) for e in wanted["expected"])
        score.expected_right.add(solved)
        if not solved:
            wrong = _brief(question["expected"])
            score.misses.append(f"{where}: expected {_brief(wanted['expected'])}, got {wrong}")
    _score_lines(score, question, wanted, where)
    sent = question["needs_person"] or question["verdict"] in ("unread", "unsolved")
    for answer in wanted["answers"]:
        exact = answer["legible"] and any(
            _same(a["value"], answer["value"])
            and (answer["unit"] == "dimensionless" or same_unit(a["unit"], answer["unit"]))
            for a in question["answers"]
        )
        if answer["legible"]:
            score.answers_exact.add(exact)
            score.answers_exact_or_sent.add(exact or sent)
            if not exact:
                got = [a["text"] for a in question["answers"]]
                score.misses.append(
                    f"{where}: answer {answer['text']!r} read as {got}{' (sent)' if sent else ''}"
                )
    right = question["verdict"] == wanted["verdict"]
    if not wanted["numeric"]:  # words are for a person, whatever the reason is called
        right = question["verdict"] in ("unsolved", "unread", "blank")
    score.verdict_right.add(right)
    score.verdict_right_or_sent.add(right or sent)
    score.sent_to_a_person.add(sent)
    wrong_agrees = question["verdict"] == "agrees" and wanted["verdict"] != "agrees" and not sent
    if wanted["verdict"] != "agrees":
        score.false_agrees.add(wrong_agrees)
    if not right:
        flag = " (sent)" if sent else ""
        score.misses.append(
            f"{where}: verdict {question['verdict']}{flag}, truth {wanted['verdict']}"
        )
    planned = [s["name"] for s in wanted["slips"]]
    if planned and wanted["verdict"] in ("differs", "incomplete"):
        names = {s["name"] for s in question["slips"]}
        named = any(p in names for p in planned)
        score.slip_named.add(named)
        if not named:
            score.misses.append(f"{where}: slips {sorted(names)}, truth {planned}")
        broken = next(
            (i for i, w in enumerate(question["working"], 1) if w["follows"] is False), None
        )
        score.first_broken_line.add(broken == wanted["first_broken"])


def _score_givens(score: Score, question: Document, wanted: Document, where: str) -> None:
    left = list(question["givens"])
    every = True
    for given in wanted["givens"]:
        hits = [
            g
            for g in left
            if _same(g["value"], given["value"]) and same_unit(g["unit"], given["unit"])
        ]
        hits.sort(key=lambda g: g["of"] != given["of"])
        score.givens_right.add(bool(hits))
        if hits:
            left.remove(hits[0])
            if given["of"] and len(given["of"]) == 1:
                score.bodies_right.add(_last_word(hits[0]["of"]) == given["of"])
        else:
            every = False
            score.misses.append(f"{where}: given {given['text']!r} not among {_brief(left)}")
    score.givens_all_right.add(every)


def _score_lines(score: Score, question: Document, wanted: Document, where: str) -> None:
    read = [w["text"] for w in question["working"]]
    for line in wanted["working"]:
        if not line["struck"]:
            score.lines_exact.add(line["text"] in read)


def plain_number(number: str) -> str:
    """``1 (a).`` and ``1(a)`` are one number; "Question 2.1" is "2.1"."""
    return re.sub(r"^question|[\s.]+$|\s", "", number.lower())


def _same(one: float | None, other: float | None) -> bool:
    if one is None or other is None:
        return False
    return abs(one - other) <= SAME * max(abs(one), abs(other))


@lru_cache(maxsize=1)
def _units() -> pint.UnitRegistry:
    return pint.UnitRegistry()


@lru_cache(maxsize=256)
def same_unit(one: str | None, other: str | None) -> bool:
    """True when both spell the same coherent unit."""
    if one is None or other is None:
        return one == other
    try:
        a, b = (_units().Quantity(1, u).to_base_units() for u in (one, other))
    except (pint.errors.UndefinedUnitError, ValueError):
        return one == other
    return a.dimensionality == b.dimensionality and abs(a.magnitude - b.magnitude) < SAME


def _same_expected(wanted: Document, expected: Iterable[Document]) -> bool:
    return any(
        e["value"] is not None
        and abs(e["value"] - wanted["value"]) <= EXPECTED_SAME * abs(wanted["value"])
        and same_unit(e["unit"], wanted["unit"])
        and (wanted["direction"] is None or _same_way(e["direction"], wanted["direction"]))
        for e in expected
    )


def _same_way(one: str | None, other: str | None) -> bool:
    """True for the same words; "towards C" is not held against "east", which may be the same."""
    if one is not None and other is not None and one.startswith(("towards ", "away from ")):
        return not other.startswith(("towards ", "away from ")) or one == other
    return one == other


def _last_word(of: str | None) -> str | None:
    return of.split(" ")[-1] if of else of


def _brief(items: Iterable[Document]) -> list[str]:
    return [f"{i['value']:.3g} {i['unit']}" if i["value"] is not None else "?" for i in items]


LABELS = {
    "sheets_whole": "sheets with every question found",
    "questions_found": "questions found",
    "givens_right": "givens exactly right",
    "bodies_right": "  of these, with the right body",
    "givens_all_right": "questions with all givens right",
    "expected_right": "expected results right",
    "lines_found": "written lines found, each for itself",
    "lines_exact": "written lines read exactly",
    "answers_exact": "final answers read exactly",
    "answers_exact_or_sent": "  or sent to a person",
    "verdict_right": "verdicts right",
    "verdict_right_or_sent": "  or sent to a person",
    "sent_to_a_person": "questions sent to a person",
    "false_agrees": "wrong answers called right, nobody asked",
    "slip_named": "planned slips named",
    "first_broken_line": "first broken line right",
}


def table(score: Score) -> str:
    """The counts as text, one a line."""
    rows = []
    for name, count in score.counts().items():
        share = "" if count.share is None else f"{100 * count.share:6.1f} %"
        rows.append(f"{LABELS[name]:45}{share:>9}  {count.good} of {count.of}")
    return "\n".join(rows)


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.sheets.score", description=__doc__)
    parser.add_argument("findings", type=Path)
    parser.add_argument("truths", type=Path, nargs="+")
    options = parser.parse_args(arguments)
    document = json.loads(options.findings.read_text(encoding="utf-8"))
    sheets = {Path(s["photo"]).name: s for s in document["sheets"] if s["photo"]}
    total = Score()
    for path in options.truths:
        truth = json.loads(path.read_text(encoding="utf-8"))
        sheet = sheets.get(truth["photo"], {"questions": []})
        total += score_sheet(sheet, truth)
    print(table(total))
    print("\n".join(total.misses))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
