"""A learner fills in a worksheet: manner, planned slips, blanks, struck-out first tries."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from .amounts import Style, learner_number
from .questions import Part, Problem
from .working import Manner, Prior, Row, Task, Written, exact, possible_slips, work_out

NAMES = (
    "Thandi M.", "Liam Okafor", "Aisha Patel", "Sipho D.", "Mia van Wyk", "Noah Chen", "Zanele K.",
    "Ravi Naidoo", "Emma Brandt", "Kofi A.", "Lerato Phiri", "Jonas Weber", "Chloe Adams",
    "Yusuf Haddad", "Naledi S.", "Tomas Silva", "Grace Otieno", "Ben Fourie",
)  # fmt: skip
CLASSES = ("10A", "10C", "11B", "11D", "12A", "11 E")


@dataclass(frozen=True)
class Learner:
    """One learner: name, class, pen, manner of working."""

    name: str
    group: str
    colour: str
    manner: Manner


def someone(rng: np.random.Generator, style: Style, roomy: bool = True) -> Learner:
    """A learner who follows the sheet's decimal mark and room, with habits of their own."""
    return Learner(
        name=str(rng.choice(NAMES)),
        group=str(rng.choice(CLASSES)),
        colour=str(rng.choice(["blue", "blue", "blue", "black", "black", "pencil"])),
        manner=Manner(
            style=Style(style.decimal, bool(rng.random() < 0.6)),
            detail=str(rng.choice(["full", "full", "short"])) if roomy else "short",
            figures=int(rng.choice([3, 3, 3, 2])),
            therefore=bool(rng.random() < 0.2),
            conversions=roomy and bool(rng.random() < 0.3),
            prefixes=bool(rng.random() < 0.25),
        ),
    )


@dataclass(frozen=True)
class Result:
    """Expected result of one numeric part."""

    value: float
    unit: str
    direction: str | None


def expected_results(problem: Problem) -> dict[str, Result]:
    """Right results by part key, later parts using earlier ones unrounded."""
    values: dict[str, float] = {}
    results: dict[str, Result] = {}
    for part in problem.parts:
        if part.task is not None:
            value, direction = exact(part.task, values)
            values[part.key] = value
            results[part.key] = Result(value, part.task.chain[-1].unit, direction)
    return results


def reference_rows(problem: Problem, style: Style, roomy: bool) -> dict[str, tuple[Row, ...]]:
    """Working without slips: what the worksheet's author leaves room for."""
    rng = np.random.default_rng(0)
    manner = Manner(style=style, detail="full" if roomy else "short")
    prior = {key: result.value for key, result in expected_results(problem).items()}
    rows = {}
    for part in problem.parts:
        if part.task is None:
            rows[part.key] = tuple(Row(text, None) for text in part.answer_in_words)
        else:
            rows[part.key] = work_out(part.task, manner, rng, prior, None).rows
    return rows


def fill_in(
    problem: Problem,
    learner: Learner,
    rng: np.random.Generator,
    slips: Mapping[str, str | None] | None = None,
) -> dict[str, Written]:
    """What the learner writes for every part, with the truth about each.

    ``slips`` plans parts by key: the name of a slip, None for right, "blank" or "illegible";
    parts that are not planned are drawn at random.
    """
    right = expected_results(problem)
    own: dict[str, float] = {}
    wrong_so_far: set[str] = set()
    answers: dict[str, Written] = {}
    for part in problem.parts:
        plan = (slips or {}).get(part.key, _drawn_plan(part, rng))
        if plan == "blank":
            answers[part.key] = Written()
            continue
        if part.task is None:
            rows = tuple(Row(text, None) for text in part.answer_in_words)
            answers[part.key] = Written(rows=rows, verdict="unsolved")
            continue
        used = {o.key for c in part.task.chain for o in c.operands.values() if isinstance(o, Prior)}
        if not used <= own.keys():
            answers[part.key] = Written()
            continue
        written = _one(part.task, learner.manner, rng, own, right[part.key], plan)
        if used & wrong_so_far and written.verdict == "differs":
            carried = (("carried-forward-error", None),)
            written = replace(written, slips=carried + written.slips)
        own[part.key] = written.value or 0.0
        if written.verdict == "differs":
            wrong_so_far.add(part.key)
        answers[part.key] = written
    return answers


def _drawn_plan(part: Part, rng: np.random.Generator) -> str | None:
    chance = rng.random()
    if chance < 0.07:
        return "blank"
    if part.task is None or chance < 0.55:
        return None
    if chance < 0.58:
        return "illegible"
    return str(rng.choice(possible_slips(part.task)))


def _one(
    task: Task,
    manner: Manner,
    rng: np.random.Generator,
    own: Mapping[str, float],
    right: Result,
    plan: str | None,
) -> Written:
    slip = None if plan == "illegible" else plan
    if slip is None and rng.random() < 0.12:
        manner = replace(manner, detail="answer")
    written = work_out(task, manner, rng, own, slip)
    verdict = judge(task, written, right)
    if slip is not None and verdict == "agrees":
        slip = None
        written = work_out(task, manner, rng, own, None)
        verdict = judge(task, written, right)
    if slip is None and verdict == "differs":  # no slip may come of rounding on the way
        careful = replace(manner, figures=max(3, manner.figures), middle_figures=5)
        written = work_out(task, careful, rng, own, None)
        verdict = judge(task, written, right)
    if plan == "illegible":
        return replace(written, verdict="unread", legible=False)
    written = replace(written, verdict=verdict)
    if rng.random() < 0.1 and len(written.rows) > 1:
        written = _with_struck_try(written, manner, rng)
    return written


def judge(task: Task, written: Written, right: Result) -> str:
    """The verdict by the rules of the trade, from the numbers alone (plain arithmetic)."""
    assert written.value is not None
    text = written.rows[-1].text
    tolerance = max(0.01 * abs(right.value), _last_figure(text))
    value_right = abs(written.value - right.value) <= tolerance
    names = {name for name, _ in written.slips}
    if not value_right or "unit-wrong" in names:
        return "differs"
    if task.wants == "vector" and written.direction not in (None, right.direction):
        return "differs"
    owes_direction = task.wants == "vector" and written.direction is None
    return "incomplete" if owes_direction or "unit-missing" in names else "agrees"


def _last_figure(text: str) -> float:
    """One unit of the last written figure of the number in an answer line, in SI."""
    words = text.rpartition("=")[2].split(" ")
    prefix = {"nC": 1e-9, "µC": 1e-6, "cm": 1e-2}.get(words[1] if len(words) > 1 else "", 1.0)
    number = text.rpartition("=")[2].split(" ")[0].replace(",", ".").lstrip("+-")
    mantissa, _, power = number.partition("×10^{")
    decimals = len(mantissa.partition(".")[2])
    exponent = int(power.rstrip("}")) if power else 0
    return prefix * 10.0 ** (exponent - decimals)


def _with_struck_try(written: Written, manner: Manner, rng: np.random.Generator) -> Written:
    """A wrong first answer, struck out, above the answer that stands."""
    value = (written.value or 0.0) * float(rng.choice([0.1, 10.0, 0.37, 2.4]))
    lead = written.rows[-1].text.partition("=")[0]
    text = f"{lead}={learner_number(value, manner.style)[0]}"
    rows = (*written.rows[:-1], Row(rf"\struck{{{text}}}", None, True), written.rows[-1])
    last = len(written.rows)
    slips = tuple((n, line + 1 if line == last else line) for n, line in written.slips)
    return replace(written, rows=rows, slips=slips)
