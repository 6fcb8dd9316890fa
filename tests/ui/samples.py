"""One checked sheet of the bead scenario, made by hand: every verdict, no photo needed."""

from __future__ import annotations

import numpy as np
import sympy
from PIL import Image, ImageDraw

from parser.worksheet import Asked, Given, Quantity, Question, Worksheet, WrittenLine
from scanner.page import Box, Candidate, Line, Page, Reading
from solver.findings import (
    Answer,
    Derivation,
    Expected,
    Findings,
    Input,
    LineFinding,
    Marks,
    Point,
    QuestionFindings,
    SlipFinding,
    Step,
    Verdict,
)
from ui.checked import CheckedSheet

SIZE = (1240, 1754)

LAW_OF_COULOMB = r"F=\frac{kQ_{1}Q_{2}}{r^{2}}"
UNCONVERTED = r"F=\frac{9×10^{9}×3.6×10^{-9}×4.8×10^{-9}}{12^{2}}"


def coulomb_derivation() -> Derivation:
    """k = 9.0e9, 3.6 nC and 4.8 nC, 12 cm: 1.08e-5 N (worked by hand)."""
    force, k, first, second, distance = sympy.symbols("F k Q_1 Q_2 r", positive=True)
    return Derivation(
        (
            Step(
                law="Coulomb's law",
                equation=sympy.Eq(force, k * first * second / distance**2),
                solved=k * first * second / distance**2,
                unknown="F",
                inputs=(
                    Input("k", 9.0e9, "N*m**2/C**2", "k", constant="k"),
                    Input("Q_1", 3.6e-9, "C", "A", BEAD_A.quantity, given=0),
                    Input("Q_2", 4.8e-9, "C", "B", BEAD_B.quantity, given=1),
                    Input("r", 0.12, "m", "A to B", APART.quantity, given=2),
                ),
                value=1.08e-5,
                unit="N",
                label="the force on A",
                direction="towards B",
                sentence="Coulomb's law gives the size of the force.",
            ),
        )
    )


def _given(
    text: str, value: float, unit: str, written: float, written_unit: str, kind: str, **where
) -> Given:
    quantity = Quantity(text, value, unit, written, written_unit, significant_figures=2)
    return Given(quantity, kind, **where)


BEAD_A = _given("-3.6 nC", -3.6e-9, "C", -3.6, "nC", "charge", of="A", box=Box(300, 150, 110, 34))
BEAD_B = _given("+4.8 nC", 4.8e-9, "C", 4.8, "nC", "charge", of="B", box=Box(560, 150, 110, 34))
APART = _given("12 cm", 0.12, "m", 12.0, "cm", "distance", box=Box(780, 150, 90, 34))


def _written(text: str, y: int, role: str = "working", *others: Candidate) -> WrittenLine:
    first = Candidate(text, round(0.97 - sum(c.probability for c in others), 2))
    return WrittenLine(Reading((first, *others)), Box(140, y, 520, 60), role)  # type: ignore[arg-type]


def _differs() -> QuestionFindings:
    lines = (
        _written(LAW_OF_COULOMB, 260),
        _written(UNCONVERTED, 330),
        _written("F=1.08×10^{-9} N", 400, "answer", Candidate("F=1.03×10^{-9} N", 0.02)),
    )
    written = Quantity("1.08×10^{-9} N", 1.08e-9, "N", 1.08e-9, "N", significant_figures=3)
    return QuestionFindings(
        question=Question(
            number="2.2",
            text="Calculate the magnitude of the force that bead B exerts on bead A.",
            marks=4,
            box=Box(110, 180, 1000, 60),
            bodies=("A", "B"),
            givens=(BEAD_A, BEAD_B, APART),
            asked=(Asked("force", "A", ("B",), "magnitude"),),
            lines=lines,
        ),
        expected=(Expected("A", 1.08e-5, "N", None, (1.08e-5,), coulomb_derivation()),),
        answers=(Answer(0, 2, lines[2].reading.text, written, Verdict.DIFFERS, unit="N"),),
        working=(
            LineFinding(lines[0], True, None, "formula"),
            LineFinding(lines[1], False, "12 is in cm", "substitution"),
            LineFinding(lines[2], True, None, "value"),
        ),
        verdict=Verdict.DIFFERS,
        slips=(
            SlipFinding(
                "length-unit-left-unconverted",
                "The distance was used in cm; it must be in metres.",
                "Look at the unit of the distance.",
                line=2,
            ),
        ),
        marks=Marks(
            2,
            4,
            (
                Point("formula", True),
                Point("substitution", False, reason="12 is in cm"),
                Point("answer", False),
                Point("unit", True),
            ),
        ),
    )


def _plain(
    number: str,
    verdict: Verdict,
    y: int,
    answer: str | None = None,
    *,
    note: str | None = None,
    value: float = 6.0e-10,
) -> QuestionFindings:
    lines = (_written(answer, y + 60, "answer"),) if answer else ()
    written = Quantity("6.0×10^{-10} C", value, "C", value, "C", significant_figures=2)
    understood = verdict is not Verdict.UNSOLVED
    judged = verdict in (Verdict.AGREES, Verdict.INCOMPLETE)
    return QuestionFindings(
        question=Question(
            number=number,
            text="Calculate the charge on each bead after they touch.",
            marks=2,
            box=Box(110, y, 1000, 50),
            bodies=("A", "B"),
            givens=(BEAD_A, BEAD_B),
            asked=(Asked("charge", "A", wants="value"),) if understood else (),
            lines=lines,
            problems=() if understood else ("What this question asks was not understood.",),
        ),
        expected=(Expected("A", 6.0e-10, "C", accepted=(6.0e-10,)),) if understood else (),
        answers=(Answer(0, 0, answer, written if judged else None, verdict, note),)
        if answer
        else (),
        working=tuple(LineFinding(line, True if judged else None, note) for line in lines),
        verdict=verdict,
        needs_person=verdict in (Verdict.UNREAD, Verdict.UNSOLVED),
    )


def sample_findings() -> Findings:
    """Six questions, one for every verdict."""
    return Findings(
        (
            _plain("2.1", Verdict.AGREES, 480, "Q=6.0×10^{-10} C"),
            _differs(),
            _plain("2.3", Verdict.INCOMPLETE, 680, "Q=6.0×10^{-10}", note="the unit is missing"),
            _plain("2.4", Verdict.UNREAD, 880, "Q=6.?×10^{-1}"),
            _plain("2.5", Verdict.UNSOLVED, 1080, "away from each other"),
            _plain("2.6", Verdict.BLANK, 1280),
        )
    )


def sample_page() -> Page:
    """A white page with the questions' words where their boxes are."""
    image = Image.new("RGB", SIZE, "white")
    draw = ImageDraw.Draw(image)
    lines = []
    for found in sample_findings().questions:
        if found.question.box:
            text = f"{found.question.number} {found.question.text}"
            draw.text(found.question.box[:2], text, 0, font_size=26)
            lines.append(Line("print", found.question.box, Reading.certain(text)))
        for line in found.question.lines:
            if line.box:
                draw.text(line.box[:2], line.reading.text, "#1a2f8a", font_size=30)
                lines.append(Line("pen", line.box, line.reading))
    return Page(
        photo="beads.jpg",
        number=1,
        size=SIZE,
        to_photo=((2.0, 0.0, 5.0), (0.0, 2.0, 7.0), (0.0, 0.0, 1.0)),
        lines=tuple(lines),
        seconds=0.9,
        image=np.asarray(image),
    )


def sample_sheet() -> CheckedSheet:
    """The page, its worksheet and its findings."""
    findings = sample_findings()
    worksheet = Worksheet(tuple(found.question for found in findings.questions))
    return CheckedSheet(worksheet, findings, sample_page())
