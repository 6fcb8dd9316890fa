"""Question templates: electrostatics as school worksheets put it, in many wordings.

Every template draws its numbers from the seed and returns a ``Problem``: the stem, and parts
with the givens each one has, what it asks, and the ``Task`` from which both the expected
result and the learner's working are computed. Scenario and wordings are our own.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from .amounts import Amount, Style, number_in
from .working import OPPOSITE, Calculation, E, K, Prior, Step, Task


@dataclass(frozen=True)
class GivenTruth:
    """A quantity that the question's text states."""

    amount: Amount
    quantity: str
    of: str | None = None


@dataclass(frozen=True)
class Part:
    """A part with its own number. Non-numeric parts have no task."""

    key: str
    text: str
    marks: int
    task: Task | None = None
    givens: tuple[GivenTruth, ...] = ()
    answer_in_words: tuple[str, ...] = ()
    needs_figure: bool = False


@dataclass(frozen=True)
class Figure:
    """Bodies on a horizontal line, with labels above and distances between them."""

    bodies: tuple[tuple[str, str], ...]
    gaps: tuple[str, ...]


@dataclass(frozen=True)
class Problem:
    """A stem with its givens, an optional figure, and parts."""

    template: str
    stem: str
    givens: tuple[GivenTruth, ...]
    parts: tuple[Part, ...]
    figure: Figure | None = None


Rng = np.random.Generator


# --- numbers ---------------------------------------------------------------------------------


def _mantissa(rng: Rng, low: float, high: float, figures: int = 2) -> str:
    value = float(rng.uniform(low, high))
    return f"{value:.{figures - 1}f}"


def _charge(
    rng: Rng, sign: str | None = None, units: tuple[str, ...] = ("nC", "µC", "pow")
) -> Amount:
    sign = str(rng.choice(["+", "-"])) if sign is None else sign
    unit = str(rng.choice(units))
    if unit == "pow":
        return Amount(_mantissa(rng, 1.2, 9.6), "C", int(rng.choice([-6, -7, -8, -9])), sign)
    return Amount(_mantissa(rng, 1.2, 9.6), unit, None, sign)


def _like(rng: Rng, other: Amount, sign: str) -> Amount:
    """Another charge written in the same unit and power."""
    while True:
        text = _mantissa(rng, 1.2, 9.6)
        if text != other.mantissa:
            return Amount(text, other.unit, other.exponent, sign)


def _distance(rng: Rng, units: tuple[str, ...] = ("cm", "mm", "m")) -> Amount:
    unit = str(rng.choice(units))
    if unit == "cm":
        return Amount(str(int(rng.integers(4, 60))), "cm")
    if unit == "mm":
        return Amount(str(int(rng.integers(15, 480))), "mm")
    return Amount(f"0.{int(rng.integers(5, 90)):02d}", "m")


def _pick(rng: Rng, *wordings: str) -> str:
    return str(rng.choice(wordings))


def _no_sign(amount: Amount) -> Amount:
    return Amount(amount.mantissa, amount.unit, amount.exponent)


def _names(rng: Rng, count: int) -> list[str]:
    sets = ["ABC", "PQR", "XYZ", "KLM", "STU"]
    return list(str(rng.choice(sets))[:count])


# --- formulas used more than once ---------------------------------------------------------------


def coulomb(symbol: str, q1, q2, r) -> Calculation:
    """F = k Q1 Q2 / r^2, magnitudes."""

    def substitute(t, slip):
        below = t["r"] if slip == "distance-not-squared" else _squared(t["r"])
        return rf"\frac{{9×10^{{9}}×{t['q1']}×{t['q2']}}}{{{below}}}"

    def compute(v, slip):
        return K * v["q1"] * v["q2"] / v["r"] ** (1 if slip == "distance-not-squared" else 2)

    return Calculation(
        symbol=symbol,
        formula=r"\frac{kQ_{1}Q_{2}}{r^{2}}",
        operands={"q1": q1, "q2": q2, "r": r},
        substitute=substitute,
        compute=compute,
        unit="N",
        own_slips=("distance-not-squared",),
    )


def point_field(symbol: str, q, r) -> Calculation:
    """E = k Q / r^2, magnitudes."""

    def substitute(t, slip):
        below = t["r"] if slip == "distance-not-squared" else _squared(t["r"])
        return rf"\frac{{9×10^{{9}}×{t['q']}}}{{{below}}}"

    def compute(v, slip):
        return K * v["q"] / v["r"] ** (1 if slip == "distance-not-squared" else 2)

    return Calculation(
        symbol=symbol,
        formula=r"\frac{kQ}{r^{2}}",
        operands={"q": q, "r": r},
        substitute=substitute,
        compute=compute,
        unit="N/C",
        own_slips=("distance-not-squared",),
    )


def _squared(text: str) -> str:
    return f"({text})^{{2}}" if "×" in text else f"{text}^{{2}}"


def shared_charge(symbol: str, *charges) -> Calculation:
    """Q = (Q1 + Q2 ...) / n for identical bodies in contact."""
    names = [f"q{i}" for i in range(1, len(charges) + 1)]

    def signs(t, slip):
        texts = [t[n] for n in names]
        if slip == "sign-dropped":
            texts = [x.lstrip("-") for x in texts]
        return texts

    def substitute(t, slip):
        above = "+".join(f"({x})" if x.startswith("-") else x for x in signs(t, slip))
        return above if slip == "halving-forgotten" else rf"\frac{{{above}}}{{{len(charges)}}}"

    def compute(v, slip):
        values = [v[n] for n in names]
        if slip == "sign-dropped":
            values = [abs(x) for x in values]
        return sum(values) / (1 if slip == "halving-forgotten" else len(values))

    formula = (
        rf"\frac{{{'+'.join(f'Q_{{{i}}}' for i in range(1, len(charges) + 1))}}}{{{len(charges)}}}"
    )
    return Calculation(
        symbol=symbol,
        formula=formula,
        operands=dict(zip(names, charges, strict=True)),
        substitute=substitute,
        compute=compute,
        unit="C",
        signed=True,
        own_slips=("sign-dropped", "halving-forgotten"),
    )


def charge_change(symbol: str, after, before) -> Calculation:
    """Delta Q = Q_after - Q_before."""

    def substitute(t, slip):
        second = t["before"]
        return f"{t['after']}-{f'({second})' if second.startswith('-') else second}"

    return Calculation(
        symbol=symbol,
        formula="Q_{f}-Q_{i}",
        operands={"after": after, "before": before},
        substitute=substitute,
        compute=lambda v, slip: v["after"] - v["before"],
        unit="C",
        signed=True,
    )


def electron_count(charge) -> Calculation:
    """n = Q / e."""
    return Calculation(
        symbol="n",
        formula=r"\frac{Q}{e}",
        operands={"q": charge},
        substitute=lambda t, slip: rf"\frac{{{t['q']}}}{{1.6×10^{{-19}}}}",
        compute=lambda v, slip: v["q"] / E,
        unit="dimensionless",
    )


def quotient(symbol: str, formula: str, above, below, unit: str) -> Calculation:
    """One quantity over another."""
    return Calculation(
        symbol=symbol,
        formula=formula,
        operands={"a": above, "b": below},
        substitute=lambda t, slip: rf"\frac{{{t['a']}}}{{{t['b']}}}",
        compute=lambda v, slip: v["a"] / v["b"],
        unit=unit,
    )


def product(symbol: str, formula: str, first, second, unit: str) -> Calculation:
    """One quantity times another."""
    return Calculation(
        symbol=symbol,
        formula=formula,
        operands={"a": first, "b": second},
        substitute=lambda t, slip: f"{t['a']}×{t['b']}",
        compute=lambda v, slip: v["a"] * v["b"],
        unit=unit,
    )


# --- templates ------------------------------------------------------------------------------------


def contact_of_two(rng: Rng, style: Style) -> Problem:
    a, b = _names(rng, 2)
    sign = str(rng.choice(["+", "-"]))
    first = _charge(rng, sign, ("nC", "µC", "pow"))
    second = _like(rng, first, "-" if sign == "+" else "+")
    noun = _pick(rng, "beads", "spheres", "metal balls", "pith balls")
    p, q = first.printed(style), second.printed(style)
    stem = _pick(
        rng,
        f"Two identical small {noun}, {a} and {b}, stand on insulated rods and carry charges of "
        f"{p} and {q} respectively. They are brought into contact and then separated.",
        f"{a} and {b} are identical conducting {noun} on insulating threads. The charge on {a} is "
        f"{p} and the charge on {b} is {q}. The two touch for a moment and are then moved apart.",
        f"A learner charges two identical {noun}. {a} has a charge of {p} and {b} has a charge of "
        f"{q}. She lets {a} touch {b} and then pulls them apart again.",
    )
    givens = (GivenTruth(first, "charge", a), GivenTruth(second, "charge", b))
    each = rng.random() < 0.5
    new = Task(
        (shared_charge("Q", first, second),),
        "charge",
        a,
        magnitude=False,
        also_of=(b,) if each else (),
    )
    body = noun.split(" ")[-1].rstrip("s") if noun[-1] == "s" else "ball"
    text = (
        _pick(
            rng,
            f"Calculate the new charge on each {body}.",
            f"Determine the charge on each {body} after they are separated.",
            f"What is the charge on each {body} after contact?",
        )
        if each
        else _pick(
            rng,
            f"Calculate the new charge on {a}.",
            f"Determine the charge on {a} after they are separated.",
            f"What is the charge on {a} after contact?",
        )
    )
    parts = [Part("new", text, int(rng.integers(2, 4)), new)]
    if rng.random() < 0.75:
        moved = Task(
            (charge_change("ΔQ", Prior("new", False), first), electron_count(Step(0))),
            "count",
            None,
            wants="count",
            unit_word="electrons",
        )
        text = _pick(
            rng,
            "Calculate the number of electrons transferred during contact.",
            f"How many electrons moved between {a} and {b}?",
            f"How many electrons were transferred between {a} and {b} while they touched?",
        )
        parts.append(Part("moved", text, 3, moved))
    if rng.random() < 0.6:
        r = _distance(rng)
        text = _pick(
            rng,
            f"They are now {r.printed(style)} apart. Calculate the magnitude of the electrostatic "
            f"force that {a} exerts on {b}.",
            f"After contact they are held {r.printed(style)} apart. Find the magnitude of the "
            f"force "
            f"between them.",
        )
        force = Task(
            (coulomb("F", Prior("new"), Prior("new"), r),), "force", b, (a,), wants="magnitude"
        )
        parts.append(Part("force", text, 4, force, (GivenTruth(r, "distance"),)))
    return Problem("contact-of-two", stem, givens, tuple(parts))


def contact_in_turn(rng: Rng, style: Style) -> Problem:
    a, b, c = _names(rng, 3)
    first = _charge(rng, None, ("nC", "µC"))
    second = _like(rng, first, str(rng.choice(["+", "-"])))
    stem = _pick(
        rng,
        f"Three identical metal spheres {a}, {b} and {c} are on insulated stands. {a} carries "
        f"{first.printed(style)}, {b} carries {second.printed(style)} and {c} is neutral. {a} "
        f"first touches {b}. They are separated, and then {b} touches {c}.",
        f"Sphere {a} has a charge of {first.printed(style)} and sphere {b} a charge of "
        f"{second.printed(style)}. A third identical sphere {c} is uncharged. Sphere {a} is "
        f"touched "
        f"to {b} and removed. After that {b} is touched to {c}.",
    )
    givens = (GivenTruth(first, "charge", a), GivenTruth(second, "charge", b))
    nothing = Amount("0", "C")
    task = Task(
        (
            shared_charge(f"Q_{{{b}}}", first, second),
            shared_charge(f"Q_{{{c}}}", Step(0, False), nothing),
        ),
        "charge",
        c,
        magnitude=False,
    )
    text = _pick(rng, f"Calculate the final charge on {c}.", f"What charge does {c} end up with?")
    return Problem("contact-in-turn", stem, givens, (Part("final", text, 4, task),))


def force_between_two(rng: Rng, style: Style) -> Problem:
    a, b = _names(rng, 2)
    first, r = _charge(rng), _distance(rng)
    second = _charge(rng) if rng.random() < 0.5 else _like(rng, first, str(rng.choice(["+", "-"])))
    p, q, d = first.printed(style), second.printed(style), r.printed(style)
    noun = _pick(rng, "point charges", "small charged spheres", "dust grains", "charged droplets")
    stem = _pick(
        rng,
        f"Two {noun}, {a} and {b}, have charges of {p} and {q}. They are {d} apart.",
        f"Sphere {a} (charge {p}) and sphere {b} (charge {q}) are fixed with their centres {d} "
        f"apart.",
        f"The distance between two {noun} {a} and {b} is {d}. The charge on {a} is {p} and the "
        f"charge on {b} is {q}.",
        f"A charge {a} of {p} is placed {d} from a charge {b} of {q}.",
    )
    givens = (
        GivenTruth(first, "charge", a),
        GivenTruth(second, "charge", b),
        GivenTruth(r, "distance"),
    )
    text = _pick(
        rng,
        f"Calculate the magnitude of the electrostatic force that {a} exerts on {b}.",
        f"Find the magnitude of the force on {b} due to {a}.",
        f"Determine the size of the force that {b} experiences.",
    )
    parts = [
        Part(
            "force",
            text,
            int(rng.integers(3, 5)),
            Task((coulomb("F", first, second, r),), "force", b, (a,), wants="magnitude"),
        )
    ]
    if rng.random() < 0.35:
        text, answer = _explain(rng, a, b, first.sign == second.sign)
        parts.append(
            Part(
                "why",
                text,
                2,
                answer_in_words=(answer,),
            )
        )
    return Problem("force-between-two", stem, givens, tuple(parts))


def _explain(rng: Rng, a: str, b: str, alike: bool) -> tuple[str, str]:
    """A question that wants words, and what a learner writes."""
    if rng.random() < 0.5:
        text = f"Is the force between {a} and {b} attractive or repulsive? Explain."
        return text, "repulsive, same signs" if alike else "attractive, opposite signs"
    text = f"Explain in words what happens to the force when {b} is moved further away."
    return text, "it gets smaller, r is bigger"


def distance_from_force(rng: Rng, style: Style) -> Problem:
    a, b = _names(rng, 2)
    first = _charge(rng, "+", ("nC", "µC"))
    second = _like(rng, first, "+")
    metres = float(rng.uniform(0.06, 0.7))
    force_value = K * first.value * second.value / metres**2
    mantissa, exponent = f"{force_value:.1e}".split("e")
    force = Amount(mantissa, "N", int(exponent))
    p, q, f = first.printed(style), second.printed(style), force.printed(style)
    stem = _pick(
        rng,
        f"Two charged droplets carry {p} and {q}. They repel each other with a force of {f}.",
        f"The electrostatic force between a charge of {p} and a charge of {q} has a magnitude of "
        f"{f}.",
        f"Two small spheres with charges {p} and {q} exert a force of {f} on each other.",
    )
    givens = (
        GivenTruth(first, "charge"),
        GivenTruth(second, "charge"),
        GivenTruth(force, "force"),
    )

    def substitute(t, slip):
        inside = rf"\frac{{9×10^{{9}}×{t['q1']}×{t['q2']}}}{{{t['f']}}}"
        return inside if slip == "distance-not-squared" else rf"\sqrt{{{inside}}}"

    def compute(v, slip):
        square = K * v["q1"] * v["q2"] / v["f"]
        return square if slip == "distance-not-squared" else square**0.5

    step = Calculation(
        "r",
        r"\sqrt{\frac{kQ_{1}Q_{2}}{F}}",
        {"q1": first, "q2": second, "f": force},
        substitute,
        compute,
        "m",
        own_slips=("distance-not-squared",),
    )
    text = _pick(rng, "Calculate the distance between them.", "How far apart are they?")
    part = Part("distance", text, 4, Task((step,), "distance"))
    return Problem("distance-from-force", stem, givens, (part,))


def equal_charges_from_force(rng: Rng, style: Style) -> Problem:
    r = _distance(rng, ("cm", "mm"))
    force = Amount(_mantissa(rng, 1.2, 9.4), "N", int(rng.choice([-2, -3, -4, -5])))
    f, d = force.printed(style), r.printed(style)
    stem = _pick(
        rng,
        f"Two identically charged balloons repel each other with a force of {f} when their centres "
        f"are {d} apart.",
        f"Two beads carry equal charges. When they are {d} apart, each exerts a force of {f} on "
        f"the "
        f"other.",
    )
    givens = (GivenTruth(force, "force"), GivenTruth(r, "distance"))

    def substitute(t, slip):
        return rf"\sqrt{{\frac{{{t['f']}×{_squared(t['r'])}}}{{9×10^{{9}}}}}}"

    step = Calculation(
        "Q",
        r"\sqrt{\frac{Fr^{2}}{k}}",
        {"f": force, "r": r},
        substitute,
        lambda v, slip: (v["f"] * v["r"] ** 2 / K) ** 0.5,
        "C",
    )
    noun = "balloon" if "balloon" in stem else "bead"
    text = _pick(
        rng,
        f"Calculate the magnitude of the charge on each {noun}.",
        f"Determine the size of the charge that each {noun} carries.",
    )
    part = Part("charge", text, 4, Task((step,), "charge", noun, wants="magnitude"))
    return Problem("equal-charges-from-force", stem, givens, (part,))


def net_force_on_a_line(rng: Rng, style: Style) -> Problem:
    a, b, c = _names(rng, 3)
    unit = (str(rng.choice(["nC", "µC"])),)
    left, middle = _charge(rng, None, unit), _charge(rng, "+", unit)
    right = _charge(rng, None, unit)
    r1, r2 = _distance(rng, ("cm",)), _distance(rng, ("cm", "mm"))
    compass = rng.random() < 0.3
    west, east = ("west", "east") if compass else ("left", "right")
    side = {"left": f"to the left of {b}", "right": f"to the right of {b}"}
    side |= {"west": f"west of {b}", "east": f"east of {b}"}
    stem = _pick(
        rng,
        f"Three charged beads lie on a straight {'east-west' if compass else 'horizontal'} line. "
        f"{a} ({left.printed(style)}) is {r1.printed(style)} {side[west]} "
        f"({middle.printed(style)}) "
        f"and {c} ({right.printed(style)}) is {r2.printed(style)} {side[east]}.",
        f"Charges {a}, {b} and {c} of {left.printed(style)}, {middle.printed(style)} and "
        f"{right.printed(style)} are placed on a straight line in that order from {west} to "
        f"{east}. "
        f"The distance between {a} and {b} is {r1.printed(style)} and the distance between {b} and "
        f"{c} is {r2.printed(style)}.",
    )
    givens = (
        GivenTruth(left, "charge", a),
        GivenTruth(middle, "charge", b),
        GivenTruth(right, "charge", c),
        GivenTruth(r1, "distance"),
        GivenTruth(r2, "distance"),
    )
    from_left = 1 if left.sign == middle.sign else -1  # + is to the right
    from_right = -1 if right.sign == middle.sign else 1
    opposing = from_left != from_right

    def substitute(t, slip):
        if not opposing or slip == "opposing-forces-added":
            return f"{t['f1']}+{t['f2']}"
        larger, smaller = sorted((t["f1"], t["f2"]), key=number_in, reverse=True)
        return f"{larger}-{smaller}"

    def compute(v, slip):
        f1, f2 = from_left * v["f1"], from_right * v["f2"]
        if slip == "opposing-forces-added":
            return (abs(f1) + abs(f2)) * (1 if f1 + f2 > 0 else -1)
        return f1 + f2

    first = coulomb("F_{1}", left, middle, r1)
    second = coulomb("F_{2}", middle, right, r2)
    sign = K * abs(middle.value)
    forces = (abs(left.value) / r1.value**2 * sign, abs(right.value) / r2.value**2 * sign)
    ordered = "F_{1}-F_{2}" if forces[0] > forces[1] else "F_{2}-F_{1}"
    total = Calculation(
        "F_{net}",
        ordered if opposing else "F_{1}+F_{2}",
        {"f1": Step(0), "f2": Step(1)},
        substitute,
        compute,
        "N",
        own_slips=("opposing-forces-added",) if opposing else (),
    )
    task = Task(
        (first, second, total),
        "force",
        b,
        (a, c),
        wants="vector",
        direction=lambda value: east if value > 0 else west,
    )
    text = _pick(
        rng,
        f"Calculate the net electrostatic force on {b}.",
        f"Determine the resultant force that {b} experiences due to {a} and {c}.",
        f"Find the net force (magnitude and direction) acting on {b}.",
    )
    return Problem("net-force-on-a-line", stem, givens, (Part("net", text, 6, task),))


def field_of_a_point_charge(rng: Rng, style: Style) -> Problem:
    name = _pick(rng, "Q", "A", "P", "S")
    source, r = _charge(rng), _distance(rng)
    point = _pick(rng, "X", "T", "M")
    side = _pick(rng, "left", "right")
    q, d = source.printed(style), r.printed(style)
    stem = _pick(
        rng,
        f"Point {point} is {d} to the {side} of a sphere {name} with a charge of {q}.",
        f"A charged bead {name} carries a charge of {q}. Point {point} lies {d} to the {side} of "
        f"{name}.",
    )
    givens = (GivenTruth(source, "charge", name), GivenTruth(r, "distance"))
    outward = source.sign == "+"
    away = side if outward else OPPOSITE[side]
    vector = rng.random() < 0.5
    task = Task(
        (point_field("E", source, r),),
        "field",
        point,
        (name,),
        wants="vector" if vector else "magnitude",
        direction=(lambda value: away) if vector else (lambda value: None),
    )
    text = (
        _pick(
            rng,
            f"Calculate the electric field at point {point}.",
            f"Determine the magnitude and direction of the electric field at {point}.",
        )
        if vector
        else _pick(
            rng,
            f"Calculate the magnitude of the electric field at {point} due to {name}.",
            f"How strong is the electric field at point {point}?",
        )
    )
    parts = [Part("field", text, int(rng.integers(3, 5)), task)]
    if rng.random() < 0.6:
        probe = _charge(rng, None, ("nC", "µC"))
        text = _pick(
            rng,
            f"A charge of {probe.printed(style)} is now placed at {point}. Calculate the "
            f"magnitude of "
            f"the force on it.",
            f"What is the magnitude of the force on a charge of {probe.printed(style)} at {point}?",
        )
        force = Task(
            (product("F", "qE", probe, Prior("field"), "N"),), "force", None, wants="magnitude"
        )
        parts.append(Part("probe", text, 3, force, (GivenTruth(probe, "charge"),)))
    return Problem("field-of-a-point-charge", stem, givens, tuple(parts))


def field_from_force(rng: Rng, style: Style) -> Problem:
    probe = _charge(rng, "+", ("nC", "µC"))
    force = Amount(_mantissa(rng, 1.2, 9.4), "N", int(rng.choice([-2, -3, -4])))
    stem = _pick(
        rng,
        f"A test charge of {probe.printed(style)} experiences a force of {force.printed(style)} "
        f"in an "
        f"electric field.",
        f"A force of {force.printed(style)} acts on a charged dust grain. The charge on the "
        f"grain is "
        f"{probe.printed(style)}.",
    )
    givens = (GivenTruth(probe, "charge"), GivenTruth(force, "force"))
    text = _pick(
        rng,
        "Calculate the magnitude of the electric field.",
        "Calculate the electric field strength at this point.",
    )
    step = quotient("E", r"\frac{F}{q}", force, probe, "N/C")
    task = Task((step,), "field", None, wants="magnitude")
    return Problem("field-from-force", stem, givens, (Part("field", text, 3, task),))


def force_in_a_field(rng: Rng, style: Style) -> Problem:
    probe = _charge(rng, None, ("nC", "µC"))
    field = Amount(_mantissa(rng, 1.2, 9.4), "N/C", int(rng.choice([3, 4, 5])))
    way = _pick(rng, "to the right", "to the left", "upwards", "downwards", "east", "north")
    word = way.replace("to the ", "").replace("wards", "")
    verb = "points" if way in ("upwards", "downwards") else "is directed"
    stem = _pick(
        rng,
        f"A uniform electric field of {field.printed(style)} {verb} {way}. A droplet with a "
        f"charge of "
        f"{probe.printed(style)} is placed in the field.",
        f"A droplet carries a charge of {probe.printed(style)}. It drifts into an electric field "
        f"of "
        f"{field.printed(style)} that {verb} {way}.",
    )
    direction = word if probe.sign == "+" else OPPOSITE[word]
    task = Task(
        (product("F", "qE", probe, field, "N"),),
        "force",
        "droplet",
        wants="vector",
        direction=lambda value: direction,
    )
    text = _pick(
        rng,
        "Calculate the force on the droplet.",
        "Calculate the magnitude and direction of the electric force on the droplet.",
    )
    givens = (GivenTruth(field, "field"), GivenTruth(probe, "charge", "droplet"))
    return Problem("force-in-a-field", stem, givens, (Part("force", text, 3, task),))


def electrons_on_a_body(rng: Rng, style: Style) -> Problem:
    noun = _pick(rng, "balloon", "plastic ruler", "glass rod", "dust grain")
    if rng.random() < 0.6:
        charge = _charge(rng, None, ("nC", "µC", "pow"))
        verb = "gained" if charge.sign == "-" else "lost"
        stem = _pick(
            rng,
            f"After being rubbed with a cloth, a {noun} has a charge of {charge.printed(style)}.",
            f"A {noun} is rubbed and becomes charged. Its charge is {charge.printed(style)}.",
        )
        text = _pick(
            rng,
            f"How many electrons has the {noun} {verb}?",
            f"Calculate the number of electrons that the {noun} {verb}.",
        )
        task = Task((electron_count(charge),), "count", noun, wants="count", unit_word="electrons")
        givens = (GivenTruth(charge, "charge", noun),)
        return Problem("electrons-on-a-body", stem, givens, (Part("count", text, 3, task),))
    count = Amount(_mantissa(rng, 1.2, 9.4), "", int(rng.integers(9, 13)))
    gained = rng.random() < 0.5
    verb = "gains" if gained else "loses"
    stem = f"A neutral {noun} {verb} {count.printed(style)} electrons when it is rubbed."

    def compute(v, slip):
        return v["n"] * E * (-1 if gained and slip != "sign-dropped" else 1)

    minus = "-" if gained else ""
    step = Calculation(
        "Q",
        "ne",
        {"n": count},
        lambda t, slip: f"{'' if slip == 'sign-dropped' else minus}{t['n']}×1.6×10^{{-19}}",
        compute,
        "C",
        own_slips=("sign-dropped",) if gained else (),
    )
    text = f"Calculate the charge on the {noun}."
    task = Task((step,), "charge", noun, magnitude=False)
    givens = (GivenTruth(count, "count", noun),)
    return Problem("charge-from-electrons", stem, givens, (Part("charge", text, 3, task),))


def lines_in_words(rng: Rng, style: Style) -> Problem:
    text, answer = [
        (
            "State Coulomb's law in words.",
            ("Force is proportional to the", "product of the charges"),
        ),
        ("Define the electric field at a point.", ("force per unit charge",)),
        ("Give the principle of conservation of charge.", ("charge is never created or lost",)),
        (
            "Explain why a charged balloon sticks to a dry wall.",
            ("charges in the wall shift", "so they attract"),
        ),
    ][int(rng.integers(0, 4))]
    return Problem("in-words", "", (), (Part("words", text, 2, answer_in_words=answer),))


def contact_of_three(rng: Rng, style: Style) -> Problem:
    a, b, c = _names(rng, 3)
    first = _charge(rng, "+", ("nC", "µC"))
    second, third = _like(rng, first, "-"), _like(rng, first, str(rng.choice(["+", "-"])))
    p, q, s = first.printed(style), second.printed(style), third.printed(style)
    stem = _pick(
        rng,
        f"Three identical metal spheres, {a}, {b} and {c}, carry charges of {p}, {q} and {s} "
        f"respectively. All three are brought into contact with one another at the same time and "
        f"are "
        f"then separated.",
        f"Identical spheres {a} ({p}), {b} ({q}) and {c} ({s}) are pushed together so that all "
        f"three "
        f"touch, and are then pulled apart.",
    )
    givens = tuple(
        GivenTruth(amount, "charge", name) for amount, name in ((first, a), (second, b), (third, c))
    )
    task = Task(
        (shared_charge("Q", first, second, third),), "charge", a, magnitude=False, also_of=(b, c)
    )
    text = _pick(
        rng, "Calculate the new charge on each sphere.", "What charge does each sphere have now?"
    )
    return Problem("contact-of-three", stem, givens, (Part("new", text, 3, task),))


def charge_from_force(rng: Rng, style: Style) -> Problem:
    a, b = _names(rng, 2)
    known, r = _charge(rng, "+", ("nC", "µC")), _distance(rng, ("cm", "mm", "m"))
    force = Amount(_mantissa(rng, 1.2, 9.4), "N", int(rng.choice([-2, -3, -4])))
    p, f, d = known.printed(style), force.printed(style), r.printed(style)
    stem = _pick(
        rng,
        f"Bead {a} has a charge of {p}. It exerts a force of {f} on bead {b} when they are {d} "
        f"apart.",
        f"The force between two beads {a} and {b} is {f}. Their centres are {d} apart and the "
        f"charge "
        f"on {a} is {p}.",
    )

    def substitute(t, slip):
        below = t["r"] if slip == "distance-not-squared" else _squared(t["r"])
        return rf"\frac{{{t['f']}×{below}}}{{9×10^{{9}}×{t['q']}}}"

    def compute(v, slip):
        power = 1 if slip == "distance-not-squared" else 2
        return v["f"] * v["r"] ** power / (K * v["q"])

    step = Calculation(
        "Q_{2}",
        r"\frac{Fr^{2}}{kQ_{1}}",
        {"f": force, "r": r, "q": known},
        substitute,
        compute,
        "C",
        own_slips=("distance-not-squared",),
    )
    givens = (
        GivenTruth(known, "charge", a),
        GivenTruth(force, "force"),
        GivenTruth(r, "distance"),
    )
    text = _pick(
        rng,
        f"Calculate the magnitude of the charge on {b}.",
        f"Determine the size of the charge on {b}.",
    )
    part = Part("charge", text, 4, Task((step,), "charge", b, wants="magnitude"))
    return Problem("charge-from-force", stem, givens, (part,))


def distance_from_field(rng: Rng, style: Style) -> Problem:
    source = _charge(rng, "+", ("nC", "µC"))
    metres = float(rng.uniform(0.08, 0.8))
    mantissa, exponent = f"{K * source.value / metres**2:.1e}".split("e")
    field = Amount(mantissa, "N/C", int(exponent))
    q, e = source.printed(style), field.printed(style)
    stem = _pick(
        rng,
        f"The electric field at a certain distance from a point charge of {q} has a magnitude of "
        f"{e}.",
        f"At point T the electric field of a sphere carrying {q} is {e}.",
    )

    def substitute(t, slip):
        inside = rf"\frac{{9×10^{{9}}×{t['q']}}}{{{t['e']}}}"
        return inside if slip == "distance-not-squared" else rf"\sqrt{{{inside}}}"

    def compute(v, slip):
        square = K * v["q"] / v["e"]
        return square if slip == "distance-not-squared" else square**0.5

    step = Calculation(
        "r",
        r"\sqrt{\frac{kQ}{E}}",
        {"q": source, "e": field},
        substitute,
        compute,
        "m",
        own_slips=("distance-not-squared",),
    )
    text = (
        "How far from the charge is this?" if "certain" in stem else "How far is T from the sphere?"
    )
    givens = (GivenTruth(source, "charge"), GivenTruth(field, "field"))
    return Problem(
        "distance-from-field", stem, givens, (Part("r", text, 3, Task((step,), "distance")),)
    )


def charge_from_field(rng: Rng, style: Style) -> Problem:
    r = _distance(rng)
    field = Amount(_mantissa(rng, 1.2, 9.4), "N/C", int(rng.choice([3, 4, 5])))
    e, d = field.printed(style), r.printed(style)
    stem = _pick(
        rng,
        f"At a distance of {d} from a small charged bead the electric field has a magnitude of "
        f"{e}.",
        f"The electric field {d} away from a point charge is {e}.",
    )
    step = Calculation(
        "Q",
        r"\frac{Er^{2}}{k}",
        {"e": field, "r": r},
        lambda t, slip: rf"\frac{{{t['e']}×{_squared(t['r'])}}}{{9×10^{{9}}}}",
        lambda v, slip: v["e"] * v["r"] ** 2 / K,
        "C",
    )
    noun = "bead" if "bead" in stem else "point charge"
    text = _pick(
        rng,
        "Calculate the magnitude of the charge.",
        f"Find the size of the charge on the {noun}."
        if noun == "bead"
        else "How large is the charge?",
    )
    givens = (GivenTruth(r, "distance"), GivenTruth(field, "field"))
    return Problem(
        "charge-from-field",
        stem,
        givens,
        (Part("q", text, 3, Task((step,), "charge", wants="magnitude")),),
    )


def field_midway(rng: Rng, style: Style) -> Problem:
    a, b = _names(rng, 2)
    first = _charge(rng, "+", ("nC", "µC"))
    second = _like(rng, first, str(rng.choice(["+", "-"])))
    half = int(rng.integers(5, 30))
    r1, r2 = Amount(str(half), "cm"), Amount(str(half + int(rng.integers(2, 12))), "cm")
    point = _pick(rng, "M", "N")
    stem = (
        f"Two charged beads {a} ({first.printed(style)}) and {b} ({second.printed(style)}) lie "
        f"on a "
        f"horizontal line, with {a} on the left. Point {point} lies between them, "
        f"{r1.printed(style)} from {a} and {r2.printed(style)} from {b}."
    )
    signs = (1, -1 if second.sign == "+" else 1)
    opposing = signs[1] < 0
    sizes = [K * abs(q.value) / r.value**2 for q, r in ((first, r1), (second, r2))]

    def substitute(t, slip):
        if not opposing or slip == "opposing-forces-added":
            return f"{t['e1']}+{t['e2']}"
        larger, smaller = sorted((t["e1"], t["e2"]), key=number_in, reverse=True)
        return f"{larger}-{smaller}"

    def compute(v, slip):
        net = signs[0] * v["e1"] + signs[1] * v["e2"]
        if slip == "opposing-forces-added":
            return (abs(v["e1"]) + abs(v["e2"])) * (1 if net > 0 else -1)
        return net

    ordered = "E_{1}-E_{2}" if sizes[0] > sizes[1] else "E_{2}-E_{1}"
    total = Calculation(
        "E_{net}",
        ordered if opposing else "E_{1}+E_{2}",
        {"e1": Step(0), "e2": Step(1)},
        substitute,
        compute,
        "N/C",
        own_slips=("opposing-forces-added",) if opposing else (),
    )
    task = Task(
        (point_field("E_{1}", first, r1), point_field("E_{2}", second, r2), total),
        "field",
        point,
        (a, b),
        wants="vector",
        direction=lambda value: "right" if value > 0 else "left",
    )
    givens = (
        GivenTruth(first, "charge", a),
        GivenTruth(second, "charge", b),
        GivenTruth(r1, "distance"),
        GivenTruth(r2, "distance"),
    )
    text = _pick(
        rng,
        f"Calculate the net electric field at point {point}.",
        f"Determine the resultant electric field at {point}.",
    )
    return Problem("field-between", stem, givens, (Part("net", text, 5, task),))


def balanced_droplet(rng: Rng, style: Style) -> Problem:
    mass = Amount(_mantissa(rng, 1.2, 9.4), "kg", int(rng.choice([-14, -13, -12])))
    field = Amount(_mantissa(rng, 1.2, 9.4), "N/C", int(rng.choice([4, 5])))
    m, e = mass.printed(style), field.printed(style)
    stem = _pick(
        rng,
        f"A charged droplet of mass {m} hangs at rest in a vertical electric field of {e}.",
        f"A droplet with a mass of {m} is held stationary between two plates by an electric "
        f"field of "
        f"{e}.",
    )
    step = Calculation(
        "q",
        r"\frac{mg}{E}",
        {"m": mass, "e": field},
        lambda t, slip: rf"\frac{{{t['m']}×9.8}}{{{t['e']}}}",
        lambda v, slip: v["m"] * 9.8 / v["e"],
        "C",
    )
    text = "Calculate the magnitude of the charge on the droplet."
    givens = (GivenTruth(mass, "mass", "droplet"), GivenTruth(field, "field"))
    task = Task((step,), "charge", "droplet", wants="magnitude")
    return Problem("balanced-droplet", stem, givens, (Part("q", text, 4, task),))


def force_on_an_electron(rng: Rng, style: Style) -> Problem:
    field = Amount(_mantissa(rng, 1.2, 9.4), "N/C", int(rng.choice([3, 4, 5])))
    stem = f"An electron is placed in a uniform electric field of {field.printed(style)}."
    step = Calculation(
        "F",
        "qE",
        {"e": field},
        lambda t, slip: f"1.6×10^{{-19}}×{t['e']}",
        lambda v, slip: E * v["e"],
        "N",
    )
    text = _pick(
        rng,
        "Calculate the magnitude of the force on the electron.",
        "What is the magnitude of the force that the electron experiences?",
    )
    task = Task((step,), "force", "electron", wants="magnitude")
    givens = (GivenTruth(field, "field"),)
    return Problem("force-on-an-electron", stem, givens, (Part("force", text, 3, task),))


def beads_in_a_figure(rng: Rng, style: Style) -> Problem:
    a, b, c = _names(rng, 3)
    unit = (str(rng.choice(["nC", "µC"])),)
    charges = [_charge(rng, None, unit) for _ in range(3)]
    gaps = [_distance(rng, ("cm",)) for _ in range(2)]
    figure = Figure(
        tuple((n, q.printed(style)) for n, q in zip((a, b, c), charges, strict=True)),
        tuple(g.printed(style) for g in gaps),
    )
    text = _pick(
        rng,
        f"Calculate the net electrostatic force on {b}.",
        f"Determine the magnitude of the net force on {b}.",
    )
    stem = _pick(
        rng,
        "Three charged beads lie on a straight line, as shown in the diagram.",
        f"The sketch shows three small charged beads {a}, {b} and {c} on a line.",
    )
    answer = (f"F_{{net}}={style.number(_mantissa(rng, 1, 9))}×10^{{-3}} N",)
    part = Part("net", text, 5, answer_in_words=answer, needs_figure=True)
    return Problem("beads-in-a-figure", stem, (), (part,), figure)


TEMPLATES: tuple[Callable[[Rng, Style], Problem], ...] = (
    contact_of_two,
    contact_of_three,
    contact_in_turn,
    force_between_two,
    distance_from_force,
    equal_charges_from_force,
    charge_from_force,
    net_force_on_a_line,
    field_of_a_point_charge,
    field_midway,
    distance_from_field,
    charge_from_field,
    field_from_force,
    force_in_a_field,
    force_on_an_electron,
    electrons_on_a_body,
    balanced_droplet,
    beads_in_a_figure,
    lines_in_words,
)
