"""Question text into givens, facts and asks: each case a way that schools word things."""

import pytest

from parser.assemble import worksheet_from_text
from parser.question_text import read_question
from parser.worksheet import Question


def _charges(question: Question) -> dict[str | None, float]:
    return {g.of: g.quantity.value for g in question.givens if g.kind == "charge"}


@pytest.mark.parametrize(
    ("text", "charges"),
    [
        ("Bead R carries +3 nC and bead S carries -5 nC.", {"R": 3e-9, "S": -5e-9}),
        ("Beads R and S carry charges of +3 nC and -5 nC respectively.", {"R": 3e-9, "S": -5e-9}),
        ("Two beads, R (+3 nC) and S (-5 nC), hang side by side.", {"R": 3e-9, "S": -5e-9}),
        ("q₁ = q₂ = 4 µC", {"q_{1}": 4e-6, "q_{2}": 4e-6}),
        ("Charges of +3 nC and -5 nC are placed at R and S.", {"R": 3e-9, "S": -5e-9}),
        ("A negatively charged bead R has a charge of 3 nC.", {"R": -3e-9}),
        ("Beads R and S each carry a charge of 2 nC.", {"R": 2e-9, "S": 2e-9}),
    ],
)
def test_a_charge_belongs_to_its_body(text: str, charges: dict[str, float]) -> None:
    assert _charges(read_question("", text + " Find the force on R.")) == pytest.approx(charges)


@pytest.mark.parametrize(
    "words",
    [
        "R and S are 4 cm apart.",
        "R is 4 cm from S.",
        "The distance between R and S is 4 cm.",
        "R is held 4 cm to the left of S.",
        "R and S are separated by a distance of 4 cm.",
    ],
)
def test_a_distance_lies_between_two_bodies(words: str) -> None:
    question = read_question("", f"Bead R carries +3 nC and bead S carries -5 nC. {words}")
    (distance,) = [g for g in question.givens if g.kind == "distance"]
    assert set(distance.between or ()) == {"R", "S"}


def test_contact_starts_a_new_stage() -> None:
    question = read_question(
        "",
        "Identical beads R (+3 nC) and S (-5 nC) touch and are then placed 4 cm apart. "
        "Calculate the force between them.",
    )
    contact = next(f for f in question.facts if f.name == "contact")
    assert set(contact.bodies) == {"R", "S"}
    assert [g.stage for g in question.givens if g.kind == "distance"] == [contact.stage]
    assert [g.stage for g in question.givens if g.kind == "charge"] == [0, 0]


def test_a_contact_that_did_not_happen_is_none() -> None:
    question = read_question(
        "", "Without touching, beads R (+3 nC) and S (-5 nC) are brought near."
    )
    assert not [f for f in question.facts if f.name == "contact"]


@pytest.mark.parametrize(
    ("ask", "kind", "wants"),
    [
        ("Calculate the magnitude of the force on R.", "force", "magnitude"),
        ("What are the magnitude and direction of the net force on R?", "net_force", "vector"),
        ("How many electrons were transferred?", "electron_count", "count"),
        ("By what factor does the force change?", "force", "ratio"),
        ("How far apart are they?", "separation", "value"),
        ("Show that the force is 2 N.", "force", "show"),
    ],
)
def test_what_is_asked(ask: str, kind: str, wants: str) -> None:
    asked = read_question("", f"Bead R carries +3 nC. {ask}").asked
    assert [(a.kind, a.wants) for a in asked] == [(kind, wants)]


@pytest.mark.parametrize(
    "text",
    [
        "State Coulomb's law in words.",
        "Explain why the beads move apart.",
        "Draw the electric field pattern around bead R.",
        "Define electric field at a point.",
    ],
)
def test_words_and_drawings_are_not_numeric(text: str) -> None:
    question = read_question("1.1", text)
    assert not question.numeric
    assert not question.problems


def test_letters_in_running_text_are_asks_of_one_question() -> None:
    question = read_question(
        "3", "(a) What is the force between 2 nC and 3 nC, 4 cm apart? (b) And the field at 5 cm?"
    )
    assert [a.kind for a in question.asked] == ["force", "field"]


def test_what_was_not_understood_says_its_words() -> None:
    question = read_question("", "Calculate the gloopiness of the bead.")
    assert "gloopiness" in " ".join(question.problems)


def test_each_request_that_and_joins_is_an_ask() -> None:
    question = read_question(
        "",
        "Beads R (+2 nC) and S (+4 nC) are 3 cm apart. What force acts between them and what "
        "is the field midway between them?",
    )
    assert [a.kind for a in question.asked] == ["force", "field"]


def test_a_request_that_is_not_understood_stands_beside_those_that_are() -> None:
    question = read_question(
        "",
        "Beads R (+2 nC) and S (+4 nC) are 3 cm apart. Find the force between them and "
        "calculate the gloopiness of R.",
    )
    assert [a.kind for a in question.asked] == ["force", "unknown"]
    assert not question.problems


PAIR = "Two charges of 8.0 nC and 5.0 nC are 10 cm apart."


@pytest.mark.parametrize(
    "instruction, unit",
    [
        ("Show all your working and give your answer to three significant figures.", None),
        ("Express your answer in scientific notation.", None),
        ("Round off your final answer to two decimal places.", None),
        ("Answer to 3 s.f.", None),
        ("Give your answer in mN.", "mN"),
        ("Write your answers in millinewtons.", "mN"),
    ],
)
def test_an_instruction_asks_nothing_but_may_want_a_unit(
    instruction: str, unit: str | None
) -> None:
    ask = "Calculate the force between them."
    for text in (f"{PAIR} {ask} {instruction}", f"{instruction} {PAIR} {ask}"):
        question = read_question("1", text)
        assert not question.problems
        assert [(a.kind, a.unit) for a in question.asked] == [("force", unit)]
        assert len(question.givens) == 3


def test_how_to_round_is_no_given_and_ends_no_sentence() -> None:
    question = read_question(
        "1", f"{PAIR} Find the force, correct to 3 s.f. The air is dry. Take k = 9 × 10^9 N·m²/C²."
    )
    assert not question.problems
    assert not any(g.kind == "time" for g in question.givens)
    assert len(question.givens) == 4


def test_an_answer_in_terms_of_a_symbol_is_still_asked() -> None:
    question = read_question(
        "1", "Two charges exert a force F. Find the new force. Express your answer in terms of F."
    )
    assert [a.kind for a in question.asked] == ["force", "unknown"]


def test_a_unit_before_and_is_no_lost_name() -> None:
    text = "The charges are 3.2 × 10⁻¹¹ C and are 4 cm apart. Find the force between them."
    (question,) = worksheet_from_text(text).questions
    assert not any("missing here" in problem for problem in question.problems)
