"""Where questions start in lines as they come from a page."""

import pytest

from parser.question_text.numbering import split_parts


@pytest.mark.parametrize(
    "folded",
    [
        "A particle has a charge of\n3.2 × 10^{-19} C. Find its force.",
        "It is 12 cm away from a\n9.0 nC charge.",
        "A bead loses\n3.0 × 10^9 of them.",
        "They move from\n2.0 cm to 8.0 cm.",
        "The charges are +40 nC and -12\nnC, and far apart.",
        "The current is measured as\n2 A and rises.",
    ],
)
def test_an_amount_that_starts_a_line_is_no_number(folded: str) -> None:
    (part,) = split_parts(folded.split("\n"))
    assert part.number == ""
    assert part.text == folded.replace("\n", " ")


def test_an_amount_between_numbers_stays_in_its_part() -> None:
    sheet = "2.1 They stand\n0,4 m apart. Find it. (3)\n2.2 P receives a further\n3.0 nC. Find it."
    assert [(p.number, p.text) for p in split_parts(sheet.split("\n"))] == [
        ("2.1", "They stand 0,4 m apart. Find it."),
        ("2.2", "P receives a further 3.0 nC. Find it."),
    ]


def test_numbers_glued_to_their_text_follow_the_order_of_the_sheet() -> None:
    sheet = "1 Beads touch.\n1.1How many electrons move?\n1.2What is the force?\n2A charged bead."
    assert [p.number for p in split_parts(sheet.split("\n"))] == ["1", "1.1", "1.2", "2"]


def test_a_number_in_a_sentence_that_goes_on_starts_nothing() -> None:
    sheet = "1. The beads are moved by\n5. Then they stop.\n2. A plate is charged."
    assert [p.number for p in split_parts(sheet.split("\n"))] == ["1", "2"]


def test_a_body_may_be_called_like_a_unit() -> None:
    sheet = "1 C is 3 cm from D.\n2 D is moved.\n3 N is neutral."
    assert [p.number for p in split_parts(sheet.split("\n"))] == ["1", "2", "3"]


def test_constants_and_the_next_line_stay_two_lines() -> None:
    (part,) = split_parts(["k = 9 × 10^9", "A charge of 2 nC is alone"])
    assert "\n" in part.text


def test_a_lettered_ask_folded_in_a_sentence_stays_in_its_question() -> None:
    (part,) = split_parts(["Find (a) the height it reaches and", "(b) how long it takes."])
    assert part.text == "Find (a) the height it reaches and (b) how long it takes."


def test_an_abbreviation_at_the_end_of_a_line_ends_no_sentence() -> None:
    (part,) = split_parts(["What is the p.d.", "across its terminals?"])
    assert part.text == "What is the p.d. across its terminals?"
