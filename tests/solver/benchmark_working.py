"""How well working is judged when every line is read perfectly.

``python -m tests.solver.benchmark_working --seed N --count 2000`` writes scripts by a generator
of its own (plain Python arithmetic, several hands of writing), plants one or two slips in half of
them, and prints: first broken line found, cause named, right scripts accused, marks carried
forward, time a question. It knows nothing of the catalogue's functions.
"""

from __future__ import annotations

import argparse
import math
import random
import re
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field, replace

from parser.assemble import worksheet_from_text
from parser.worksheet import Worksheet, WrittenLine
from scanner.page import Reading
from solver.findings import QuestionFindings, Verdict
from solver.marking import check_worksheet

BARS = {"first broken line": 0.96, "cause named": 0.92, "accused": 0.005, "carried marks": 0.97}
PREFIX = {"n": 1e-9, "µ": 1e-6, "m": 1e-3, "c": 1e-2, "": 1.0, "k": 1e3}


# --- writing --------------------


@dataclass(frozen=True)
class Measure:
    """A given: mantissa text with a point, prefix, base unit."""

    mantissa: str
    prefix: str
    unit: str

    @property
    def value(self) -> float:
        return float(self.mantissa) * PREFIX[self.prefix]

    @property
    def written(self) -> float:
        return float(self.mantissa)

    @property
    def text(self) -> str:
        return f"{self.mantissa} {self.prefix}{self.unit}"


@dataclass(frozen=True)
class Hand:
    """One learner's habits."""

    comma: bool
    times: str
    brackets: bool
    slash: bool
    formula: bool
    layout: str  # "down", "repeat", "along"
    units_inside: bool
    therefore: bool
    k: float
    figures: int
    list_givens: bool
    charge: str

    def mark(self, text: str) -> str:
        return text.replace(".", ",") if self.comma else text

    def number(self, value: float, figures: int | None = None) -> str:
        """A result as a learner writes it."""
        figures = figures or self.figures
        if value == 0:
            return "0"
        power = math.floor(math.log10(abs(value)))
        if -2 <= power <= 3:
            decimals = max(0, figures - 1 - power)
            return self.mark(f"{value:.{decimals}f}")
        mantissa = f"{value / 10.0**power:.{figures - 1}f}"
        if mantissa.lstrip("-").startswith("10"):
            power += 1
            mantissa = f"{value / 10.0**power:.{figures - 1}f}"
        return self.mark(f"{mantissa}{self.times}10^{{{power}}}")

    def si(self, measure: Measure) -> str:
        """A given turned into SI in the usual way: the prefix becomes a power of ten."""
        if not measure.prefix:
            return self.mark(measure.mantissa)
        if measure.unit == "m":
            return self.mark(f"{measure.value:.6g}")
        power = round(math.log10(PREFIX[measure.prefix]))
        return self.mark(f"{measure.mantissa}{self.times}10^{{{power}}}")

    def product(self, *factors: str) -> str:
        if self.brackets:
            return "".join(f"({f})" for f in factors)
        joined = [f"({f})" if f.startswith("-") and i else f for i, f in enumerate(factors)]
        return self.times.join(joined)

    def over(self, top: str, bottom: str) -> str:
        if self.slash:
            bottom = bottom if bottom.replace(",", "").replace(".", "").isalnum() else f"({bottom})"
            return f"({top})/{bottom}" if "+" in top or "-" in top[1:] else f"{top}/{bottom}"
        return rf"\frac{{{top}}}{{{bottom}}}"

    def constant(self) -> str:
        return self.mark(f"{self.k / 1e9:g}{self.times}10^{{9}}")

    def squared(self, number: str) -> str:
        return f"({number})^{{2}}" if self.brackets or self.times in number else f"{number}^{{2}}"


def a_hand(rng: random.Random) -> Hand:
    return Hand(
        comma=rng.random() < 0.4,
        times=rng.choice(["×", "×", "×", "·", "x"]),
        brackets=rng.random() < 0.3,
        slash=rng.random() < 0.2,
        formula=rng.random() < 0.75,
        layout=rng.choice(["down", "down", "repeat", "along"]),
        units_inside=rng.random() < 0.1,
        therefore=rng.random() < 0.15,
        k=rng.choice([9.0e9, 9.0e9, 8.99e9]),
        figures=rng.choice([3, 3, 3, 2, 4]),
        list_givens=rng.random() < 0.2,
        charge=rng.choice(["Q", "q"]),
    )


@dataclass
class Part:
    """What a learner wrote for one question, and the truth about it."""

    lines: list[str] = field(default_factory=list)
    broken: int | None = None
    slips: list[str] = field(default_factory=list)
    carried: bool = False
    own: float | None = None
    incomplete: bool = False
    unclear: bool = False  # whether an earlier slip shows is a matter of rounding

    def add(self, *stages: tuple[str, str], hand: Hand, name: str) -> None:
        """Stages ("formula" | "substitution" | "value", text) laid out in the hand's way;
        a text that starts with "!" is where the working breaks."""
        pieces = [(text.removeprefix("!"), text.startswith("!")) for _, text in stages]
        if hand.layout == "along":
            start = len(self.lines)
            self.lines.append(f"{name}=" + "=".join(p for p, _ in pieces))
            if any(b for _, b in pieces) and self.broken is None:
                self.broken = start
            return
        for index, (piece, breaks) in enumerate(pieces):
            head = f"{name}=" if index == 0 or hand.layout == "repeat" else "="
            if index == len(pieces) - 1 and hand.therefore and index:
                head = f"∴{name}="
            if breaks and self.broken is None:
                self.broken = len(self.lines)
            self.lines.append(head + piece)


@dataclass
class Script:
    text: str
    parts: list[Part]


def swapped(mantissa: str, rng: random.Random) -> str | None:
    """Two unlike neighbouring digits exchanged."""
    digits = [i for i, c in enumerate(mantissa) if c.isdigit()]
    pairs = [(a, b) for a, b in zip(digits, digits[1:], strict=False) if mantissa[a] != mantissa[b]]
    pairs = [(a, b) for a, b in pairs if not (a == 0 and mantissa[b] == "0")]
    if not pairs:
        return None
    a, b = rng.choice(pairs)
    out = list(mantissa)
    out[a], out[b] = out[b], out[a]
    return "".join(out)


def wrong_value(value: float, rng: random.Random) -> float:
    return value * rng.choice([0.37, 0.61, 0.83, 1.17, 1.43, 1.87, 2.63])


# --- laws --------------------


def charge(rng: random.Random, sign: int | None = None, prefix: str | None = None) -> Measure:
    size = rng.randint(12, 95) / 10
    if rng.random() < 0.3:
        size = rng.randint(11, 98) / 10 + rng.randint(1, 9) / 100
    sign = rng.choice([-1, 1]) if sign is None else sign
    mantissa = f"{sign * size:.2f}".rstrip("0").rstrip(".")
    if "." not in mantissa:
        mantissa += ".0"
    return Measure(mantissa, prefix or rng.choice(["n", "n", "µ"]), "C")


def length(rng: random.Random) -> Measure:
    prefix = rng.choice(["c", "c", "m", ""])
    if prefix == "c":
        return Measure(str(rng.randint(3, 48)), "c", "m")
    if prefix == "m":
        return Measure(str(rng.randint(25, 95)), "m", "m")
    return Measure(f"{rng.randint(12, 95) / 100:.2f}", "", "m")


def signed(measure: Measure) -> str:
    return measure.text if measure.written < 0 else f"+{measure.text}"


def size_text(hand: Hand, measure: Measure) -> str:
    return hand.si(replace(measure, mantissa=measure.mantissa.lstrip("-")))


@dataclass
class Numbers:
    """The numbers a learner puts into Coulomb's law (text and worth)."""

    first: tuple[str, float]
    second: tuple[str, float]
    distance: tuple[str, float]
    power: int = 2
    second_used: bool = True


def coulomb_part(
    part: Part,
    hand: Hand,
    rng: random.Random,
    slip: str | None,
    q1: Measure | tuple[str, float],
    q2: Measure | tuple[str, float],
    d: Measure,
    name: str = "F",
    unit: str = "N",
    tail: str = "",
) -> float:
    """Coulomb's law written out with at most one slip; the value reached."""

    def worth(q: Measure | tuple[str, float]) -> tuple[str, float]:
        if isinstance(q, tuple):
            return q
        if hand.units_inside:
            return hand.mark(q.text.lstrip("-")), abs(q.value)
        return size_text(hand, q), abs(q.value)

    distance_text = hand.mark(d.text) if hand.units_inside and d.prefix else hand.si(d)
    n = Numbers(worth(q1), worth(q2), (distance_text, d.value))
    c = hand.charge
    formula_power, broken_at = 2, None
    if slip == "distance-not-squared":
        broken_at = rng.choice(["formula", "substitution", "value"])
        if broken_at == "formula" and not hand.formula:
            broken_at = "substitution"
        formula_power = 1 if broken_at == "formula" else 2
        n.power = 1
    elif slip == "length-unit-left-unconverted":
        n.distance, broken_at = (hand.mark(d.mantissa), d.written), "substitution"
    elif slip == "prefix-left-unconverted":
        broken_at = "substitution"
        if isinstance(q1, Measure):
            n.first = (hand.mark(q1.mantissa.lstrip("-")), abs(q1.written))
        if isinstance(q2, Measure) and rng.random() < 0.7:
            n.second = (hand.mark(q2.mantissa.lstrip("-")), abs(q2.written))
    elif slip == "given-miscopied" and isinstance(q1, Measure):
        other = swapped(q1.mantissa.lstrip("-"), rng)
        if other is not None:
            wrong = replace(q1, mantissa=other)
            n.first, broken_at = (size_text(hand, wrong), wrong.value), "substitution"
    elif slip == "length-unit-misconverted" and d.prefix:
        wrong_d = d.value * rng.choice([10.0, 0.1])
        n.distance, broken_at = (hand.mark(f"{wrong_d:.6g}"), wrong_d), "substitution"
    elif slip == "exponent-sign-lost" and isinstance(q1, Measure):
        n.first = (size_text(hand, q1).replace("{-", "{"), abs(q1.written) / PREFIX[q1.prefix])
        broken_at = "substitution"
    elif slip == "field-for-force":
        n.second_used, broken_at = False, "formula" if hand.formula else "substitution"
    sub_power = 2 if broken_at == "value" else n.power
    top = [hand.constant(), n.first[0]] + ([n.second[0]] if n.second_used else [])
    bottom = n.distance[0] if sub_power == 1 else hand.squared(n.distance[0])
    if sub_power == 2 and " " in n.distance[0]:
        bottom = f"({n.distance[0]})^{{2}}"
    substitution = hand.over(hand.product(*top), bottom)
    value = hand.k * n.first[1] * (n.second[1] if n.second_used else 1.0) / n.distance[1] ** n.power
    if slip == "power-of-ten-off":
        value *= 10.0 ** rng.choice([-3, -2, -1, 1, 2, 3])
        broken_at = "value"
    elif slip == "arithmetic-slip":
        value, broken_at = wrong_value(value, rng), "value"
    letters = f"k{c}_{{1}}{c}_{{2}}" if n.second_used else f"k{c}"
    formula = hand.over(letters, "r^{2}" if formula_power == 2 else "r")
    if hand.slash:
        formula = f"{letters}/r^{{2}}" if formula_power == 2 else f"{letters}/r"
    stages = []
    if hand.formula:
        stages.append(("formula", formula))
    stages.append(("substitution", substitution))
    text = hand.number(value)
    stages.append(("value", f"{text} {unit}{tail}"))
    if broken_at:
        stages = [(s, "!" + t if s == broken_at else t) for s, t in stages]
        part.slips.append(slip or "")
    part.add(*stages, hand=hand, name=name)
    return float(text_value(text))


def text_value(text: str) -> float:
    """The number that a text written by ``Hand.number`` stands for."""
    plain = text.replace(",", ".")
    for times in ("×", "·", "x"):
        plain = plain.replace(f"{times}10^{{", "e")
    return float(plain.replace("}", ""))


def list_givens(part: Part, hand: Hand, *named: tuple[str, Measure]) -> None:
    if hand.list_givens:
        for name, measure in named:
            part.lines.append(f"{name}={hand.mark(measure.text)}")


# --- scenarios --------------------


def question_text(text: str, hand: Hand) -> str:
    return re.sub(r"(?<=\d)\.(?=\d+ [nµm]?[CNm]\b)", ",", text) if hand.comma else text


FORCE_SLIPS = [
    "distance-not-squared", "length-unit-left-unconverted", "prefix-left-unconverted",
    "given-miscopied", "power-of-ten-off", "arithmetic-slip", "length-unit-misconverted",
    "exponent-sign-lost", "field-for-force", "unit-missing", "unit-wrong",
]  # fmt: skip


def usable(slip: str | None, d: Measure) -> str | None:
    """A length slip needs a length with a prefix."""
    if slip in ("length-unit-left-unconverted", "length-unit-misconverted") and not d.prefix:
        return "distance-not-squared"
    return slip


def spoil_unit(part: Part, slip: str | None, unit: str, rng: random.Random) -> None:
    """Unit slips: the last line loses its unit or gets another one."""
    if slip == "unit-missing":
        part.lines[-1] = part.lines[-1].removesuffix(f" {unit}")
        part.slips.append(slip)
        part.incomplete = True
    elif slip == "unit-wrong":
        wrong = rng.choice([u for u in ("C", "N", "J", "V") if u != unit])
        part.lines[-1] = part.lines[-1].removesuffix(f" {unit}") + f" {wrong}"
        part.slips.append(slip)
        part.broken = len(part.lines) - 1


def force_script(rng: random.Random, hand: Hand, slip: bool, two: bool) -> Script:
    q1, q2, d = charge(rng), charge(rng), length(rng)
    name = usable(rng.choice(FORCE_SLIPS) if slip else None, d)
    text = (
        f"1. Bead A carries a charge of {signed(q1)} and bead B carries a charge of {signed(q2)}. "
        f"Their centres are {d.text} apart. Calculate the magnitude of the electrostatic force "
        "that B exerts on A. (4)"
    )
    part = Part()
    c = hand.charge
    list_givens(part, hand, (f"{c}_{{1}}", q1), (f"{c}_{{2}}", q2), ("r", d))
    coulomb_part(part, hand, rng, name, q1, q2, d)
    spoil_unit(part, name, "N", rng)
    if two and part.slips and name not in ("unit-missing", "unit-wrong", "power-of-ten-off"):
        part.lines[-1] = part.lines[-1].removesuffix(" N")
        part.slips.append("unit-missing")
    return Script(question_text(text, hand), [part])


def sharing_part(
    part: Part, hand: Hand, rng: random.Random, slip: str | None, q1: Measure, q2: Measure
) -> float:
    """Sharing on contact; the learner's value in coulomb."""
    c = hand.charge
    in_prefix = q1.prefix == q2.prefix and rng.random() < 0.4 and slip != "prefix-left-unconverted"
    first, second, divisor, broken_at = q1, q2, 2, None
    formula = hand.over(f"{c}_{{1}}+{c}_{{2}}", "2")
    if hand.slash:
        formula = f"({c}_{{1}}+{c}_{{2}})/2"
    unit = f"{q1.prefix}C" if in_prefix else "C"
    scale = PREFIX[q1.prefix] if in_prefix else 1.0
    if slip == "sign-dropped":
        if q1.written < 0:
            first = replace(q1, mantissa=q1.mantissa.lstrip("-"))
        elif q2.written < 0:
            second = replace(q2, mantissa=q2.mantissa.lstrip("-"))
        if (first, second) != (q1, q2):
            broken_at = "substitution"
    elif slip == "halving-forgotten":
        divisor = 1
        broken_at = "formula" if hand.formula else "substitution"
        formula = f"{c}_{{1}}+{c}_{{2}}"
    elif slip == "given-miscopied":
        other = swapped(q2.mantissa.lstrip("-"), rng)
        if other is not None:
            sign = "-" if q2.written < 0 else ""
            second, broken_at = replace(q2, mantissa=sign + other), "substitution"
    elif slip == "prefix-left-unconverted":
        broken_at = "substitution"

    def term(q: Measure) -> str:
        bare = in_prefix or slip == "prefix-left-unconverted"
        return hand.mark(q.mantissa) if bare else hand.si(q)

    total = (
        f"{term(first)}+({term(second)})" if second.written < 0 else f"{term(first)}+{term(second)}"
    )
    substitution = total if divisor == 1 else hand.over(total, "2")
    if hand.slash and divisor == 2:
        substitution = f"({total})/2"
    worth = (first.value + second.value) / divisor
    if slip == "prefix-left-unconverted":
        worth = (first.written + second.written) / divisor
    if slip == "arithmetic-slip":
        worth, broken_at = wrong_value(worth, rng), "value"
    elif slip == "power-of-ten-off":
        worth, broken_at = worth * 10.0 ** rng.choice([-3, 3, -1, 1]), "value"
    stages = [("formula", formula)] if hand.formula else []
    text = hand.number(worth / scale, max(2, hand.figures))
    stages += [("substitution", substitution), ("value", f"{text} {unit}")]
    if broken_at:
        stages = [(s, "!" + t if s == broken_at else t) for s, t in stages]
        part.slips.append(slip or "")
    part.add(*stages, hand=hand, name=rng.choice([c, f"{c}_{{new}}", f"{c}'"]))
    return text_value(text) * scale


SHARING_SLIPS = [
    "sign-dropped", "halving-forgotten", "given-miscopied", "prefix-left-unconverted",
    "arithmetic-slip", "power-of-ten-off",
]  # fmt: skip


def chain_script(rng: random.Random, hand: Hand, slip: bool, two: bool) -> Script:
    """Force, contact, force again: later parts build on the charge after contact."""
    while True:
        prefix = rng.choice(["n", "µ"])
        q1, q2 = charge(rng, None, prefix), charge(rng, None, prefix)
        shared = (q1.written + q2.written) / 2
        if abs(shared) > 0.3 and (q1.written < 0 or q2.written < 0):
            break
    d = length(rng)
    text = (
        f"1. Bead A carries a charge of {signed(q1)} and an identical bead B carries a charge of "
        f"{signed(q2)}. The beads are brought into contact and then placed {d.text} apart.\n"
        "1.1 Calculate the charge on each bead after contact. (3)\n"
        "1.2 Calculate the magnitude of the electrostatic force between the beads after "
        "contact. (4)\n"
    )
    first_slip = rng.choice(SHARING_SLIPS) if slip else None
    second_slip = None
    if two:
        second_slip = usable(rng.choice(FORCE_SLIPS[:6]), d)
        second_slip = None if second_slip == "prefix-left-unconverted" else second_slip
    first, second = Part(), Part()
    own = sharing_part(first, hand, rng, first_slip, q1, q2)
    shown = (hand.number(abs(own), 3), text_value(hand.number(abs(own), 3)))
    coulomb_part(second, hand, rng, second_slip, shown, shown, d)
    right = shared * PREFIX[prefix]
    shows = abs(own - right) > 0.1 * abs(right)
    second.carried = bool(first.slips) and not second.slips and shows
    second.unclear = bool(first.slips) and not second.slips and not shows
    return Script(question_text(text, hand), [first, second])


def electrons_script(rng: random.Random, hand: Hand, slip: bool, two: bool) -> Script:
    q = charge(rng, rng.choice([-1, 1]), rng.choice(["n", "µ"]))
    gained = "gained" if q.written < 0 else "lost"
    text = (
        f"1. A neutral bead is rubbed and then carries a charge of {signed(q)}. "
        f"How many electrons has the bead {gained}? (3)"
    )
    part = Part()
    name = rng.choice(
        ["rearranged-wrongly", "prefix-left-unconverted", "power-of-ten-off", "arithmetic-slip",
         "given-miscopied"]
    ) if slip else None  # fmt: skip
    e = rng.choice([1.6e-19, 1.6e-19, 1.602e-19])
    e_text = hand.mark(f"{e / 1e-19:g}{hand.times}10^{{-19}}")
    top, worth = size_text(hand, q), abs(q.value)
    formula, substitution, broken_at = hand.over(hand.charge, "e"), "", None
    value = worth / e
    if name == "rearranged-wrongly":
        formula, broken_at = f"{hand.charge}e", "formula" if hand.formula else "substitution"
        substitution, value = hand.product(top, e_text), worth * e
    elif name == "prefix-left-unconverted":
        top, value, broken_at = (
            hand.mark(q.mantissa.lstrip("-")),
            abs(q.written) / e,
            "substitution",
        )
    elif name == "given-miscopied":
        other = swapped(q.mantissa.lstrip("-"), rng)
        if other is not None:
            wrong = replace(q, mantissa=other)
            top, value, broken_at = hand.si(wrong), wrong.value / e, "substitution"
    elif name == "power-of-ten-off":
        value, broken_at = value * 10.0 ** rng.choice([-2, -1, 1, 2, 3]), "value"
    elif name == "arithmetic-slip":
        value, broken_at = wrong_value(value, rng), "value"
    substitution = substitution or hand.over(top, e_text)
    stages = [("formula", formula)] if hand.formula else []
    noun = rng.choice([" electrons", "", ""])
    stages += [("substitution", substitution), ("value", hand.number(value) + noun)]
    if broken_at:
        stages = [(s, "!" + t if s == broken_at else t) for s, t in stages]
        part.slips.append(name or "")
    part.add(*stages, hand=hand, name="n")
    return Script(question_text(text, hand), [part])


def net_script(rng: random.Random, hand: Hand, slip: bool, two: bool) -> Script:
    """A, B and C from left to right; the net force on B."""
    while True:
        a, b, c = charge(rng, None, "n"), charge(rng, None, "n"), charge(rng, None, "n")
        left, right = (
            Measure(str(rng.randint(3, 30)), "c", "m"),
            Measure(str(rng.randint(3, 30)), "c", "m"),
        )
        f1 = hand.k * abs(a.value * b.value) / left.value**2
        f2 = hand.k * abs(c.value * b.value) / right.value**2
        if left != right and 1.3 < max(f1, f2) / min(f1, f2) < 8:
            break
    way1 = 1 if a.written * b.written > 0 else -1
    way2 = -1 if c.written * b.written > 0 else 1
    text = (
        f"1. Bead A carries a charge of {signed(a)}. Bead B carries a charge of {signed(b)}. "
        f"Bead C carries a charge of {signed(c)}. A is {left.text} to the left of B and C is "
        f"{right.text} to the right of B. Calculate the net electrostatic force on B. (6)"
    )
    name = rng.choice(
        ["vectors", "vectors", "distance-not-squared", "wrong-distance", "direction-missing",
         "direction-reversed", "length-unit-left-unconverted", "given-miscopied", "arithmetic-slip"]
    ) if slip else None  # fmt: skip
    part = Part()
    straight = replace(hand, layout="along") if rng.random() < 0.5 else hand
    one_slip = name if name in ("length-unit-left-unconverted", "distance-not-squared") else None
    second_d, second_slip = right, None
    if name == "wrong-distance":
        second_d = Measure(str(int(left.mantissa) + int(right.mantissa)), "c", "m")
    elif name in ("given-miscopied", "arithmetic-slip"):
        second_slip = name
    v1 = coulomb_part(part, straight, rng, one_slip, a, b, left, "F_{AB}")
    before = len(part.lines)
    v2 = coulomb_part(part, straight, rng, second_slip, c, b, second_d, "F_{CB}")
    if name == "wrong-distance":
        part.slips.append(name)
        offset = 1 if straight.formula and straight.layout != "along" else 0
        part.broken = before + offset
    opposing = way1 != way2
    add = not opposing
    if name == "vectors":
        add = opposing
    total = v1 + v2 if add else abs(v1 - v2)
    wrong_way = name == "direction-reversed"
    heading = (way1 * v1 + way2 * v2) > 0
    direction = " to the right" if heading != wrong_way else " to the left"
    if name == "direction-missing":
        direction = ""
    big, small = (v1, v2) if v1 >= v2 else (v2, v1)
    t1, t2 = (hand.number(big), hand.number(small))
    substitution = f"{t1}+{t2}" if add else f"{t1}-{t2}"
    worth = text_value(t1) + text_value(t2) if add else text_value(t1) - text_value(t2)
    stages = [("substitution", substitution), ("value", f"{hand.number(worth)} N{direction}")]
    if name == "vectors":
        part.slips.append("opposing-forces-added" if opposing else "like-forces-subtracted")
        stages[0] = ("substitution", "!" + stages[0][1])
    elif name == "direction-missing":
        part.slips.append(name)
        part.incomplete = True
    elif name == "direction-reversed":
        part.slips.append(name)
        stages[1] = ("value", "!" + stages[1][1])
    part.add(*stages, hand=hand, name="F_{net}")
    del total
    return Script(question_text(text, hand), [part])


def field_script(rng: random.Random, hand: Hand, slip: bool, two: bool) -> Script:
    q, d = charge(rng), length(rng)
    text = (
        f"1. Bead A carries a charge of {signed(q)}. Calculate the magnitude of the electric field "
        f"at a point P, {d.text} from the centre of bead A. (3)"
    )
    name = rng.choice(
        ["distance-not-squared", "length-unit-left-unconverted", "prefix-left-unconverted",
         "power-of-ten-off", "arithmetic-slip"]
    ) if slip else None  # fmt: skip
    name = usable(name, d)
    part = Part()
    c = hand.charge
    top, worth, power, broken_at = size_text(hand, q), abs(q.value), 2, None
    distance, metres = hand.si(d), d.value
    if name == "distance-not-squared":
        power, broken_at = 1, "formula" if hand.formula else "substitution"
    elif name == "length-unit-left-unconverted":
        distance, metres, broken_at = hand.mark(d.mantissa), d.written, "substitution"
    elif name == "prefix-left-unconverted":
        top, worth, broken_at = hand.mark(q.mantissa.lstrip("-")), abs(q.written), "substitution"
    value = hand.k * worth / metres**power
    if name == "power-of-ten-off":
        value, broken_at = value * 10.0 ** rng.choice([-2, -1, 1, 2]), "value"
    elif name == "arithmetic-slip":
        value, broken_at = wrong_value(value, rng), "value"
    formula = f"k{c}/r^{{2}}" if hand.slash else rf"\frac{{k{c}}}{{r^{{2}}}}"
    if power == 1:
        formula = formula.replace("r^{2}", "r")
    bottom = hand.squared(distance) if power == 2 else distance
    stages = [("formula", formula)] if hand.formula else []
    unit = rng.choice(["N/C", "N·C^{-1}", "V/m"])
    stages += [
        ("substitution", hand.over(hand.product(hand.constant(), top), bottom)),
        ("value", f"{hand.number(value)} {unit}"),
    ]
    if broken_at:
        stages = [(s, "!" + t if s == broken_at else t) for s, t in stages]
        part.slips.append(name or "")
    part.add(*stages, hand=hand, name="E")
    return Script(question_text(text, hand), [part])


def distance_script(rng: random.Random, hand: Hand, slip: bool, two: bool) -> Script:
    """Coulomb's law turned round for the distance, symbols first or numbers first."""
    q1, q2 = charge(rng, 1, "n"), charge(rng, 1, "n")
    force = Measure(f"{rng.randint(12, 95) / 10}", "µ", "N")
    text = (
        f"1. Two beads carry charges of {signed(q1)} and {signed(q2)}. They repel each other "
        f"with a force of {force.text}. Calculate the distance between their centres. (4)"
    )
    name = rng.choice(
        ["root-not-taken", "prefix-left-unconverted", "power-of-ten-off", "arithmetic-slip"]
    ) if slip else None  # fmt: skip
    c, part = hand.charge, Part()
    t1, t2, tf = (size_text(hand, m) for m in (q1, q2, force))
    square = hand.k * q1.value * q2.value / force.value
    if name == "prefix-left-unconverted":
        tf = hand.mark(force.mantissa)
        square = hand.k * q1.value * q2.value / force.written
    inner = hand.over(hand.product(hand.constant(), t1, t2), tf)
    value = math.sqrt(square)
    broken_at = None
    if name == "root-not-taken":
        value, broken_at = square, "value"
    elif name == "prefix-left-unconverted":
        broken_at = "substitution"
    elif name == "power-of-ten-off":
        value, broken_at = value * 10.0 ** rng.choice([-2, -1, 1, 2]), "value"
    elif name == "arithmetic-slip":
        value, broken_at = wrong_value(value, rng), "value"
    symbols = rng.random() < 0.5
    letters = hand.over(f"k{c}_{{1}}{c}_{{2}}", "F") if not hand.slash else f"k{c}_{{1}}{c}_{{2}}/F"
    if symbols:
        stages = [("formula", rf"\sqrt{{{letters}}}")] if hand.formula else []
        stages += [
            ("substitution", rf"\sqrt{{{inner}}}"),
            ("value", f"{hand.number(value)} m"),
        ]
        if broken_at:
            stages = [(s, "!" + t if s == broken_at else t) for s, t in stages]
        part.add(*stages, hand=hand, name="r")
    else:
        down = replace(hand, layout=rng.choice(["down", "repeat"]))
        stages = [("formula", letters)] if hand.formula else []
        text_square = hand.number(square)
        stages += [("substitution", inner), ("square", text_square)]
        if broken_at == "substitution":
            stages = [(s, "!" + t if s == broken_at else t) for s, t in stages]
        part.add(*stages, hand=down, name="r^{2}")
        if name in (None, "prefix-left-unconverted"):
            value = math.sqrt(text_value(text_square))
        if broken_at == "value":
            part.broken = len(part.lines)
        part.lines.append(f"r={hand.number(value)} m")
    if broken_at:
        part.slips.append(name or "")
    return Script(question_text(text, hand), [part])


def plates_script(rng: random.Random, hand: Hand, slip: bool, two: bool) -> Script:
    """The field between plates, then the force on a droplet in it."""
    v = Measure(str(rng.randint(120, 950)), "", "V")
    d = Measure(str(rng.randint(3, 45)), rng.choice(["m", "c"]), "m")
    q = charge(rng, 1, rng.choice(["n", "µ"]))
    text = (
        f"1. Two parallel plates are {d.text} apart. The potential difference between them is "
        f"{v.text}.\n"
        "1.1 Calculate the magnitude of the electric field between the plates. (3)\n"
        f"1.2 One droplet with a charge of {signed(q)} hangs between the plates. Calculate "
        "the magnitude of the electric force on the droplet. (3)\n"
    )
    name = rng.choice(
        ["length-unit-left-unconverted", "rearranged-wrongly", "power-of-ten-off",
         "arithmetic-slip"]
    ) if slip else None  # fmt: skip
    first, second = Part(), Part()
    distance, metres, broken_at = hand.si(d), d.value, None
    formula = "V/d" if hand.slash else r"\frac{V}{d}"
    substitution, value = hand.over(v.mantissa, distance), v.value / metres
    if name == "length-unit-left-unconverted":
        distance, metres, broken_at = d.mantissa, d.written, "substitution"
        substitution, value = hand.over(v.mantissa, distance), v.value / metres
    elif name == "rearranged-wrongly":
        formula, broken_at = "Vd", "formula" if hand.formula else "substitution"
        substitution, value = hand.product(v.mantissa, distance), v.value * metres
    elif name == "power-of-ten-off":
        value, broken_at = value * 10.0 ** rng.choice([-2, -1, 1, 2]), "value"
    elif name == "arithmetic-slip":
        value, broken_at = wrong_value(value, rng), "value"
    stages = [("formula", formula)] if hand.formula else []
    shown = hand.number(value)
    stages += [("substitution", substitution), ("value", f"{shown} {rng.choice(['V/m', 'N/C'])}")]
    if broken_at:
        stages = [(s, "!" + t if s == broken_at else t) for s, t in stages]
        first.slips.append(name or "")
    first.add(*stages, hand=hand, name="E")
    charge_text, coulombs, later = size_text(hand, q), q.value, None
    if two:
        charge_text, coulombs, later = hand.mark(q.mantissa), q.written, "prefix-left-unconverted"
    force = coulombs * text_value(shown)
    stages = [("formula", f"{hand.charge}E")] if hand.formula else []
    stages += [
        ("substitution", ("!" if later else "") + hand.product(charge_text, shown)),
        ("value", f"{hand.number(force)} N"),
    ]
    if later:
        second.slips.append(later)
    second.add(*stages, hand=hand, name="F")
    second.carried = bool(first.slips) and not second.slips
    return Script(question_text(text, hand), [first, second])


SCENARIOS: list[tuple[Callable[[random.Random, Hand, bool, bool], Script], float]] = [
    (force_script, 3), (chain_script, 3), (net_script, 2), (electrons_script, 1),
    (field_script, 1), (distance_script, 1), (plates_script, 1),
]  # fmt: skip


def a_script(rng: random.Random) -> Script:
    makers, weights = zip(*SCENARIOS, strict=True)
    make = rng.choices(makers, weights)[0]
    slip = rng.random() < 0.5
    return make(rng, a_hand(rng), slip, slip and rng.random() < 0.25)


# --- measuring --------------------


@dataclass
class Tally:
    broken: Counter[bool] = field(default_factory=Counter)
    cause: Counter[bool] = field(default_factory=Counter)
    accused: Counter[bool] = field(default_factory=Counter)
    carried: Counter[bool] = field(default_factory=Counter)
    unsolved: int = 0
    questions: int = 0
    seconds: float = 0.0
    worst_ms: float = 0.0
    misses: list[tuple[str, str]] = field(default_factory=list)


def worksheet_of(script: Script) -> Worksheet:
    """The typed questions with the script's lines put under them."""
    sheet = worksheet_from_text(script.text)
    questions = tuple(
        replace(q, lines=tuple(WrittenLine(Reading.certain(t)) for t in part.lines))
        for q, part in zip(sheet.questions, script.parts, strict=True)
    )
    return replace(sheet, questions=questions)


def first_broken(finding: QuestionFindings) -> int | None:
    return next((i for i, line in enumerate(finding.working) if line.follows is False), None)


def judge(script: Script, tally: Tally) -> None:
    try:
        sheet = worksheet_of(script)
    except ValueError:
        tally.unsolved += 1
        return
    start = time.process_time()
    findings = check_worksheet(sheet)
    spent = time.process_time() - start
    tally.seconds += spent
    tally.worst_ms = max(tally.worst_ms, 1000 * spent / len(sheet.questions))
    tally.questions += len(sheet.questions)
    for finding, part in zip(findings.questions, script.parts, strict=True):
        if finding.verdict is Verdict.UNSOLVED:
            tally.unsolved += 1
            continue
        _score(finding, part, script, tally)


def _score(finding: QuestionFindings, part: Part, script: Script, tally: Tally) -> None:
    broken, named = first_broken(finding), [s.name for s in finding.slips]

    def miss(what: str) -> None:
        tally.misses.append((what, describe(finding, part, script)))

    if part.unclear:
        return
    if part.carried:
        full = finding.marks is not None and finding.marks.suggested == finding.marks.of
        charged_once = "carried-forward-error" in named and broken is None
        tally.carried[full and charged_once] += 1
        if not (full and charged_once):
            miss("carried")
        return
    if part.slips:
        tally.broken[broken == part.broken] += 1
        hit = bool(named) and named[0] == part.slips[0]
        tally.cause[hit] += 1
        if broken != part.broken:
            miss("broken")
        if not hit:
            miss("cause")
        return
    accused = broken is not None or finding.verdict is Verdict.DIFFERS
    tally.accused[accused] += 1
    if accused:
        miss("accused")


def describe(finding: QuestionFindings, part: Part, script: Script) -> str:
    rows = [script.text.strip(), f"truth: line {part.broken} {part.slips} carried={part.carried}"]
    for index, line in enumerate(finding.working):
        rows.append(f"  {index} {line.follows!s:5} {line.line.reading.text}   {line.note or ''}")
    rows.append(f"  expected {[f'{e.value:.4g} {e.unit}' for e in finding.expected]}")
    rows.append(
        f"  {finding.verdict} {[(s.name, s.line) for s in finding.slips]} {finding.reasons}"
    )
    if finding.marks is not None:
        rows.append(f"  {[(p.marks_for, p.earned, p.reason) for p in finding.marks.points]}")
    return "\n".join(rows)


def run_benchmark(seed: int, count: int) -> Tally:
    rng = random.Random(seed)
    warm = Tally()
    for _ in range(10):
        judge(a_script(random.Random(seed + 1)), warm)
    tally = Tally()
    for _ in range(count):
        judge(a_script(rng), tally)
    return tally


def share(counter: Counter[bool]) -> float:
    return counter[True] / max(1, sum(counter.values()))


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--seed", type=int, default=1)
    arguments.add_argument("--count", type=int, default=2000)
    arguments.add_argument("--show", type=int, default=0, help="print so many misses of each kind")
    options = arguments.parse_args()
    tally = run_benchmark(options.seed, options.count)
    shown: Counter[str] = Counter()
    for what, text in tally.misses:
        shown[what] += 1
        if shown[what] <= options.show:
            print(f"--- {what}\n{text}\n")
    rows = [
        ("first broken line", share(tally.broken), sum(tally.broken.values())),
        ("cause named", share(tally.cause), sum(tally.cause.values())),
        ("accused", share(tally.accused), sum(tally.accused.values())),
        ("carried marks", share(tally.carried), sum(tally.carried.values())),
    ]
    for name, value, count in rows:
        sign = "at most" if name == "accused" else "bar"
        print(f"{name:20} {100 * value:6.2f} %   ({sign} {100 * BARS[name]:g} %, {count} parts)")
    print(f"not understood       {tally.unsolved} parts")
    print(
        f"time                 {1000 * tally.seconds / max(1, tally.questions):.1f} ms a question, "
        f"slowest {tally.worst_ms:.0f} ms"
    )


if __name__ == "__main__":
    main()
