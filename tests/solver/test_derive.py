"""Derivations: right values and directions, honest steps, and properties that must hold."""

import math

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from parser.assemble import worksheet_from_text
from solver.derive import Solution, solve_worksheet
from solver.findings import Expected

_FEW = settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))


def _solve(text: str) -> tuple[Solution, ...]:
    return solve_worksheet(worksheet_from_text(text))


def _one(text: str) -> Expected:
    (solution,) = _solve(text)
    assert not solution.problems, solution.problems
    return solution.expected[0]


@pytest.mark.parametrize(
    ("text", "value", "direction"),
    [
        ("Identical beads R (+6 nC) and S (-2 nC) touch. Find the charge on each.", 2e-9, None),
        ("Bead R gains 3 × 10⁹ electrons. Find its charge.", -4.8e-10, None),
        ("Find the force between +4 nC and +5 nC, 2 cm apart.", 4.5e-4, None),
        (
            "Beads R (+4 nC) and S (-5 nC) are 2 cm apart. Find the force that R exerts on S.",
            4.5e-4,
            "towards R",
        ),
        (
            "Bead R (+2 nC) is 3 cm to the left of bead S (-4 nC). Find the force on R.",
            8e-5,
            "right",
        ),
        ("Bead R (+2 nC) is 3 cm west of bead S (-4 nC). Find the force on S.", 8e-5, "west"),
        ("Find the field 30 mm from a charge of +5 nC.", 5e4, "away from charge"),
        ("A proton is in a field of 500 N/C to the left. Find the force on it.", 8e-17, "left"),
        ("An electron is in a field of 500 N/C to the left. Find the force on it.", 8e-17, "right"),
        (
            "Two plates 5 mm apart have 90 V across them. Find the field between the plates.",
            1.8e4,
            None,
        ),
    ],
)
def test_first_kinds_of_question(text: str, value: float, direction: str | None) -> None:
    result = _one(text)
    assert result.value == pytest.approx(value)
    assert result.direction == direction


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("Beads R (+3 nC) and S (-5 nC) attract. Find the force between them.", "missing"),
        (
            "Beads R (+3 nC) and S (+5 nC), 4 cm apart, attract each other. Find the force.",
            "contradict",
        ),
        (
            "Bead R (+2 nC) is 4 cm from bead S (-3 nC). Bead T (+1 nC) is 2 cm from S."
            " Find the net force on S.",
            "side",
        ),
        ("A capacitor is charged to 9 V. Find the energy stored in it.", "missing"),
        (
            "A conductor with -2 µC touches another of unknown size. Find the charge on each.",
            "identical",
        ),
        (
            "A box is pulled along a rough floor by 30 N. Its mass is 5 kg. Find its acceleration.",
            "missing",
        ),
        ("Find the net field at P due to Q1 = +4 nC and Q2 = -6 nC as shown in the diagram.", ""),
    ],
)
def test_what_cannot_be_solved_says_why_and_gives_no_number(text: str, words: str) -> None:
    (solution,) = _solve(text)
    assert not solution.expected
    assert words in " ".join(solution.problems).lower()
    assert solution.problems


_SAMPLES = (
    "Identical beads R (+6 nC) and S (-2 nC) touch and are moved 3 cm apart. Find"
    " the force between them.",
    "Bead R (+2 nC) is 3 cm to the left of S (-4 nC). T (+5 nC) is 2 cm to the"
    " right of S. Find the net force on S.",
    "Find the potential 20 cm from a charge of -6 nC.",
    "A drop of mass 2 × 10⁻¹⁵ kg is held stationary between plates 20 mm apart"
    " with 400 V across them. Find its charge.",
    "A car starts from rest and reaches 20 m/s in 8 s. Find the distance covered.",
    "A 9 V battery with an internal resistance of 0.5 Ω is connected to a 4 Ω"
    " resistor. Find the current.",
    "Light of wavelength 300 nm falls on a metal of work function 2.5 eV. Find the"
    " maximum kinetic energy of the electrons.",
)


@pytest.mark.parametrize("text", _SAMPLES)
def test_every_step_can_be_worked_again_from_its_inputs(text: str) -> None:
    derivation = _one(text).derivation
    assert derivation is not None
    values: list[float] = []
    for step in derivation.steps:
        assert {s.name for s in step.solved.free_symbols} == {i.symbol for i in step.inputs}
        numbers = {
            s: next(i.value for i in step.inputs if i.symbol == s.name)
            for s in step.solved.free_symbols
        }
        assert float(step.solved.subs(numbers)) == pytest.approx(step.value, rel=1e-9)
        for one in step.inputs:
            if one.step is not None:
                assert abs(one.value) == pytest.approx(abs(values[one.step]), rel=1e-9)
        values.append(step.value)


@pytest.mark.parametrize("text", _SAMPLES)
def test_the_printed_value_is_among_the_accepted(text: str) -> None:
    result = _one(text)
    assert any(math.isclose(result.value, a, rel_tol=1e-6) for a in result.accepted)
    assert max(map(abs, result.accepted)) / min(map(abs, result.accepted)) < 1.1


def test_a_stated_constant_is_the_only_one_accepted() -> None:
    free = _one("Find the weight of a 2 kg stone.")
    stated = _one("Find the weight of a 2 kg stone. Use g = 10 m·s⁻².")
    assert {round(a, 2) for a in free.accepted} >= {19.6, 19.62, 20.0}
    assert stated.accepted == pytest.approx((20.0,))


def test_a_later_part_uses_the_result_of_an_earlier_one() -> None:
    first, second = _solve(
        "QUESTION 1\nIdentical beads R (+6 nC) and S (-2 nC) touch and are moved 3 cm apart.\n"
        "1.1 Find the charge on each.\n1.2 Find the force between them."
    )
    assert first.expected[0].value == pytest.approx(2e-9)
    derivation = second.expected[0].derivation
    assert derivation is not None
    assert ("1.1", 0) in [i.earlier for s in derivation.steps for i in s.inputs]


# --- properties -----------------------------------------------------------------------------------

_SIZE = st.integers(1, 99)
_SIGN = st.sampled_from("+-")


def _pair(q1: str, q2: str, gap: str, a: str = "R", b: str = "S") -> str:
    return f"Bead {a} ({q1}) is {gap} to the left of bead {b} ({q2}). Find the force on {a}."


@_FEW
@given(_SIZE, _SIZE, _SIZE, _SIGN, _SIGN)
def test_rescaling_units_changes_nothing(x: int, y: int, d: int, s: str, t: str) -> None:
    small = _one(_pair(f"{s}{x} nC", f"{t}{y} nC", f"{d} cm"))
    scaled = _one(_pair(f"{s}{x * 1000} pC", f"{t}{y / 1000} µC", f"{d * 10} mm"))
    assert scaled.value == pytest.approx(small.value)
    assert scaled.direction == small.direction
    assert small.value == pytest.approx(9e9 * x * y * 1e-18 / (d / 100) ** 2)


@_FEW
@given(st.lists(st.sampled_from("ABDEGHKLMRSTXYZ"), min_size=2, max_size=2, unique=True), _SIGN)
def test_renaming_bodies_changes_nothing(names: list[str], sign: str) -> None:
    plain = _one(_pair("+3 nC", f"{sign}4 nC", "5 cm"))
    renamed = _one(_pair("+3 nC", f"{sign}4 nC", "5 cm", *names))
    assert (renamed.value, renamed.direction) == (plain.value, plain.direction)
    assert renamed.of == names[0]


def _line(charges: list[str], gaps: list[int], side: str) -> str:
    q1, q2, q3 = charges
    other = "left" if side == "right" else "right"
    return (
        f"Bead R ({q1}) is {gaps[0]} cm to the {other} of bead S ({q2}). "
        f"Bead T ({q3}) is {gaps[1]} cm to the {side} of S. Find the net force on S."
    )


@_FEW
@given(_SIZE, _SIZE, _SIZE, _SIZE, _SIZE, _SIGN, _SIGN, _SIGN)
def test_mirroring_a_line_turns_only_the_direction(
    x: int, y: int, z: int, d: int, e: int, s: str, t: str, u: str
) -> None:
    charges = [f"{s}{x} nC", f"{t}{y} nC", f"{u}{z} nC"]
    there, back = _one(_line(charges, [d, e], "right")), _one(_line(charges, [d, e], "left"))
    assert back.value == pytest.approx(there.value)
    turned = {"left": "right", "right": "left", None: None}
    assert back.direction == turned[there.direction]
    signed = [float(c.split()[0]) for c in charges]
    push = signed[0] * signed[1] / d**2 - signed[2] * signed[1] / e**2
    assert there.value == pytest.approx(9e9 * abs(push) * 1e-14, rel=1e-9, abs=1e-18)
    if abs(push) > 1e-6:
        assert there.direction == ("right" if push > 0 else "left")


@_FEW
@given(
    st.permutations(["Bead R carries +3 nC.", "Bead S carries -4 nC.", "R and S are 5 cm apart."])
)
def test_the_order_of_givens_changes_nothing(order: list[str]) -> None:
    text = " ".join(order)
    assert _one(f"{text} Find the force between R and S.").value == pytest.approx(4.32e-5)


@_FEW
@given(
    st.sampled_from(
        [
            "Each bead has a mass of 2 g.",
            "The beads have a diameter of 4 mm.",
            "Each hangs from a thread 30 cm long.",
            "It is Monday.",
        ]
    )
)
def test_a_red_herring_changes_nothing(herring: str) -> None:
    text = (
        f"Beads R (+3 nC) and S (-4 nC) are 5 cm apart. {herring} Find the force between R and S."
    )
    assert _one(text).value == pytest.approx(4.32e-5)
