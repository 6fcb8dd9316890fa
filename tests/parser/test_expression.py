"""Written lines become relations whose leaves keep how they were written.

Algebra is refereed by sympy, units by pint (through the quantities).
"""

from __future__ import annotations

import pytest
import sympy
from hypothesis import given, settings
from hypothesis import strategies as st

from parser.expression import (
    is_plausible,
    leaves,
    parse_line,
    single_quantity,
    unit_quantity,
    written_symbols,
)
from parser.worksheet import ParsedLine, Relation, Unparsed


def relation(text: str, mark: str | None = ".") -> Relation:
    parsed = parse_line(text, mark, ("A", "B"))  # type: ignore[arg-type]
    assert isinstance(parsed, ParsedLine), parsed
    assert len(parsed.relations) == 1, parsed
    return parsed.relations[0]


def value(one: Relation, side: int = -1) -> float:
    expression = one.sides[side].expression
    assert expression is not None
    unit = unit_quantity(one.sides[side].unit) if one.sides[side].unit else None
    numbers = {sympy.Symbol(f"#{i}"): q.value for i, q in enumerate(one.quantities)}
    return float(expression.subs(numbers)) * (unit.value if unit else 1.0)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (r"F=\frac{9×10^{9}×3.6×10^{-9}×4.8×10^{-9}}{0.12^{2}}", 1.08e-5),
        (r"F=\frac{(9×10^{9})(3.6×10^{-9})(4.8×10^{-9})}{(0.12)^{2}}", 1.08e-5),
        (r"F=9×10^{9}(3.6×10^{-9})(4.8×10^{-9})/(0.12)^{2}", 1.08e-5),
        (r"F=\frac{9.10^{9}·3.6·10^{-9}·4.8·10^{-9}}{(12·10^{-2})^{2}}", 1.08e-5),
        ("F=9E9x3.6e-9x4.8e-9/0.12^2", 1.08e-5),
        (r"F=\frac{9×10^{9} N·m^{2}/C^{2}×3.6 nC×4.8 nC}{(12 cm)^{2}}", 1.08e-5),
        (r"=\frac{-3.6×10^{-9}+4.8×10^{-9}}{2}", 0.6e-9),
        (r"Q=\frac{-3.6+4.8}{2} nC", 0.6e-9),
        ("Q=(-3.6+4.8)/2 nC", 0.6e-9),
        (r"=-3.6×10^{-9}-(-4.8×10^{-9})", 1.2e-9),
        (r"r=\sqrt{\frac{9×10^{9}×4×10^{-12}}{1×10^{-3}}}", 6.0),
        (r"F_{net}=\sqrt{3^{2}+4^{2}}", 5.0),
        ("F=10 N×sin30°", 5.0),
        (r"θ=tan^{-1}(1)", 0.7853981633974483),
        ("F_{x}=10cos(60°)", 5.0),
        ("E=½×2.0×3.0^{2}", 9.0),
        ("x=2+3×4", 14.0),
        ("x=12/3×2", 8.0),
        ("1/4π", 0.07957747154594767),
        ("=|-3|", 3.0),
    ],
)
def test_a_written_expression_is_worth_what_it_says(text: str, expected: float) -> None:
    assert value(relation(text)) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (r"F=\frac{kQ_{1}Q_{2}}{r^{2}}", "k*Q1*Q2/r**2"),
        ("F=kQ_{1}Q_{2}/r^{2}", "k*Q1*Q2/r**2"),
        (r"F=k\frac{Q_{1}Q_{2}}{r^{2}}", "k*Q1*Q2/r**2"),
        (r"F=k·Q_{1}·Q_{2}÷r^{2}", "k*Q1*Q2/r**2"),
        ("F=kQ1Q2/r^{2}", "k*Q1*Q2/r**2"),
        (r"r=\sqrt{\frac{kQ_{1}Q_{2}}{F}}", "sqrt(k*Q1*Q2/F)"),
        (r"F_{net}=F_{1}-F_{2}", "F1-F2"),
        ("E=mg/qd", "m*g/(q*d)"),
    ],
)
def test_a_formula_is_read_as_algebra(text: str, expected: str) -> None:
    expression = relation(text).sides[-1].expression
    assert expression is not None
    plain = {
        s: sympy.Symbol(s.name.replace("_{", "").replace("}", "")) for s in expression.free_symbols
    }
    referee = sympy.sympify(expected, locals={n: sympy.Symbol(n) for n in "kQFrEmgqd"})
    assert sympy.simplify(expression.xreplace(plain) - referee) == 0


def test_a_quantity_keeps_how_it_was_written() -> None:
    one = relation("Q_{A}=-3,6 nC", ",")
    quantity = single_quantity(one, one.sides[1])
    assert quantity is not None
    assert (quantity.sign, quantity.mantissa, quantity.prefix) == ("-", "3,6", "n")
    assert quantity.value == pytest.approx(-3.6e-9)


def test_a_chain_keeps_every_side_and_sign() -> None:
    one = relation("F=3×4≈12 N")
    assert [s.text for s in one.sides] == ["F", "3×4", "12 N"]
    assert one.signs == ("=", "≈")


def test_a_line_that_opens_with_a_sign_continues_the_one_above() -> None:
    assert relation("=1.2×10^{-9} C").continues
    assert relation("×4.8×10^{-9}").continues
    assert not relation("-1.2×10^{-9} C").continues


def test_words_signs_and_numbering_in_front_are_no_part_of_the_relation() -> None:
    for text in ("∴F=3 N", "(a) F=3 N", "2.2 F=3 N", "so F=3 N", "⇒F=3 N", "→ F=3 N"):
        assert written_symbols(relation(text).sides[0].expression) == ("F",), text


def test_a_bare_number_and_a_labelled_one_are_relations_of_one_side() -> None:
    assert value(relation("4.7 N")) == pytest.approx(4.7)
    labelled = relation("Answer: 4.7 N")
    assert labelled.label == "Answer"
    assert value(labelled) == pytest.approx(4.7)
    assert value(relation("charge on A -3.6 nC")) == pytest.approx(-3.6e-9)


def test_a_remark_behind_a_value_is_passed_over() -> None:
    for text in ("F=3.38 N attraction", "F=3.38 N (attractive)", "Q=3.38 nC each"):
        one = relation(text)
        assert single_quantity(one, one.sides[-1]) is not None, text


def test_letters_that_multiply_are_no_words() -> None:
    assert written_symbols(relation("v=u+at").sides[1].expression) == ("a", "t", "u")
    assert written_symbols(relation("s=ut+½at^{2}").sides[1].expression) == ("a", "t", "u")


def test_struck_ink_is_passed_over() -> None:
    assert value(relation(r"F=\struck{4,5}4,7 N", ",")) == pytest.approx(4.7)


@pytest.mark.parametrize(
    ("text", "direction"),
    [
        ("F=3 N to the left", "left"),
        ("F=3 N, left", "left"),
        ("F=3 N (left)", "left"),
        ("F=3 N towards A", "towards A"),
        ("F=3 N→", "right"),
        ("F=5 N 53° north of east", "53 deg anticlockwise from right"),
        ("the force is 3.2 N downwards", "down"),
    ],
)
def test_a_direction_behind_a_value_is_kept_apart(text: str, direction: str) -> None:
    one = relation(text)
    assert one.direction == direction
    assert single_quantity(one, one.sides[-1]) is not None


def test_a_direction_may_stand_alone() -> None:
    for text in ("to the left", "Direction: left", "direction is to the left"):
        parsed = parse_line(text)
        assert isinstance(parsed, ParsedLine)
        assert parsed.direction == "left", text


def test_several_statements_on_one_line_are_kept_apart() -> None:
    parsed = parse_line("Q_{1}=3 nC, Q_{2}=-5 nC, r=4 cm")
    assert isinstance(parsed, ParsedLine)
    found = [single_quantity(r, r.sides[-1]) for r in parsed.relations]
    assert [q.value for q in found if q] == pytest.approx([3e-9, -5e-9, 0.04])
    spaced = parse_line("q=5 C r=3 m")
    assert isinstance(spaced, ParsedLine)
    assert len(spaced.relations) == 2


def test_a_unit_letter_behind_a_number_is_a_unit_only_where_no_symbol_stands_beside_it() -> None:
    assert not written_symbols(relation("F=5N").sides[1].expression)
    assert written_symbols(relation("F=2F_{1}").sides[1].expression) == ("F_{1}",)
    assert written_symbols(relation("E=2mv^{2}").sides[1].expression) == ("m", "v")


def test_concatenated_units_are_units() -> None:
    for text in (
        "k=9×10^{9} Nm^{2}C^{-2}",
        "k=9×10^{9} N·m^{2}/C^{2}",
        "k=9×10^{9} N.m^{2}.C^{-2}",
    ):
        one = relation(text)
        quantity = single_quantity(one, one.sides[1])
        assert quantity is not None and quantity.written_unit, text
        assert quantity.value == pytest.approx(9e9)


def test_a_conversion_on_one_line_is_one_chain() -> None:
    one = relation("r=12 cm=0.12 m")
    assert value(one, 1) == pytest.approx(value(one, 2))


def test_a_name_of_a_body_behind_a_letter_lowers_it() -> None:
    assert written_symbols(relation("FA=3 N").sides[0].expression) == ("F_{A}",)


def test_a_group_of_thousands_and_a_decimal_comma_are_told_apart_by_the_sheet() -> None:
    assert value(relation("E=10,000 N/C", ".")) == pytest.approx(1e4)
    assert value(relation("E=10,000 N/C", ",")) == pytest.approx(10.0)
    one = relation("E=10,000 N/C", None)
    assert one.quantities[0].comma_unsettled


@pytest.mark.parametrize("text", ["a+b)", r"\frac{3}{", "F=", "=", "3++", "((((", "F=×3", "^{2}"])
def test_broken_writing_is_unparsed_and_names_the_part(text: str) -> None:
    parsed = parse_line(text)
    assert isinstance(parsed, Unparsed)
    assert not is_plausible(parsed)


def test_words_alone_are_no_relation() -> None:
    parsed = parse_line("Like charges repel each other")
    assert isinstance(parsed, ParsedLine)
    assert parsed.relations == ()


def test_leaves_are_counted_in_the_order_of_writing() -> None:
    one = relation(r"F=\frac{9×10^{9}×3×10^{-9}}{0.1}=2 N")
    assert leaves(one.sides[1].expression) == (0, 1, 2)
    assert leaves(one.sides[2].expression) == (3,)


def test_readings_are_weighed_by_form_alone() -> None:
    assert not is_plausible(parse_line(r"F=\frac{3}{"))
    assert is_plausible(parse_line("F=3 N"))


def test_a_power_of_ten_without_its_power_is_not_plausible() -> None:
    assert not is_plausible(parse_line("F=1.08×10 N"))
    assert is_plausible(parse_line("F=1.08×10^{-5} N"))


def test_sides_in_different_dimensions_are_not_plausible() -> None:
    assert not is_plausible(parse_line("r=12 cm=0.12 C"))
    assert is_plausible(parse_line("r=12 cm=0.12 m"))


@settings(max_examples=300, deadline=None)
@given(st.text(alphabet=r"0123456789.,+-×·/=()[]{}\frac sqrt^_FQkrENCmnµ°|→∴:", max_size=60))
def test_no_writing_raises(text: str) -> None:
    assert isinstance(parse_line(text), ParsedLine | Unparsed)


@settings(max_examples=100, deadline=None)
@given(
    st.floats(0.1, 99.9).map(lambda x: f"{x:.2f}"),
    st.integers(-12, 12),
    st.floats(0.1, 9.9).map(lambda x: f"{x:.1f}"),
)
def test_a_product_of_powers_of_ten_is_worth_its_float(
    mantissa: str, power: int, other: str
) -> None:
    text = rf"F=\frac{{{mantissa}×10^{{{power}}}×{other}}}{{{other}^{{2}}}}"
    assert value(relation(text)) == pytest.approx(
        float(mantissa) * 10.0**power / float(other), rel=1e-9
    )
