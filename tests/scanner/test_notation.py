"""The linear notation: round trips, one spelling, structure."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scanner.reader import notation

LINES = [
    r"F=\frac{kQ_{1}Q_{2}}{r^{2}}",
    "-2,5×10^{-6} C to the left",
    r"\struck{4,5}4,7 N·C^{-1}",
    r"R=\sqrt{F_{x}^{2}+F_{y}^{2}}",
    "∴E≈4.5×10^{5} N/C",
    "V_{x^{2}}",
]


@pytest.mark.parametrize("line", LINES)
def test_a_line_survives_tokens_and_back(line):
    ids = notation.tokenise(line)
    assert notation.detokenise(ids) == line
    assert notation.is_well_formed(line)
    assert notation.normalise(line) == line


def test_ids_are_fixed_because_the_weights_depend_on_them():
    assert notation.TOKENS[:3] == ("<pad>", "<start>", "<end>")
    assert notation.tokenise(r"\frac{0}{9}^{A}_{z} µ⟂") == [
        *(3, 11, 4, 20, 5, 6, 21, 5, 7, 72, 5, 10),
        106,
        134,
    ]
    assert notation.TOKENS.index("µ") == 106
    assert len(set(notation.TOKENS)) == len(notation.TOKENS)


def test_detokenise_stops_at_the_end_mark():
    two = notation.tokenise("2")[0]
    assert notation.detokenise([notation.START, two, notation.END, two]) == "2"


@pytest.mark.parametrize(
    ("written", "same"),
    [
        ("F = 2.07 × 10⁻³ N", "F=2.07×10^{-3} N"),
        ("−3 μC", "-3 µC"),
        ("a charge of –3 nC", "a charge of -3 nC"),
        ("Q₁ − Q₂", "Q_{1}-Q_{2}"),
        ("N⋅m²⋅C⁻²", "N·m^{2}·C^{-2}"),
        ("( 5 + 3 ) cm", "(5+3) cm"),
        ("10 000 N", "10 000 N"),
        ("3nC", "3 nC"),
        ("2F", "2F"),
        ("½mv²", r"\frac{1}{2}mv^{2}"),
        ("4.5 N·C⁻¹", "4.5 N·C^{-1}"),
        ("∴ E = 5", "∴E=5"),
        ("25 %", "25%"),
    ],
)
def test_one_spelling(written, same):
    assert notation.normalise(written) == same
    assert notation.normalise(same) == same


@pytest.mark.parametrize(
    "broken", [r"\frac{1}", r"\frac{1}{", "2}", "10^{", "10^{}", r"\frac{}{2}", r"\frac{1}{}", "é"]
)
def test_broken_structure_is_told(broken):
    assert not notation.is_well_formed(broken)


def test_struck_out_ink_may_be_illegible():
    assert notation.is_well_formed(r"\struck{}4.5")


def test_unknown_characters_are_refused():
    with pytest.raises(ValueError, match="not in the notation"):
        notation.tokenise("ж")


def test_flatten_drops_only_raised_and_lowered_marks():
    assert notation.flatten(r"\frac{kQ_{1}}{r^{2}}×10^{-9}") == r"\frac{kQ1}{r2}×10-9"
    assert notation.flatten(r"\sqrt{x^{2}}") == r"\sqrt{x2}"


@given(st.lists(st.sampled_from(notation.TOKENS[3:])))
def test_well_formed_lines_flatten_to_well_formed_lines(tokens):
    text = "".join(tokens)
    assert notation.detokenise(notation.tokenise(text)) == text
    if notation.is_well_formed(text) and notation.STRUCK not in text:
        assert notation.is_well_formed(notation.flatten(text))
