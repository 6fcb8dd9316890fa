"""Published problems with printed answers: OpenStax, cited record by record in openstax.json.

Access for free at openstax.org; CC BY 4.0. A value agrees within 1 % or one unit of the last
printed figure, with any accepted constant.
"""

import json
from pathlib import Path
from typing import Any

import pint
import pytest

from parser.assemble import worksheet_from_text
from solver.derive import solve_worksheet
from solver.units import same_dimension

REGISTRY: pint.UnitRegistry = pint.get_application_registry()
_RECORDS = json.loads(Path(__file__).with_name("openstax.json").read_text("utf-8"))["records"]


def _si(value: float, unit: str) -> float:
    if unit == "percent":
        return value / 100
    return float(str(REGISTRY.Quantity(value, unit).to_base_units().magnitude))


@pytest.mark.parametrize(
    "record", _RECORDS, ids=lambda r: f"{r['book']}, {r['where']} ({r['id']})".replace(" ", "_")
)
def test_the_printed_answers_come_out(record: dict[str, Any]) -> None:
    solutions = solve_worksheet(worksheet_from_text(record["text"]))
    found = [(e.unit, v) for s in solutions for e in s.expected for v in (e.value, *e.accepted)]
    found += [
        (step.unit, step.value)
        for s in solutions
        for e in s.expected
        if e.derivation
        for step in e.derivation.steps
    ]
    for answer in record["answers"]:
        last_figure = min(1.01 * 10.0 ** (1 - answer["sig_figs"]), 0.2)
        wanted = [answer["value"], answer.get("recomputed", answer["value"])]
        unit = answer["unit"]
        assert any(
            (unit == "percent" or same_dimension(u, unit))
            and abs(abs(v) - abs(_si(w, unit)))
            <= max(0.0101, last_figure) * abs(_si(w, unit)) + 1e-30
            for u, v in found
            for w in wanted
        ), (answer, found)


def test_every_record_is_cited() -> None:
    assert all(r["book"] and r["where"] and r["id"] for r in _RECORDS)
