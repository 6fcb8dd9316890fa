"""Line by line: what follows, what does not, and what is left unjudged.

Conventions tested here (sharing on contact, opposing forces subtract, signs of charges as sizes in
Coulomb's law) are common practice, no source; beads and numbers are our own.
"""

from __future__ import annotations

import pytest

from parser.worksheet import Question
from solver.findings import Expected
from solver.verdicts import Rules
from solver.working import judge_working
from solver.working_types import Working
from tests.solver.derivations import (
    coulomb,
    electrons,
    force_after_contact,
    net_force,
    one_step,
    sharing,
)

K = (9.0e9, "N*m**2/C**2")
DISTANCE_GIVENS = {
    "Q_1": ("2.0 nC", "charge"), "Q_2": ("3.0 nC", "charge"), "F": ("6.0 µN", "force"),
}  # fmt: skip


def judged(example: tuple[Question, tuple[Expected, ...]]) -> Working:
    question, expected = example
    return judge_working(question, expected, Rules(), decimal_mark=".")


def follows(example: tuple[Question, tuple[Expected, ...]]) -> list[bool | None]:
    return [line.follows for line in judged(example).lines]


def distance(*written: str) -> tuple[Question, tuple[Expected, ...]]:
    return one_step("sqrt(k*Q_1*Q_2/F)", "m", DISTANCE_GIVENS, {"k": K}, written)


RIGHT_WORKING = [
    coulomb(r"F=\frac{kQ_{1}Q_{2}}{r^{2}}",
            r"F=\frac{9×10^{9}×3.6×10^{-9}×4.8×10^{-9}}{0.12^{2}}", "F=1.08×10^{-5} N"),
    coulomb(r"F=k\frac{|Q_{A}||Q_{B}|}{r^{2}}",
            r"=\frac{9×10^{9}×(-3.6×10^{-9})×4.8×10^{-9}}{0.0144}", "=-1.08×10^{-5}",
            "∴F=1.08×10^{-5} N"),
    coulomb("Q_{1}Q_{2}=3.6×10^{-9}×4.8×10^{-9}=1.728×10^{-17}", "r^{2}=0.12^{2}=0.0144",
            r"F=\frac{9×10^{9}×1.728×10^{-17}}{0.0144}=1.08×10^{-5} N"),
    coulomb(r"F=\frac{1}{4πε_{0}}\frac{q_{1}q_{2}}{r^{2}}", "=10.8 µN"),
    coulomb("r=12 cm=0.12 m", "Q_{1}=-3.6 nC=-3.6×10^{-9} C", "F=1.08×10^{-5} N"),
    coulomb(r"F=\frac{8.99×10^{9}×3.6 nC×4.8 nC}{(12 cm)^{2}}=1.079×10^{-5} N"),
    coulomb(r"F=\frac{9×10^{9}×3.6×10^{-9}×4.8×10^{-9}}{0.12^{2}}",
            r"=\frac{155.5×10^{-9}}{14.4×10^{-3}}", "=1.08×10^{-5} N"),
    sharing(r"Q=\frac{-3.6+4.8}{2}", "=0.60 nC"),
    sharing("Q_{tot}=Q_{1}+Q_{2}", "=-3.6×10^{-9}+4.8×10^{-9}=1.2×10^{-9} C",
            r"Q=\frac{1.2×10^{-9}}{2}=6.0×10^{-10} C"),
    sharing(r"Q_{A}=Q_{B}=\frac{-3.6 nC+4.8 nC}{2}=0.60 nC"),
    net_force(r"F_{AB}=\frac{9×10^{9}×2×10^{-9}×3×10^{-9}}{0.03^{2}}=6.0×10^{-5} N",
              r"F_{CB}=\frac{9×10^{9}×5×10^{-9}×3×10^{-9}}{0.05^{2}}=5.4×10^{-5} N",
              "F_{net}=6.0×10^{-5}+(-5.4×10^{-5})=6.0×10^{-6} N to the right"),
    net_force(r"F_{net}=\frac{9×10^{9}×2×10^{-9}×3×10^{-9}}{0.03^{2}}"
              r"-\frac{9×10^{9}×5×10^{-9}×3×10^{-9}}{0.05^{2}}", "=6.0×10^{-6} N right"),
    distance(r"6.0×10^{-6}=\frac{9×10^{9}×2×10^{-9}×3×10^{-9}}{r^{2}}", "r=0.0949 m"),
    distance(r"r^{2}=\frac{9×10^{9}×2×10^{-9}×3×10^{-9}}{6×10^{-6}}", "r^{2}=0.0090", "r=9.49 cm"),
    coulomb("F=9×10^{9}×3.6×10^{-9}", "×4.8×10^{-9}/0.12^{2}", "=1.08×10^{-5} N"),
    coulomb("F=9×10^{9}×3.6×10^{-9}×", "4.8×10^{-9}÷0.12^{2}", "=1.08×10^{-5} N"),
    electrons("Q=ne", "3.2×10^{-9}=n×1.6×10^{-19}", "n=2.0×10^{10} electrons"),
]  # fmt: skip


@pytest.mark.parametrize("example", RIGHT_WORKING, ids=range(len(RIGHT_WORKING)))
def test_right_working_is_followed_to_its_end(
    example: tuple[Question, tuple[Expected, ...]],
) -> None:
    found = follows(example)
    assert False not in found
    assert found[-1] is True


UNUSUAL = [
    coulomb(r"F=\frac{9×36×48×10^{-11}}{144×10^{-4}}", "F=1.08×10^{-5} N"),
    force_after_contact(r"\frac{F_{2}}{F_{1}}=\frac{0.6×0.6}{3.6×4.8}=0.02083",
                        "F_{2}=0.02083×1.08×10^{-5}=2.25×10^{-7} N"),
    coulomb("Let right be positive", "F=1.08×10^{-5} N"),
    coulomb("F∝Q_{1}Q_{2}", "%%(", "F=1.08×10^{-5} N"),
]  # fmt: skip


@pytest.mark.parametrize("example", UNUSUAL, ids=range(len(UNUSUAL)))
def test_writing_that_is_not_understood_is_left_unjudged(
    example: tuple[Question, tuple[Expected, ...]],
) -> None:
    assert False not in follows(example)


BROKEN = [
    # (working, index of the first broken line, part of its note)
    (coulomb(r"F=\frac{kQ_{1}Q_{2}}{r^{2}}",
             r"F=\frac{9×10^{9}×3.6×10^{-9}×4.8×10^{-9}}{12^{2}}", "F=1.08×10^{-9} N"),
     1, "12 is in cm"),
    (coulomb(r"F=\frac{kQ_{1}Q_{2}}{r}",
             r"F=\frac{9×10^{9}×3.6×10^{-9}×4.8×10^{-9}}{0.12}", "F=1.30×10^{-6} N"),
     0, "the distance is not squared"),
    (coulomb(r"F=\frac{9×10^{9}×3.6×10^{-9}×4.8×10^{-9}}{0.12^{2}}", "F=1.30×10^{-6} N"),
     1, "the distance is not squared"),
    (coulomb(r"F=\frac{9×10^{9}×3.6×10^{-9}×8.4×10^{-9}}{0.12^{2}}", "=1.89×10^{-5} N"),
     0, "4.8 is copied as 8.4"),
    (coulomb(r"F=\frac{9×10^{9}×3.6×4.8}{12^{2}}", "=1.08×10^{9} N"), 0, "3.6 is in nC"),
    (coulomb("r=12 cm=1.2 m", r"F=\frac{9×10^{9}×3.6×10^{-9}×4.8×10^{-9}}{1.2^{2}}",
             "=1.08×10^{-7} N"), 0, "12 cm is converted wrongly"),
    (coulomb(r"F=\frac{9×10^{9}×3.6×10^{-9}×4.8×10^{-9}}{0.12^{2}}", "=1.08×10^{-3} N"),
     1, "10^2 times too large"),
    (sharing(r"Q=\frac{3.6×10^{-9}+4.8×10^{-9}}{2}", "=4.2×10^{-9} C"),
     0, "the minus sign of -3.6 nC is gone"),
    (sharing("Q_{1}=3.6×10^{-9} C", "Q_{2}=4.8×10^{-9} C",
             r"Q=\frac{3.6×10^{-9}+4.8×10^{-9}}{2}=4.2×10^{-9} C"),
     0, "the minus sign of -3.6 nC is gone"),
    (sharing(r"Q=\frac{-3.6+4.8}{2}", "=0.60 C"), 0, "3.6 is in nC"),
    (net_force("F_{AB}=6.0×10^{-5} N", "F_{CB}=5.4×10^{-5} N",
               "F_{net}=6.0×10^{-5}+5.4×10^{-5}", "=1.14×10^{-4} N right"),
     2, "opposite directions"),
    (net_force(r"F_{AB}=\frac{9×10^{9}×2×10^{-9}×3×10^{-9}}{0.03^{2}}=6.0×10^{-5} N",
               r"F_{CB}=\frac{9×10^{9}×5×10^{-9}×3×10^{-9}}{0.08^{2}}=2.11×10^{-5} N",
               "F_{net}=6.0×10^{-5}-2.11×10^{-5}=3.89×10^{-5} N right"),
     1, "not the distance"),
    (distance(r"r^{2}=\frac{9×10^{9}×2×10^{-9}×3×10^{-9}}{6×10^{-6}}", "=0.0090", "r=0.0090 m"),
     2, "square root"),
]  # fmt: skip


@pytest.mark.parametrize(("example", "index", "note"), BROKEN, ids=range(len(BROKEN)))
def test_the_first_broken_line_is_found_and_says_why(
    example: tuple[Question, tuple[Expected, ...]], index: int, note: str
) -> None:
    found = judged(example).lines
    assert [line.follows for line in found].index(False) == index
    assert note in (found[index].note or "")


@pytest.mark.parametrize(("example", "index"), [(e, i) for e, i, _ in BROKEN])
def test_lines_after_the_broken_one_are_judged_from_the_learners_own_value(
    example: tuple[Question, tuple[Expected, ...]], index: int
) -> None:
    assert False not in [line.follows for line in judged(example).lines][index + 1 :]


def test_later_steps_go_on_from_an_own_wrong_step() -> None:
    working = judged(
        net_force(
            r"F_{AB}=\frac{9×10^{9}×2×10^{-9}×3×10^{-9}}{0.03}=1.8×10^{-6} N",
            r"F_{CB}=\frac{9×10^{9}×5×10^{-9}×3×10^{-9}}{0.05^{2}}=5.4×10^{-5} N",
            "F_{net}=5.4×10^{-5}-1.8×10^{-6}=5.2×10^{-5} N",
        )
    )
    assert [line.follows for line in working.lines] == [False, True, True]
    assert [p.change.slip for p in working.pinned] == ["distance-not-squared"]


def test_an_earlier_parts_own_result_is_a_right_value_here() -> None:
    question, expected = force_after_contact(
        r"F=\frac{9×10^{9}×(4.2×10^{-9})^{2}}{0.12^{2}}", "=1.10×10^{-5} N"
    )
    own = {("1", 0): 4.2e-9}
    working = judge_working(question, expected, Rules(), own, ".")
    assert [line.follows for line in working.lines] == [True, True]


def test_struck_lines_are_not_judged() -> None:
    question, expected = coulomb("F=5 N", "F=1.08×10^{-5} N")
    from dataclasses import replace

    first = replace(question.lines[0], struck=True)
    question = replace(question, lines=(first, question.lines[1]))
    working = judge_working(question, expected, Rules(), decimal_mark=".")
    assert working.lines[0].follows is None
    assert working.lines[1].follows is True
