"""Every slip of the catalogue, with a worked example computed apart from it in plain numbers.

Published accounts behind the examples are named in the catalogue (OpenStax, University Physics
Volume 2 and College Physics 2e, CC BY 4.0); numbers and beads here are our own.
"""

from __future__ import annotations

import math

import pytest

from solver.findings import Expected, Verdict
from solver.marking import check_question
from solver.slips import CATALOGUE, COMMON, Case, all_changes, run, search
from solver.verdicts import Rules
from tests.solver.derivations import (
    coulomb,
    electrons,
    force_after_contact,
    net_force,
    one_step,
    sharing,
    with_more_givens,
)

K = 9.0e9
Example = tuple[object, tuple[Expected, ...]]

POINT_FIELD = one_step(
    "k*Q/r**2", "N/C", {"Q": ("5.0 nC", "charge"), "r": ("20 cm", "distance")},
    {"k": (K, "N*m**2/C**2")},
)  # fmt: skip
FIELD_WITH_TEST_CHARGE = with_more_givens(POINT_FIELD, ("2.0 µC", "charge"))
KINETIC = one_step("m*v**2/2", "J", {"m": ("3.0 g", "mass"), "v": ("4.0 m/s", "speed")})
DISTANCE = one_step(
    "sqrt(k*Q_1*Q_2/F)", "m",
    {"Q_1": ("2.0 nC", "charge"), "Q_2": ("3.0 nC", "charge"), "F": ("6.0 µN", "force")},
    {"k": (K, "N*m**2/C**2")},
)  # fmt: skip
RIGHT_ANGLE = one_step(
    "sqrt(F_1**2+F_2**2)", "N", {"F_1": ("3.0 N", "force"), "F_2": ("7.0 N", "force")}
)
ON_ONE_LINE = one_step("F_1+F_2", "N", {"F_1": ("3.0 N", "force"), "F_2": ("7.0 N", "force")})
COMPONENT = one_step("F*cos(a)", "N", {"F": ("8.0 N", "force"), "a": ("35°", "angle")})
PLATES = one_step(
    "s/e0", "N/C", {"s": ("2.0 nC/m^{2}", "surface_density")}, {"e0": (8.85e-12, "F/m")}
)
SERIES = one_step(
    "1/(1/C_1+1/C_2)", "F", {"C_1": ("2.0 µF", "capacitance"), "C_2": ("3.0 µF", "capacitance")}
)
CHARGE_FROM_FORCE = one_step("F/E", "C", {"F": ("6.0 mN", "force"), "E": ("250 N/C", "field")})
ENERGY = one_step("Q*V", "J", {"Q": ("4.0 µC", "charge"), "V": ("12 V", "voltage")})
CAPACITY = one_step(
    "e0*A/d", "F", {"A": ("25 cm^{2}", "area"), "d": ("2.0 mm", "distance")},
    {"e0": (8.85e-12, "F/m")},
)  # fmt: skip
FROM_SURFACE = with_more_givens(POINT_FIELD, ("3.0 cm", "radius"))
TWO_IN_DIVISOR = one_step(
    "F/(k*Q)", "N", {"F": ("6.0 mN", "force"), "Q": ("4.0 µC", "charge")},
    {"k": (K, "N*m**2/C**2")},
)  # fmt: skip
POSITIVE = sharing(charges=("+3.6 nC", "+4.9 nC"))

# slip, case, the value that a learner with this slip arrives at
EXAMPLES = [
    ("sign-dropped", sharing(), (3.6e-9 + 4.8e-9) / 2),
    ("sign-added", POSITIVE, (-3.6e-9 + 4.9e-9) / 2),
    ("sign-reversed", sharing(), -0.6e-9),
    ("prefix-left-unconverted", coulomb(), K * 3.6 * 4.8e-9 / 0.12**2),
    ("length-unit-left-unconverted", coulomb(), K * 3.6e-9 * 4.8e-9 / 12**2),
    ("unit-left-unconverted", one_step("2*x", "s", {"x": ("3.0 min", "time")}), 2 * 3.0),
    ("prefix-mistaken", coulomb(), K * 3.6e-6 * 4.8e-9 / 0.12**2),
    ("length-unit-misconverted", coulomb(), K * 3.6e-9 * 4.8e-9 / 1.2**2),
    ("area-unit-misconverted", CAPACITY, 8.85e-12 * 25e-2 / 2.0e-3),
    ("power-of-ten-off", coulomb(), 1.08e-4),
    ("exponent-sign-lost", electrons(), 3.2e9 / 1.6e-19),
    ("constant-mistaken", coulomb(), 9.0e-9 * 3.6e-9 * 4.8e-9 / 0.12**2),
    ("earlier-charge-used", force_after_contact(), K * 3.6e-9 * 4.8e-9 / 0.12**2),
    ("added-for-multiplied", coulomb(), K * (3.6e-9 + 4.8e-9) / 0.12**2),
    ("exponent-miskeyed", electrons(), 3.2e-8 / 1.6e-19),
    ("power-of-ten-not-squared", coulomb(), K * 3.6e-9 * 4.8e-9 / (12**2 * 1e-2)),
    ("distance-not-squared", coulomb(), K * 3.6e-9 * 4.8e-9 / 0.12),
    ("square-left-out", KINETIC, 0.5 * 3.0e-3 * 4.0),
    ("root-not-taken", DISTANCE, K * 2.0e-9 * 3.0e-9 / 6.0e-6),
    ("doubled-for-squared", KINETIC, 0.5 * 3.0e-3 * 2 * 4.0),
    ("wrong-distance", net_force(), K * 6e-18 / 0.05**2 - K * 15e-18 / 0.05**2),
    ("diameter-for-radius", POINT_FIELD, K * 5.0e-9 / 0.40**2),
    ("surface-for-centre", FROM_SURFACE, K * 5.0e-9 / 0.17**2),
    ("wrong-pair", net_force(), K * 2e-9 * 5e-9 / 0.03**2 - K * 15e-18 / 0.05**2),
    ("one-charge-used-twice", coulomb(), K * 3.6e-9 * 3.6e-9 / 0.12**2),
    ("opposing-forces-added", net_force(), K * 6e-18 / 0.03**2 + K * 15e-18 / 0.05**2),
    ("like-forces-subtracted", net_force(opposing=False), 6.0e-5 - 5.4e-5),
    ("right-angle-forces-added", RIGHT_ANGLE, 10.0),
    ("pythagoras-misused", ON_ONE_LINE, math.hypot(3.0, 7.0)),
    ("components-swapped", COMPONENT, 8.0 * math.sin(math.radians(35))),
    ("angle-in-radians", COMPONENT, 8.0 * math.cos(35)),
    ("halving-forgotten", sharing(), 1.2e-9),
    ("charges-subtracted", sharing(), (-3.6e-9 - 4.8e-9) / 2),
    ("transfer-for-final", sharing(), 0.6e-9 - 4.8e-9),
    ("field-for-force", coulomb(), K * 4.8e-9 / 0.12**2),
    ("force-for-field", FIELD_WITH_TEST_CHARGE, K * 5.0e-9 * 2.0e-6 / 0.20**2),
    ("potential-for-energy", ENERGY, 12.0),
    ("constant-left-out", coulomb(), 3.6e-9 * 4.8e-9 / 0.12**2),
    ("factor-left-out", KINETIC, 3.0e-3 * 4.0**2),
    ("sheet-for-plates", PLATES, 2.0e-9 / (2 * 8.85e-12)),
    ("series-for-parallel", SERIES, 5.0e-6),
    ("reciprocal-not-taken", SERIES, 1 / 2.0e-6 + 1 / 3.0e-6),
    ("rearranged-wrongly", CHARGE_FROM_FORCE, 6.0e-3 * 250),
    ("given-miscopied", coulomb(), K * 3.6e-9 * 8.4e-9 / 0.12**2),
    ("bracket-left-out", TWO_IN_DIVISOR, 6.0e-3 / K * 4.0e-6),
]  # fmt: skip


@pytest.mark.parametrize(("name", "example", "value"), EXAMPLES, ids=[e[0] for e in EXAMPLES])
def test_each_slip_explains_its_worked_example(name: str, example: Example, value: float) -> None:
    question, (expected,) = example
    case = Case(expected.derivation, question)  # type: ignore[arg-type]
    found = search(case, value, 0.002 * abs(value), signed=expected.unit == "C")
    assert name in {c.slip for e in found for c in e.changes}


# seen in the writing itself
WRITTEN = [
    ("unit-missing", coulomb("F=1.08×10^{-5}")),
    ("unit-wrong", coulomb("F=1.08×10^{-5} C")),
    ("direction-missing", coulomb("F=1.08×10^{-5} N", wants="vector", direction="right")),
    ("direction-reversed", coulomb("F=1.08×10^{-5} N left", wants="vector", direction="right")),
    ("too-few-figures", coulomb("F=1×10^{-5} N")),
    ("arithmetic-slip", coulomb(
        r"F=\frac{9×10^{9}×3.6×10^{-9}×4.8×10^{-9}}{0.12^{2}}", "=2.37×10^{-5} N")),
    ("rounded-too-early", coulomb(
        r"F=\frac{9×10^{9}×3.6×10^{-9}×4.8×10^{-9}}{0.12^{2}}", "=1.12×10^{-5} N")),
    ("sign-kept-in-magnitude", coulomb(
        r"F=\frac{9×10^{9}×(-3.6×10^{-9})×4.8×10^{-9}}{0.12^{2}}", "=-1.08×10^{-5} N")),
]  # fmt: skip


@pytest.mark.parametrize(("name", "example"), WRITTEN, ids=[e[0] for e in WRITTEN])
def test_each_slip_of_writing_is_seen(name: str, example: Example) -> None:
    question, expected = example
    finding = check_question(question, expected, Rules(), {}, ".")  # type: ignore[arg-type]
    assert name in {s.name for s in finding.slips}
    assert finding.verdict is not Verdict.AGREES


def test_every_entry_has_an_example_here() -> None:
    shown = {e[0] for e in EXAMPLES} | {e[0] for e in WRITTEN}
    elsewhere = {"carried-forward-error"}  # two parts: tests.solver.test_marking
    assert set(CATALOGUE) == shown | elsewhere


def test_the_names_of_the_findings_document_are_all_there() -> None:
    stable = (
        "sign-dropped prefix-left-unconverted length-unit-left-unconverted distance-not-squared "
        "halving-forgotten opposing-forces-added wrong-distance power-of-ten-off given-miscopied "
        "arithmetic-slip carried-forward-error unit-missing unit-wrong direction-missing "
        "direction-reversed"
    )
    assert set(stable.split()) <= set(CATALOGUE)
    assert len(CATALOGUE) >= 25


def test_three_or_more_slips_rest_on_a_published_account() -> None:
    cited = [s for s in CATALOGUE.values() if s.source != COMMON]
    assert len(cited) >= 3
    assert all("chapter" in s.source for s in cited)


def test_no_hint_and_no_explanation_holds_a_number_of_the_question() -> None:
    for entry in CATALOGUE.values():
        assert not any(c.isdigit() for c in entry.explanation), entry.name
        assert entry.hint.strip() and entry.explanation.strip()


def test_the_unchanged_derivation_gives_its_own_value() -> None:
    question, (expected,) = net_force()
    case = Case(expected.derivation, question)  # type: ignore[arg-type]
    results = run(case)
    assert results is not None
    assert results[-1] == pytest.approx(6.0e-6)


def test_two_slips_are_found_only_where_one_does_not_do() -> None:
    question, (expected,) = coulomb()
    case = Case(expected.derivation, question)  # type: ignore[arg-type]
    both = K * 3.6e-9 * 4.8e-9 / 12  # centimetres kept, distance not squared
    assert search(case, both, 0.002 * both, signed=False) == () or all(
        len(e.changes) == 1 for e in search(case, both, 0.002 * both, signed=False)
    )
    found = search(
        case, K * 3.6 * 4.8e-9 / 0.12, 0.01 * K * 3.6 * 4.8e-9 / 0.12, False, most_slips=2
    )
    assert found
    assert {"prefix-left-unconverted", "distance-not-squared"} in [
        {c.slip for c in e.changes} for e in found
    ]


def test_every_change_says_what_happened_and_alters_the_result() -> None:
    question, (expected,) = net_force()
    case = Case(expected.derivation, question)  # type: ignore[arg-type]
    for change in all_changes(case):
        assert change.note
        assert change.prior > 0
