"""How many typed questions are understood and solved right.

``python -m tests.solver.benchmark_questions FILE.jsonl`` reads records of either kind:
published ones ("text", "answers", "topic", "clean") or school wordings ("text", and
"expected" or "questions"). Prints right, unsolved and wrong (without a warning) a topic, and
the time a question takes. ``--wrong`` and ``--unsolved`` list the texts.
"""

from __future__ import annotations

import argparse
import json
import re
import sys
import time
from collections import Counter
from pathlib import Path
from typing import Any

import pint

from parser.assemble import worksheet_from_text
from solver.derive import Solution, solve_worksheet
from solver.findings import Expected
from solver.units import same_dimension

UNITS: pint.UnitRegistry = pint.get_application_registry()
_TOLERANCE = 0.0101


def results_of(text: str) -> tuple[Solution, ...]:
    """The solutions of the numeric questions of a text."""
    return solve_worksheet(worksheet_from_text(text))


def _si(value: float, unit: str) -> tuple[float, str]:
    if unit in ("", "dimensionless"):
        return value, "dimensionless"
    if unit == "percent":
        return value / 100, "dimensionless"
    quantity = UNITS.Quantity(value, unit).to_base_units()
    return float(quantity.magnitude), str(quantity.units)


def _close(got: Expected, value: float, unit: str, tolerance: float, sign_free: bool) -> bool:
    wanted, _ = _si(value, unit)
    if unit != "percent" and not same_dimension(got.unit, unit):
        return False
    candidates = (got.value, *got.accepted)
    for one in candidates:
        if abs(one - wanted) <= tolerance * abs(wanted) + 1e-40:
            return True
        if sign_free and abs(abs(one) - abs(wanted)) <= tolerance * abs(wanted) + 1e-40:
            return True
        if wanted == 0 and abs(one) < 1e-12:
            return True
    return False


def _published(record: dict[str, Any]) -> str:
    """right, unsolved or wrong, for a published record; extra parts it does not list are free."""
    got = [e for s in results_of(record["text"]) for e in s.expected]
    if not got:
        return "unsolved"
    steps = [
        Expected(None, x.value, x.unit) for e in got if e.derivation for x in e.derivation.steps
    ]
    wanted = record["answers"]
    missing: list[dict[str, Any]] = []
    for answer in wanted:
        tolerance = (
            max(_TOLERANCE, 1.01 * 10.0 ** (1 - answer["sig_figs"]))
            if answer["sig_figs"]
            else _TOLERANCE
        )
        tolerance = min(tolerance, 0.051 if answer["sig_figs"] >= 2 else 0.2)
        values = [answer["value"]]
        if answer.get("recomputed") is not None:
            values.append(answer["recomputed"])
        on_the_way = steps if len(missing) < len(wanted) - 1 else []
        hit = any(
            _close(g, v, answer["unit"], tolerance, True)
            for g in [*got, *on_the_way]
            for v in values
        )
        if not hit:
            missing.append(answer)
    if not missing:
        return "right"
    told = any(s.problems for s in results_of(record["text"]))
    return "unsolved" if told or len(got) < len(wanted) else "wrong"


def _same_direction(got: str | None, wanted: dict[str, Any]) -> bool:
    direction = wanted.get("direction")
    if direction is None:
        return True
    accepted = [direction, *wanted.get("accept_directions", [])]
    if got is None:
        return False
    plain = [re.sub(r"[_{}]", "", a) for a in accepted]
    if re.sub(r"[_{}]", "", got) in plain:
        return True
    angle = re.match(r"([\d.]+) deg", got)
    for one in accepted:
        other = re.match(r"([\d.]+) deg", one)
        if angle and other and abs(float(angle.group(1)) - float(other.group(1))) <= 1:
            return True
    return got.split(" ")[0] in ("towards", "away") and any(
        a.split(" ")[0] == got.split(" ")[0] for a in accepted
    )


def _outcome(got: list[Expected], wanted: list[dict[str, Any]], told: bool) -> str:
    """right, unsolved or wrong; results beside a told problem must still be some of the right."""
    if not told or not got:
        return _judge(got, wanted)
    fits = all(any(_matches(g, w) for w in wanted) for g in got)
    return "unsolved" if wanted and fits else "wrong"


def _judge(got: list[Expected], wanted: list[dict[str, Any]]) -> str:
    numbers = list(got)
    if not wanted:
        return "wrong" if numbers else "right"
    if not numbers:
        return "unsolved"
    if wanted[0].get("of") == "each" and len(wanted) == 1:
        return "right" if all(_matches(g, wanted[0]) for g in numbers) else "wrong"
    pool = list(numbers)
    if any(w.get("either_order") for w in wanted):
        for w in wanted:
            hit = next((g for g in pool if _matches(g, w)), None)
            if hit is None:
                return "wrong"
            pool.remove(hit)
        return "right"
    position = 0
    for w in wanted:
        if position >= len(pool):
            return "unsolved"
        if not _matches(pool[position], w):
            return "wrong"
        position += 1
        while (
            w.get("of") == "each"
            and position < len(pool)
            and _matches(pool[position], w)
            and len(pool) - position > len(wanted) - 1
        ):
            position += 1
    return "right" if position == len(pool) else "wrong"


def _matches(got: Expected, wanted: dict[str, Any]) -> bool:
    values = [wanted["value"], *wanted.get("accept", [])]
    sign_free = bool(wanted.get("sign_free")) or wanted.get("wants") == "magnitude"
    return any(
        _close(got, v, wanted["unit"], _TOLERANCE, sign_free) for v in values
    ) and _same_direction(got.direction, wanted)


def _number(text: str) -> str:
    return re.sub(r"QUESTION|[(). ]", "", text, flags=re.I)


def _wording(record: dict[str, Any]) -> list[tuple[str, str]]:
    """(outcome, detail) of each part of a school wording."""
    solutions = results_of(record["text"])
    if "questions" not in record:
        got = [e for s in solutions for e in s.expected]
        if any(s.problems for s in solutions) and not record["expected"] and not got:
            return [("right", "")]
        told = any(s.problems for s in solutions)
        return [(_outcome(got, record["expected"], told), _tell(solutions))]
    out = []
    by_number = {_number(s.question.number): s for s in solutions}
    for place, part in enumerate(record["questions"]):
        solution = by_number.get(_number(part.get("number") or ""))
        if solution is None and len(solutions) == len(record["questions"]):
            solution = solutions[place]
        if solution is None:
            out.append(
                ("unsolved" if part["expected"] else "right", f"no part {part.get('number')}")
            )
            continue
        out.append(
            (
                _outcome(list(solution.expected), part["expected"], bool(solution.problems)),
                f"{part.get('number')}: " + _tell((solution,)),
            )
        )
    return out


def _tell(solutions: tuple[Solution, ...]) -> str:
    parts = []
    for s in solutions:
        parts += [
            f"{e.of or ''} {e.value:.4g} {e.unit} {e.direction or ''}".strip() for e in s.expected
        ]
        parts += list(s.problems)
    return " | ".join(parts)


def main(arguments: list[str] | None = None) -> int:
    """Print the counts; exit status 0."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("file", type=Path)
    parser.add_argument("--wrong", action="store_true")
    parser.add_argument("--unsolved", action="store_true")
    parser.add_argument("--topic")
    options = parser.parse_args(arguments)
    counts: dict[str, Counter[str]] = {}
    slowest = 0.0
    seconds = 0.0
    records = [json.loads(line) for line in options.file.read_text("utf-8").splitlines() if line]
    records = [r for r in records if r.get("clean", True)]
    if options.topic:
        records = [r for r in records if r["topic"] == options.topic]
    for record in records:
        results_of(record["text"])
        started = time.perf_counter()
        results_of(record["text"])
        took = time.perf_counter() - started
        seconds += took
        slowest = max(slowest, took)
        if "answers" in record:
            outcomes = [(_published(record), _tell(results_of(record["text"])))]
        else:
            outcomes = _wording(record)
        group = (
            ("electrostatics" if record["electrostatics"] else "others")
            if "electrostatics" in record
            else record["topic"]
        )
        for outcome, detail in outcomes:
            counts.setdefault(group, Counter())[outcome] += 1
            if (options.wrong and outcome == "wrong") or (
                options.unsolved and outcome == "unsolved"
            ):
                print(f"{outcome.upper()} {record['id']}: {record['text']}\n    {detail}")
                print(
                    "    wanted",
                    [(f"{a['value']:.4g}", a["unit"], a.get("direction")) for a in _wanted(record)],
                )
    total: Counter[str] = Counter()
    for group, counter in sorted(counts.items()):
        total.update(counter)
        print(f"{group:22s} {_line(counter)}")
    print(f"{'all':22s} {_line(total)}")
    print(f"seconds a record: mean {seconds / max(1, len(records)):.4f}, slowest {slowest:.4f}")
    return 0


def _wanted(record: dict[str, Any]) -> list[dict[str, Any]]:
    if "answers" in record:
        return list(record["answers"])
    return [e for q in record.get("questions", [record]) for e in q["expected"]]


def _line(counter: Counter[str]) -> str:
    size = sum(counter.values())
    return "  ".join(
        f"{n} {counter[n]:4d} ({counter[n] / size:6.1%})" for n in ("right", "unsolved", "wrong")
    )


if __name__ == "__main__":
    sys.exit(main())
