"""Quantities in school spellings. Conversions are refereed by pint."""

import math

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from parser.quantity import canonical, find_quantities, parse_quantity, settle_decimal_mark


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("-3.6 nC", -3.6e-9, "C"),
        ("−2.0 × 10⁻⁶-C charge", -2.0e-6, "C"),
        ("+ 2.0 µC", 2.0e-6, "C"),
        ("2.00-μC charge", 2.0e-6, "C"),
        ("−2-nC", -2e-9, "C"),
        ("10⁻¹⁵ m", 1e-15, "m"),
        ("F=2,07×10^{-3} N", 2.07e-3, "N"),
        ("9 x 10^9 N·m²·C⁻²", 9e9, "N*m**2/C**2"),
        ("5.0 N C^{-1}", 5.0, "N/C"),
        ("1 000 V", 1000.0, "V"),
        ("3.0E-9 C", 3e-9, "C"),
        ("6 × 10-9 C", 6e-9, "C"),
        ("30.0 km/h", 30 / 3.6, "m/s"),
        ("9.8 m.s-2", 9.8, "m/s**2"),
        ("12 newtons per coulomb", 12.0, "N/C"),
        ("400 cm2", 0.04, "m**2"),
        ("8.00 nm–thick", 8e-9, "m"),
        ("120μC on", 120e-6, "C"),
        ("10%", 0.1, "dimensionless"),
        ("25.0°", math.radians(25), "rad"),
        ("13 hours, 4 minutes, 58 seconds", 47098.0, "s"),
        ("-3e", -3 * 1.602176634e-19, "C"),
        ("negative 4 nC", -4e-9, "C"),
        ("3 microcoulombs", 3e-6, "C"),
    ],
)
def test_every_school_spelling_comes_out_in_si(text: str, value: float, unit: str) -> None:
    (found,) = find_quantities(text)
    assert found.quantity.value == pytest.approx(value, rel=1e-9)
    assert found.quantity.unit == unit


@pytest.mark.parametrize(
    ("text", "direction"),
    [
        ("3 N to the left", "left"),
        ("3 N (right)", "right"),
        ("3 N →", "right"),
        ("3 N due east", "east"),
        ("3 N northwest", "north-west"),
        ("3 N upward", "up"),
        ("3 N, towards Q_{2}", "towards Q_{2}"),
        ("3 N away from sphere P", "away from P"),
        ("3 N 30° north of east", "30 deg anticlockwise from right"),
        ("3 N 20 deg anticlockwise from right", "20 deg anticlockwise from right"),
        ("20 cm to the left of A", None),
    ],
)
def test_direction_words_belong_to_the_quantity(text: str, direction: str | None) -> None:
    assert find_quantities(text)[0].quantity.direction == direction


def test_what_was_written_is_kept() -> None:
    quantity = parse_quantity("-3,60×10^{-9} nC")
    assert quantity is not None
    assert (quantity.sign, quantity.mantissa, quantity.exponent) == ("-", "3,60", -9)
    assert (quantity.prefix, quantity.written_unit) == ("n", "nC")
    assert quantity.significant_figures == 3


def test_a_comma_before_three_digits_is_settled_by_the_sheet() -> None:
    assert find_quantities("10,000 N/C at 0.250 m")[0].quantity.value == 10_000
    assert find_quantities("2,250 N and 3,5 mm")[0].quantity.value == 2.25
    alone = find_quantities("10,000 N/C")[0].quantity
    assert alone.comma_unsettled
    assert not find_quantities("10,000 N/C", ".")[0].quantity.comma_unsettled
    assert settle_decimal_mark("0,25 m") == ","


def test_digits_of_names_are_no_quantities() -> None:
    found = find_quantities("Q_{1} and q₂ and r1 are 5 m from P_3 in H2O")
    assert [f.quantity.text for f in found] == ["5 m"]


def test_spans_point_into_the_text_as_typed() -> None:
    text = "charges of −2.0 × 10⁻⁶ C and +3 µC"
    assert [text[f.start : f.end] for f in find_quantities(text)] == ["−2.0 × 10⁻⁶ C", "+3 µC"]


def test_more_than_one_quantity_is_not_a_quantity() -> None:
    assert parse_quantity("3 N and 4 N") is None
    assert parse_quantity("no number") is None


@given(
    st.integers(1, 9999),
    st.integers(0, 3),
    st.integers(-19, 12),
    st.sampled_from(["", "p", "n", "µ", "m", "k"]),
    st.sampled_from(["C", "N", "V"]),
    st.sampled_from([".", ","]),
    st.sampled_from(["×10^{%d}", " × 10^%d", "E%d", " x 10^{%d}"]),
)
def test_any_number_survives_any_spelling(
    digits: int, decimals: int, exponent: int, prefix: str, base: str, mark: str, power: str
) -> None:
    mantissa = f"{digits / 10**decimals:.{decimals}f}".replace(".", mark)
    found = find_quantities(f"{mantissa}{power % exponent} {prefix}{base}", mark)  # type: ignore[arg-type]
    referee = pint.get_application_registry().Quantity(
        digits / 10**decimals * 10.0**exponent, prefix + base
    )
    assert len(found) == 1
    assert found[0].quantity.value == pytest.approx(referee.to_base_units().to(base).magnitude)


@given(st.text(max_size=60))
def test_no_text_breaks_the_finder(text: str) -> None:
    for one in find_quantities(text):
        assert 0 <= one.start < one.end <= len(text)


def test_canonical_text_is_a_fixed_point() -> None:
    once = canonical("q₁ = −2.0 × 10⁻⁶ μC")
    assert once == "q_{1} = -2.0 × 10^{-6} µC"
    assert canonical(once) == once


def test_a_sign_at_the_start_of_a_line_belongs_to_its_number():
    (found,) = find_quantities("a droplet with a charge of\n-3.8 µC is placed", ".")
    assert found.quantity.value == pytest.approx(-3.8e-6)
