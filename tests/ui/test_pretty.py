"""Readings, values and derivations in plain text and LaTeX."""

from __future__ import annotations

import pytest
import sympy
from hypothesis import given
from hypothesis import strategies as st

from scanner.reader.notation import TOKENS, is_well_formed
from solver.findings import Input, Step
from tests.ui.samples import coulomb_derivation
from ui import pretty


@pytest.mark.parametrize(
    ("reading", "shown"),
    [
        (r"F=\frac{kQ_{1}Q_{2}}{r^{2}}", "F=kQ₁Q₂/r²"),
        ("F=2,07×10^{-3} N to the left", "F=2,07×10⁻³ N to the left"),
        (r"r=\sqrt{\frac{k}{E}}", "r=√(k/E)"),
        ("F_{net}=-3 N", "F_net=−3 N"),
        (r"\struck{4,5}4,7", "[struck out: 4,5]4,7"),
        ("10^{9", "10^{9"),
    ],
)
def test_plain_reading(reading, shown):
    assert pretty.plain(reading) == shown


@pytest.mark.parametrize(
    ("reading", "latex"),
    [
        ("F=1.08×10^{-9} N", r"F=1.08\times 10^{-9}\ \text{N}"),
        ("2,5 µC to the left", r"2{,}5\ \text{µC}\ \text{to}\ \text{the}\ \text{left}"),
        ("9 N·m^{2}/C^{2}", r"9\ \text{N}\cdot \text{m}^{2}/\text{C}^{2}"),
    ],
)
def test_latex_reading(reading, latex):
    assert pretty.latex(reading) == latex


def test_typed_reading_is_what_a_keyboard_can_write():
    assert pretty.typed(r"F=\frac{k}{r^{2}}") == "F=k/(r^2)"
    assert pretty.typed("1,08×10^{-9} N") == "1,08×10^-9 N"


readings = st.lists(st.sampled_from(TOKENS[3:]), max_size=12).map("".join).filter(is_well_formed)


@given(readings)
def test_latex_braces_always_balance(reading):
    depth = 0
    shown = pretty.latex(reading)
    for character in shown:
        depth += {"{": 1, "}": -1}.get(character, 0)
        assert depth >= 0
    assert depth == 0
    assert "$" not in shown  # the page sets formulas between dollar signs


def test_running_text_and_broken_readings_are_no_formulas():
    assert pretty.is_formula("F=2,07×10^{-3} N to the left")
    assert not pretty.is_formula("because the like charges push each other away")
    assert not pretty.is_formula("10^{9")


@pytest.mark.parametrize(
    ("value", "unit", "shown"),
    [
        (1.08e-5, "N", "1.08 × 10⁻⁵ N"),
        (-3.6e-9, "C", "−3.6 × 10⁻⁹ C"),
        (0.12, "m", "0.12 m"),
        (9e9, "N*m**2/C**2", "9 × 10⁹ N·m²/C²"),
        (1234.5, "V/m", "1235 V/m"),
        (2.5e10, "dimensionless", "2.5 × 10¹⁰"),
        (0.0, "N", "0 N"),
        (float("nan"), "N", "? N"),
    ],
)
def test_value(value, unit, shown):
    assert pretty.value_plain(value, unit) == shown


def test_direction_is_said_in_words():
    assert pretty.value_plain(2.0, "N", "left") == "2 N, to the left"
    assert pretty.value_plain(2.0, "N", "53 deg anticlockwise from right").endswith(
        "53° anticlockwise from right"
    )


def test_law_keeps_the_order_of_its_inputs():
    step = coulomb_derivation().steps[0]
    assert pretty.law_latex(step) == r"F = \frac{k Q_{1} Q_{2}}{r^{2}}"
    assert pretty.law_plain(step) == "F = k·Q_1·Q_2/r²"
    assert pretty.rearranged_latex(step) is None


def test_rearranged_law_is_shown_beside_the_law():
    work, charge, voltage = sympy.symbols("W q V")
    step = Step(
        law="work of a charge",
        equation=sympy.Eq(work, charge * voltage),
        solved=work / charge,
        unknown="V",
        inputs=(Input("W", 6.0, "J"), Input("q", 2.0, "C")),
        value=3.0,
        unit="V",
    )
    assert pretty.rearranged_latex(step) == r"V = \frac{W}{q}"
    assert pretty.substitution_latex(step) == r"V = \frac{\left(6\right)}{\left(2\right)}"
    assert pretty.result_latex(step) == r"V = 3\,\mathrm{V}"
