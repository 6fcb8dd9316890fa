"""Charges that are shared on contact, and charges counted in electrons."""

from __future__ import annotations

import re
from collections.abc import Sequence

import sympy

from parser.worksheet import Fact
from solver.derive.engine import Known, Unsolved
from solver.derive.results import Answer, Result
from solver.derive.scene import Scene
from solver.laws.book import symbol
from solver.laws.electrostatics import CHARGE_COUNT


def has_contact(scene: Scene) -> bool:
    return any(f.name == "contact" for f in scene.facts)


_CHANGE_ASKED = re.compile(
    r"\bby how much\b|\bhow much (?:does|did|has)\b[^?]*\bchange|\bchange (?:in|of)\b"
)


def _charge_before(scene: Scene, event: Fact, body: str) -> Known:
    known = scene.charge(body, event.stage - 1)
    if known is None:
        raise Unsolved(f"The charge of {body} before contact is missing.")
    return known


def shared_charge(scene: Scene) -> Answer | None:
    ask = scene.ask
    if not has_contact(scene) or ask.stage == 0:
        return None
    event = [f for f in scene.facts if f.name == "contact"][-1]
    _check_identical(scene)
    if re.search(r"\btotal\b|\bcombined\b|\bsum\b", ask.text):
        return _total_charge(scene, event.bodies)
    if ask.of is None or (ask.of not in event.bodies and ask.of not in scene.question.bodies):
        return _charge_of_each(scene, event.bodies)
    known = scene.charge(ask.of, ask.stage)
    if known is None:
        return None
    if _CHANGE_ASKED.search(ask.text):
        before = _charge_before(scene, event, ask.of)
        known = scene.work.expression(
            "change of charge",
            "Q_change",
            symbol("Q_new") - symbol("Q_0"),
            {"Q_new": known, "Q_0": before},
            "C",
            f"change of the charge of {ask.of}",
        )
    by_name = all(re.fullmatch(r"[A-Z]'?|[Qq]_\{\w+\}", b) for b in (ask.of, *event.bodies))
    if ask.of not in event.bodies and known.given is not None and not by_name:
        raise Unsolved(f"It is not clear what the contact does to {ask.of}.")
    return [Result(ask.of, known)]


def _charge_of_each(scene: Scene, touching: Sequence[str]) -> Answer:
    """One result when all end up alike, else one a body in the order of the text."""
    stage = scene.ask.stage
    met = {b for f in scene.facts if f.name == "contact" for b in f.bodies}
    known = {b: scene.charge(b, stage) for b in scene.question.bodies if b in met}
    if not touching or any(k is None for k in known.values()):
        raise Unsolved("The charge of every body that touches is needed.")
    found = [(b, k) for b, k in known.items() if k is not None]
    if all(abs(k.value - found[0][1].value) <= 1e-9 * abs(k.value) for _, k in found):
        return [Result("each", found[0][1])]
    return [Result(b, k) for b, k in found]


def _total_charge(scene: Scene, bodies: Sequence[str]) -> Answer:
    parts = {f"Q_{i + 1}": scene.charge(b, 0) for i, b in enumerate(bodies)}
    if any(p is None for p in parts.values()):
        raise Unsolved("The charge of every body is needed.")
    known = {n: p for n, p in parts.items() if p is not None}
    total = sum((symbol(n) for n in known), sympy.Integer(0))
    return [
        Result(
            None,
            scene.work.expression("conservation of charge", "Q", total, known, "C", "total charge"),
        )
    ]


def _check_identical(scene: Scene) -> None:
    if scene.has("unlike-sizes"):
        raise Unsolved("The bodies that touch are not identical, so the shares are not known.")


def charge_before(scene: Scene) -> Answer | None:
    """The unknown charge before contact, from the charge of each after it."""
    events = [f for f in scene.question.facts if f.name == "contact"]
    if len(events) != 1:
        return None
    event = events[0]
    after = [
        (i, g)
        for i, g in enumerate(scene.question.givens)
        if g.kind == "charge" and g.stage >= event.stage and g.of in event.bodies
    ]
    if not after:
        return None
    unknown = [b for b in event.bodies if scene.charge(b, event.stage - 1) is None]
    wanted = (
        scene.ask.of
        if scene.ask.of in event.bodies
        else (unknown[0] if len(unknown) == 1 else None)
    )
    if (
        wanted is None
        or wanted not in unknown
        or scene.ask.stage >= event.stage
        and len(after) > 1
        and False
    ):
        return None
    others = [scene.charge(b, event.stage - 1) for b in event.bodies if b != wanted]
    if any(o is None for o in others):
        return None
    new = scene.known(after[-1][0])
    for i, _ in after:
        scene.used.add(i)
    expression = len(event.bodies) * symbol("Q_new")
    inputs: dict[str, Known] = {"Q_new": new}
    for n, other in enumerate(o for o in others if o is not None):
        expression -= symbol(f"Q_{n + 2}")
        inputs[f"Q_{n + 2}"] = other
    known = scene.work.expression(
        "charge shared on contact",
        "Q_1",
        expression,
        inputs,
        "C",
        f"charge of {wanted} before contact",
    )
    return [Result(wanted, known)]


def counted_electrons(scene: Scene) -> Answer | None:
    ask = scene.ask
    protons = scene.one("proton_count")
    if protons is not None and "have" in ask.text:
        owner = next((g for _, g in scene.all("charge")), None)
        if owner is not None:
            charge = scene.known(scene.all("charge")[-1][0])
            expression = symbol("n_p") - symbol("Q") / symbol("e")
            inputs = {"n_p": protons, "Q": charge, "e": scene.work.constant("e")}
            return [
                Result(
                    ask.of,
                    scene.work.expression(
                        "charge of protons and electrons",
                        "n",
                        expression,
                        inputs,
                        "dimensionless",
                        "number of electrons",
                    ),
                )
            ]
    moved = _to_reach_a_target(scene) or _moved_charge(scene)
    if moved is None:
        return None
    if moved.value == 0:
        raise Unsolved("No charge moves; the question was probably not understood.")
    known = scene.work.apply(
        CHARGE_COUNT, "n", {"Q": moved}, "dimensionless", "number of electrons"
    )
    return [Result(ask.of, known)]


def _to_reach_a_target(scene: Scene) -> Known | None:
    """The charge that must move to bring a body to a wanted charge."""
    target = scene.one("target_charge")
    if target is None:
        return None
    charged = [b for b in scene.charged(scene.ask.stage) if scene.all("charge")]
    if len(charged) > 1:
        raise Unsolved("It is not clear which body is to be charged.")
    start = scene.charge(charged[0], scene.ask.stage) if charged else None
    if start is None or start.value == 0:
        return target
    return scene.work.expression(
        "charge that must move",
        "Q",
        sympy.Abs(symbol("Q_wanted") - symbol("Q_0")),
        {"Q_wanted": target, "Q_0": start},
        "C",
        "charge that must move",
    )


def _moved_charge(scene: Scene) -> Known | None:
    """The charge whose electrons are counted: moved on contact, stated, or carried."""
    ask = scene.ask
    transferred = scene.one("charge_transferred")
    if transferred is not None:
        return transferred
    events = [f for f in scene.facts if f.name == "contact"]
    text = ask.text
    carried = "excess" in text or "extra" in text or "have" in text and "transfer" not in text
    if events and not carried:
        event = events[-1]
        body = ask.of if ask.of in event.bodies else event.bodies[0]
        before, after = _charge_before(scene, event, body), scene.charge(body, event.stage)
        if after is None:
            raise Unsolved("The charge after contact cannot be found from the givens.")
        return scene.work.expression(
            "charge that moved",
            "Q",
            symbol("Q_after") - symbol("Q_before"),
            {"Q_after": after, "Q_before": before},
            "C",
            f"charge that moved to or from {body}",
        )
    found = scene.prior("charge")
    if ask.of is not None:
        own = scene.charge(ask.of, ask.stage)
        if own is not None:
            return own
    charged = scene.charged(ask.stage)
    if len(charged) == 1:
        return scene.charge(charged[0], ask.stage)
    return found[0] if found else None


def charge_moved(scene: Scene) -> Answer | None:
    if not has_contact(scene):
        return None
    moved = _moved_charge(scene)
    if moved is None:
        return None
    size = scene.work.expression(
        "amount of charge",
        "Q",
        sympy.Abs(symbol("Q_moved")),
        {"Q_moved": moved},
        "C",
        "charge that moved",
    )
    return [Result(None, size)]


def charge_from_count(scene: Scene) -> Answer | None:
    """Charge of a body that gained or lost a number of electrons, on top of what it had."""
    ask = scene.ask
    gained, lost = scene.all("electrons_gained"), scene.all("electrons_lost")
    if not gained and not lost:
        return None
    body = ask.of or (gained or lost)[-1][1].of
    n_terms: list[tuple[str, Known, int]] = []
    for group, sign in ((gained, -1), (lost, 1)):
        for i, given in group:
            if given.of in (body, None) or ask.of is None:
                n_terms.append((f"n_{len(n_terms) + 1}", scene.known(i), sign))
    if not n_terms:
        return None
    e = symbol("e")
    expression = sum((s * symbol(n) * e for n, _, s in n_terms), sympy.Integer(0))
    inputs = {n: k for n, k, _ in n_terms} | {"e": scene.work.constant("e")}
    if len(n_terms) == 1:
        expression = n_terms[0][2] * symbol("n") * e
        inputs = {"n": n_terms[0][1], "e": scene.work.constant("e")}
    start = [(i, g) for i, g in scene.all("charge") if body is None or g.of in (body, None)]
    if start and re.search(r"\b(?:original|initial|before|at first)", ask.text):
        expression = symbol("Q_0") - expression
        inputs["Q_0"] = scene.known(start[-1][0])
    elif start:
        expression = expression + symbol("Q_0")
        inputs["Q_0"] = scene.known(start[-1][0])
    known = scene.work.expression(
        CHARGE_COUNT.name, "Q", expression, inputs, "C", f"charge of {body or 'the body'}"
    )
    return [Result(body, known)]


def charge_in_coulombs(scene: Scene) -> Answer | None:
    """A charge given as a multiple of e, asked in coulombs."""
    stated = [(i, g) for i, g in scene.all("charge") if g.quantity.written_unit == "e"]
    charged = scene.charged(scene.ask.stage)
    if len(stated) != 1 or len(charged) != 1 or len(scene.givens) > 2:
        return None
    known = scene.charge(charged[0], scene.ask.stage)
    return [Result(charged[0], known)] if known is not None else None


def charge_of_substance(scene: Scene) -> Answer | None:
    """Positive charge of a mass of atoms: mass over molar mass, times Avogadro, times Z e."""
    molar, mass, protons = scene.one("atomic_mass"), scene.one("mass"), scene.one("proton_count")
    if molar is None or mass is None or protons is None:
        return None
    expression = symbol("m") / (symbol("M") / 1000) * symbol("N_A") * symbol("Z") * symbol("e")
    known = scene.work.expression(
        "charge of all protons",
        "Q",
        expression,
        {
            "m": mass,
            "M": molar,
            "Z": protons,
            "N_A": scene.work.constant("N_A"),
            "e": scene.work.constant("e"),
        },
        "C",
        "positive charge",
    )
    return [Result(None, known)]
