"""Answers to the asks of electrostatics that need bodies, places and signs.

Each ``_answer_*`` takes a scene and gives results, or None when the ask is not its business;
``Unsolved`` says why an ask that is its business has no answer.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import sympy

from solver.derive.engine import Known, Unsolved
from solver.derive.scene import Point, Scene
from solver.laws.book import symbol
from solver.laws.electrostatics import (
    CHARGE_COUNT,
    COULOMB,
    EQUAL_COULOMB,
    FORCE_IN_FIELD,
    PAIR_ENERGY,
    POINT_FIELD,
    POINT_POTENTIAL,
    UNIFORM_FIELD,
)
from solver.laws.mechanics import NEWTON_2


@dataclass(frozen=True)
class Result:
    """One result of an ask: whose it is, its value and its direction."""

    of: str | None
    known: Known
    direction: str | None = None


Answer = list[Result]
_UNSUPPORTED = re.compile(
    r"\b(?:half-)?ring\b|\bdis[ck]\b|hemispher|cylind|\barc\b|annul|[îĵ]", re.I
)


def answer(scene: Scene) -> Answer | None:
    """The results of an electrostatic ask, or None when it is not one."""
    if not _is_electric(scene):
        return None
    _check_understood(scene)
    if _UNSUPPORTED.search(scene.text):
        raise Unsolved("Charge spread over such a shape is not in the law book.")
    handlers: dict[str, Sequence[Callable[[Scene], Answer | None]]] = {
        "charge": (
            _partway,
            _charge_of_substance,
            _charge_in_coulombs,
            _charge_from_potential,
            _shared_charge,
            _charge_before,
            _charge_from_count,
            _charge_from_zero_force,
            _charge_from_coulomb,
        ),
        "electron_count": (_electrons,),
        "charge_transferred": (_charge_moved,),
        "force": (_ratio, _scaled, _force_in_field, _force),
        "net_force": (_ratio, _scaled, _force_in_field, _force),
        "field": (_ratio, _field_elsewhere, _field_from_force, _field),
        "potential": (_potential,),
        "voltage": (_potential_at_point,),
        "potential_energy": (_moved_apart, _pair_energy),
        "work": (_moved_apart,),
        "kinetic_energy": (_moved_apart,),
        "speed": (_speeds_by_voltage, _moved_apart),
        "final_speed": (_speeds_by_voltage, _moved_apart),
        "separation": (_zero_place, _scaled_distance, _distance_from_coulomb),
        "distance": (_zero_place, _scaled_distance, _distance_from_coulomb, _distance_from_field),
        "acceleration": (_acceleration,),
    }
    for handler in handlers.get(scene.ask.kind, ()):
        found = handler(scene)
        if found is not None:
            return found
    bodies = {*scene.charged(scene.ask.stage), *([scene.ask.of] if scene.ask.of else [])}
    if scene.ask.kind in ("force", "net_force"):
        bodies |= {b for _, g in scene.all("distance") for b in g.between or ()}
    if (
        scene.ask.kind in ("force", "net_force", "field", "charge", "distance", "separation")
        and len(bodies & set(scene.question.bodies)) >= 2
        and not scene.has("plates")
        and "capacit" not in scene.text
        and not (scene.all("mass") and (scene.all("voltage") or scene.all("emf")))
    ):
        raise Unsolved("The places of the charges, or what acts on them, were not understood.")
    return None


_ON_WHAT = re.compile(
    r"\bcharge (?:is |now |left |remains? |that is )*on (?:the |a "
    r"|an )?([a-z' ]+?)(?: after| now|\?|\.|,|$)"
)


def _check_understood(scene: Scene) -> None:
    """Words that change the physics and that no rule here has read."""
    ask = scene.ask
    if scene.has("unread-event") and ask.stage > 0:
        raise Unsolved("Which bodies touch, and in what order, was not understood.")
    if (
        scene.has("insulating")
        and _contact(scene)
        and ask.stage > 0
        and "stand" not in scene.text
        and "handle" not in scene.text
        and "rod" not in scene.text
    ):
        raise Unsolved("Insulators do not share their charge when they touch.")
    if scene.has("moved") and re.search(
        r"\boriginal (?:distance|separation|place)", scene.question.text
    ):
        raise Unsolved("Which distance holds now was not understood.")
    where = _ON_WHAT.search(ask.text)
    if ask.kind == "charge" and ask.of is None and where:
        noun = where.group(1).split()[-1] if where.group(1).split() else ""
        known = {w for b in scene.question.bodies for w in b.lower().split()}
        if (
            noun.rstrip("s") not in known
            and noun not in known
            and noun
            not in (
                "each",
                "it",
                "them",
                "other",
                "both",
                "body",
                "object",
                "capacitor",
                "plate",
                "plates",
                "two",
                "three",
            )
        ):
            raise Unsolved(f"It is not clear what the {where.group(1)} is.")
    if (
        ask.kind == "net_force"
        and scene.all("mass")
        and (scene.all("field") or scene.all("voltage"))
        and not scene.has("balanced")
    ):
        raise Unsolved("Whether the weight counts in the net force is not clear.")


def _is_electric(scene: Scene) -> bool:
    kinds = {g.kind for _, g in scene.givens}
    electric = {
        "charge",
        "field",
        "electrons_gained",
        "electrons_lost",
        "electron_count",
        "proton_count",
        "line_density",
        "surface_density",
    }
    return bool(
        kinds & electric
        or any(
            f.name in ("contact", "particle", "attraction", "repulsion", "electric")
            for f in scene.facts
        )
        or scene.ask.kind in ("charge", "field", "electron_count", "charge_transferred")
    )


# --- charge on contact, electrons ------------------------------------------------------


def _contact(scene: Scene) -> bool:
    return any(f.name == "contact" for f in scene.facts)


def _shared_charge(scene: Scene) -> Answer | None:
    ask = scene.ask
    if not _contact(scene) or ask.stage == 0:
        return None
    event = [f for f in scene.facts if f.name == "contact"][-1]
    _check_identical(scene)
    if re.search(r"\btotal\b|\bcombined\b|\bsum\b", ask.text):
        return _total_charge(scene, event.bodies)
    if ask.of is None or (ask.of not in event.bodies and ask.of not in scene.question.bodies):
        known = scene.charge(event.bodies[0], ask.stage) if event.bodies else None
        if known is None:
            raise Unsolved("The charge of every body that touches is needed.")
        return [Result("each", known)]
    known = scene.charge(ask.of, ask.stage)
    if known is None:
        return None
    if ask.of not in event.bodies and known.given is not None:
        raise Unsolved(f"It is not clear what the contact does to {ask.of}.")
    return [Result(ask.of, known)]


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


def _charge_before(scene: Scene) -> Answer | None:
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


def _electrons(scene: Scene) -> Answer | None:
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
    moved = _moved_charge(scene)
    if moved is None:
        return None
    if moved.value == 0:
        raise Unsolved("No charge moves; the question was probably not understood.")
    known = scene.work.apply(
        CHARGE_COUNT, "n", {"Q": moved}, "dimensionless", "number of electrons"
    )
    return [Result(ask.of, known)]


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
        before, after = scene.charge(body, event.stage - 1), scene.charge(body, event.stage)
        if before is None:
            raise Unsolved(f"The charge of {body} before contact is missing.")
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


def _charge_moved(scene: Scene) -> Answer | None:
    if not _contact(scene):
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


def _charge_from_count(scene: Scene) -> Answer | None:
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


def _partway(scene: Scene) -> Answer | None:
    """The ratio of two charges whose fields cancel part of the way between them."""
    place = scene.fact("part-way")
    if place is None or not scene.has("zero-field"):
        return None
    part = sympy.nsimplify(float(place.get("fraction") or 0.5), rational=True)
    ratio = ((1 - part) / part) ** 2
    known = scene.work.expression(
        "fields that cancel", "n", ratio, {}, "dimensionless", "ratio of the charges"
    )
    return [Result(None, known)]


def _charge_in_coulombs(scene: Scene) -> Answer | None:
    """A charge given as a multiple of e, asked in coulombs."""
    stated = [(i, g) for i, g in scene.all("charge") if g.quantity.written_unit == "e"]
    charged = scene.charged(scene.ask.stage)
    if len(stated) != 1 or len(charged) != 1 or len(scene.givens) > 2:
        return None
    known = scene.charge(charged[0], scene.ask.stage)
    return [Result(charged[0], known)] if known is not None else None


def _charge_of_substance(scene: Scene) -> Answer | None:
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


def _charge_from_potential(scene: Scene) -> Answer | None:
    """Q = V r / k for a point charge or a charged sphere (near its surface r is the radius)."""
    if scene.has("plates") or any(
        scene.all(k) for k in ("force", "field", "work", "energy", "capacitance", "time", "current")
    ):
        return None
    if any(
        g.ask == scene.index for _, g in scene.givens if g.kind in ("mass", "speed", "final_speed")
    ):
        return None
    voltage = scene.one("voltage") or scene.one("emf")
    if voltage is None:
        return None
    distance = scene.one("distance") or _surface_radius(scene)
    if voltage is None or distance is None or len(scene.charged(scene.ask.stage)) > 0:
        return None
    return [
        Result(
            scene.ask.of,
            scene.work.apply(POINT_POTENTIAL, "Q", {"V": voltage, "r": distance}, "C", "charge"),
        )
    ]


def _moved_apart(scene: Scene) -> Answer | None:
    """Work, energy and speed when one charge moves from one distance of another to a second."""
    charged = scene.charged(scene.ask.stage)
    gaps = scene.all("distance")
    text = scene.text
    if len(charged) != 2 or len({g.quantity.value for _, g in gaps}) != 2:
        return None
    if not re.search(r"mov|reach|from rest|released|brought|away", text):
        return None
    values: list[int] = []
    for i, g in gaps:
        if all(scene.question.givens[v].quantity.value != g.quantity.value for v in values):
            values.append(i)
    q1, q2 = (scene.charge(b, scene.ask.stage) for b in charged)
    if q1 is None or q2 is None:
        return None
    inputs = {
        "k": scene.work.constant("k"),
        "Q_1": q1,
        "Q_2": q2,
        "r_1": scene.known(values[0]),
        "r_2": scene.known(values[1]),
    }
    scene.used.update(i for i, _ in gaps)
    gained = symbol("k") * symbol("Q_1") * symbol("Q_2") * (1 / symbol("r_1") - 1 / symbol("r_2"))
    if scene.ask.kind == "potential_energy":
        if "change" not in scene.ask.text:
            return None
        gained = -gained
    known = scene.work.expression(
        "work of the electric force", "W", gained, inputs, "J", scene.ask.kind.replace("_", " ")
    )
    if scene.ask.kind in ("speed", "final_speed"):
        moving = scene.ask.of if scene.ask.of in charged else None
        mass = scene.mass(moving) or scene.one("mass")
        if mass is None or not scene.has("from-rest"):
            return None
        known = scene.work.expression(
            "work-energy theorem",
            "v",
            sympy.sqrt(2 * symbol("W") / symbol("m")),
            {"W": known, "m": mass},
            "m/s",
            "speed",
        )
    return [Result(scene.ask.of, known)]


def _speeds_by_voltage(scene: Scene) -> Answer | None:
    """The ratio of speeds of two particles from rest through one voltage."""
    if scene.ask.wants != "ratio" or "same" not in scene.text:
        return None
    two = [
        b for b in scene.question.bodies if scene.mass(b) is not None and not b.startswith("extra")
    ][:2]
    if len(two) != 2:
        return None
    m1, m2 = (scene.mass(b) for b in two)
    if m1 is None or m2 is None or m1.value == m2.value:
        return None
    known = scene.work.expression(
        "same kinetic energy",
        "n",
        sympy.sqrt(symbol("m_2") / symbol("m_1")),
        {"m_1": m1, "m_2": m2},
        "dimensionless",
        "ratio",
    )
    return [Result(None, known)]


# --- forces ----------------------------------------------------------------------------


def _force(scene: Scene) -> Answer | None:
    ask = scene.ask
    bodies = _involved(scene)
    if len(bodies) < 2:
        return None
    if ask.of is not None and ask.of in bodies:
        sources = [b for b in ask.due_to if b in bodies and b != ask.of] or [
            b for b in bodies if b != ask.of
        ]
        return [_net_on(scene, ask.of, sources)]
    middle = _described(scene, bodies)
    if middle is not None:
        return [_net_on(scene, middle, [b for b in bodies if b != middle])]
    pair = [b for b in ask.due_to if b in bodies]
    if len(pair) == 2 or len(bodies) == 2:
        first, second = (pair if len(pair) == 2 else bodies)[:2]
        return [Result(None, coulomb(scene, second, first))]
    if ask.kind == "net_force" or len(bodies) > 2:
        if scene.frame == "shape" and _all_alike(scene, bodies):
            return [_net_on(scene, bodies[0], bodies[1:])]
        target = _central(scene, bodies)
        if target is not None:
            return [_net_on(scene, target, [b for b in bodies if b != target])]
        raise Unsolved("It is not clear on which body the force is asked.")
    return None


def _involved(scene: Scene) -> list[str]:
    """Charged bodies that have a place or a distance in the scene, asked-for ones included."""
    charged = scene.charged(scene.ask.stage)
    return [
        b for b in charged if b in scene.places or b == scene.ask.of or b in scene.ask.due_to
    ] or charged


def _described(scene: Scene, bodies: Sequence[str]) -> str | None:
    text = scene.ask.text
    if "middle" in text or "centre charge" in text:
        inside = [b for b in bodies if b in scene.places]
        if len(inside) == 3:
            return sorted(inside, key=lambda b: scene.places[b])[1]
    if "end charge" in text or "one of the end" in text:
        inside = [b for b in bodies if b in scene.places]
        return sorted(inside, key=lambda b: scene.places[b])[0] if len(inside) >= 3 else None
    return None


def _all_alike(scene: Scene, bodies: Sequence[str]) -> bool:
    values = {round(k.value, 20) for b in bodies if (k := scene.charge(b, scene.ask.stage))}
    return len(values) == 1


def _central(scene: Scene, bodies: Sequence[str]) -> str | None:
    for fact in scene.facts:
        if fact.name in ("midpoint", "between") and fact.bodies[0] in bodies:
            return fact.bodies[0]
    return None


def coulomb(scene: Scene, target: str, source: str, name: str = "") -> Known:
    stage = scene.ask.stage
    q1, q2 = scene.charge(source, stage), scene.charge(target, stage)
    if q1 is None or q2 is None:
        raise Unsolved(f"The charge of {source if q1 is None else target} is missing.")
    _check_kinds(scene, source, target, q1.value, q2.value)
    return scene.work.apply(
        COULOMB,
        "F",
        {"Q_1": q1, "Q_2": q2, "r": scene.distance(source, target)},
        "N",
        name or f"force between {source} and {target}",
    )


def _check_kinds(scene: Scene, a: str, b: str, qa: float, qb: float) -> None:
    for name, product in (("attraction", -1), ("repulsion", 1)):
        for fact in scene.facts:
            if fact.name == name and set(fact.bodies) == {a, b} and qa * qb * product < 0:
                raise Unsolved(
                    f"The givens contradict each other: these charges do not show {name}."
                )


def _push(scene: Scene, target: str, source: str) -> Point:
    """Unit vector of the force on the target from the source."""
    (x1, y1), (x2, y2) = scene.places[source], scene.places[target]
    size = math.hypot(x2 - x1, y2 - y1)
    qa, qb = scene.charge(source, scene.ask.stage), scene.charge(target, scene.ask.stage)
    assert qa is not None and qb is not None
    sign = 1.0 if qa.value * qb.value > 0 else -1.0
    return (sign * (x2 - x1) / size, sign * (y2 - y1) / size)


def _net_on(scene: Scene, target: str, sources: Sequence[str]) -> Result:
    """The force of one or several charges on a body, with its direction."""
    if len(sources) > 1 or scene.ask.kind == "net_force":
        _check_placed(scene)
    if scene.ask.kind == "net_force" and not scene.ask.due_to:
        silent = [
            b
            for b in scene.question.bodies
            if b in scene.places
            and re.fullmatch(r"[A-Z]|[Qq]_\{\w+\}", b)
            and scene.charge(b, scene.ask.stage) is None
        ]
        if silent:
            raise Unsolved(f"The charge of {silent[0]} is missing.")
    if len(sources) == 1:
        source = sources[0]
        known = coulomb(scene, target, source, f"force of {source} on {target}")
        return Result(target, known, _pair_direction(scene, target, source))
    if not all(b in scene.places for b in (target, *sources)):
        raise Unsolved("It is not clear where the bodies are placed.")
    parts = [
        (coulomb(scene, target, s, f"force of {s} on {target}"), _push(scene, target, s), s)
        for s in sources
    ]
    known, vector = _add_vectors(scene, "F", parts, f"net force on {target}", "N")
    return Result(target, known, _named(scene, vector, target, known.value))


def _check_placed(scene: Scene) -> None:
    """Every body that a distance is stated for must have found its place."""
    for _, given in scene.all("distance"):
        if given.between and given.stage == scene.ask.stage:
            lost = [
                b for b in given.between if b in scene.question.bodies and b not in scene.places
            ]
            if lost:
                raise Unsolved(f"On which side {lost[0]} stands was not understood.")


def _pair_direction(scene: Scene, target: str, source: str) -> str | None:
    stage = scene.ask.stage
    qa, qb = scene.charge(source, stage), scene.charge(target, stage)
    assert qa is not None and qb is not None
    if qa.value * qb.value == 0:
        return None
    if (
        scene.frame in ("sides", "compass", "xy")
        and target in scene.places
        and source in scene.places
    ):
        return scene.name_direction(_push(scene, target, source), target)
    return f"{'away from' if qa.value * qb.value > 0 else 'towards'} {source}"


def _named(scene: Scene, vector: Point, at: str, size: float) -> str | None:
    if size == 0 or math.hypot(*vector) == 0:
        return None
    if scene.frame == "shape":
        return None
    return scene.name_direction(vector, at)


def _add_vectors(
    scene: Scene, letter: str, parts: Sequence[tuple[Known, Point, str]], label: str, unit: str
) -> tuple[Known, Point]:
    """The vector sum of magnitudes along unit vectors, as one step, and its direction."""
    names = [f"{letter}_{i + 1}" for i in range(len(parts))]
    inputs = {n: p[0] for n, p in zip(names, parts, strict=True)}
    x = sum(p[0].value * p[1][0] for p in parts)
    y = sum(p[0].value * p[1][1] for p in parts)
    largest = max(abs(p[0].value) for p in parts)
    axis = parts[0][1]
    if all(abs(axis[0] * v[1] - axis[1] * v[0]) < 1e-9 for _, v, _ in parts):
        along = [1 if axis[0] * v[0] + axis[1] * v[1] > 0 else -1 for _, v, _ in parts]
        total = sum(s * p[0].value for s, p in zip(along, parts, strict=True))
        if abs(total) < 1e-9 * largest:
            total = 0.0
        if total < 0:
            along = [-s for s in along]
        expression = sum(
            (s * symbol(n) for s, n in zip(along, names, strict=True)), sympy.Integer(0)
        )
        known = scene.work.expression(
            "sum along a line", f"{letter}_net", expression, inputs, unit, label
        )
        if total == 0.0:
            known = _zeroed(scene, known)
        return known, (x, y)
    if (
        len(parts) == 2
        and abs(parts[0][1][0] * parts[1][1][0] + parts[0][1][1] * parts[1][1][1]) < 1e-9
    ):
        expression = sympy.sqrt(symbol(names[0]) ** 2 + symbol(names[1]) ** 2)
        return scene.work.expression(
            "sum at right angles", f"{letter}_net", expression, inputs, unit, label
        ), (x, y)
    ex = sum(
        (sympy.Float(p[1][0]) * symbol(n) for p, n in zip(parts, names, strict=True)),
        sympy.Integer(0),
    )
    ey = sum(
        (sympy.Float(p[1][1]) * symbol(n) for p, n in zip(parts, names, strict=True)),
        sympy.Integer(0),
    )
    kx = scene.work.expression(
        "components to the right", f"{letter}_x", ex, inputs, unit, label + ", x"
    )
    ky = scene.work.expression("components upwards", f"{letter}_y", ey, inputs, unit, label + ", y")
    total_expression = sympy.sqrt(symbol(f"{letter}_x") ** 2 + symbol(f"{letter}_y") ** 2)
    known = scene.work.expression(
        "sum of components",
        f"{letter}_net",
        total_expression,
        {f"{letter}_x": kx, f"{letter}_y": ky},
        unit,
        label,
    )
    if math.hypot(x, y) < 1e-9 * largest:
        known = _zeroed(scene, known)
        return known, (0.0, 0.0)
    return known, (x, y)


def _zeroed(scene: Scene, known: Known) -> Known:
    """A sum that cancels, without the rounding that is left of it."""
    step = scene.work.steps[-1]
    if abs(step.value) < 1e-9 * max(abs(i.value) for i in step.inputs):
        return Known(0.0, known.unit, known.label, step=known.step)
    return known


def _force_in_field(scene: Scene) -> Answer | None:
    ask = scene.ask
    field = external_field(scene)
    if field is None:
        return None
    body = _body_in_field(scene)
    charge = scene.charge(body, ask.stage) if body else None
    if charge is None:
        return None
    known = scene.work.apply(
        FORCE_IN_FIELD, "F", {"Q": charge, "E": field}, "N", f"force on {body}"
    )
    return [Result(body, known, _along_field(field, charge))]


def _along_field(field: Known, charge: Known) -> str | None:
    if field.direction is None:
        return None
    if charge.value >= 0:
        return field.direction
    return opposite(field.direction)


def opposite(direction: str) -> str | None:
    """The opposite of a direction word."""
    pairs = {
        "left": "right",
        "up": "down",
        "north": "south",
        "east": "west",
        "north-east": "south-west",
        "north-west": "south-east",
    }
    both = pairs | {b: a for a, b in pairs.items()}
    if direction in both:
        return both[direction]
    if direction.startswith("towards "):
        return "away from " + direction[8:]
    if direction.startswith("away from "):
        return "towards " + direction[10:]
    if direction.endswith("deg anticlockwise from right"):
        return f"{(float(direction.split()[0]) + 180) % 360:g} deg anticlockwise from right"
    return None


def external_field(scene: Scene) -> Known | None:
    """The field a body is in: stated, found before, or from plates."""
    given = scene.one("field")
    if given is not None:
        return given
    found = scene.prior("field")
    if found is not None:
        return found[0]
    voltage, gap = scene.one("voltage") or scene.one("emf"), scene.one("plate_separation")
    if voltage is not None and gap is not None:
        return scene.work.apply(
            UNIFORM_FIELD, "E", {"V": voltage, "d": gap}, "V/m", "field between the plates"
        )
    return None


def _body_in_field(scene: Scene) -> str | None:
    ask = scene.ask
    charged = scene.charged(ask.stage)
    if ask.of in charged:
        return ask.of
    own = [
        b
        for b in charged
        if any(g.of == b and g.ask == scene.index and g.kind == "charge" for _, g in scene.givens)
        or any(
            f.name == "particle" and f.bodies == (b,) and f.ask == scene.index for f in scene.facts
        )
    ]
    if len(own) == 1:
        return own[0]
    return charged[-1] if charged and (len(charged) == 1 or scene.prior("field")) else None


# --- fields and potentials -------------------------------------------------------------


def _point_asked(scene: Scene) -> str | None:
    ask = scene.ask
    if ask.at and ask.at in scene.places:
        return ask.at
    candidates = [p for p in scene.places if p not in scene.question.bodies]
    if ask.at == "midpoint" and "midpoint" in scene.places:
        return "midpoint"
    if len(candidates) == 1:
        return candidates[0]
    for name in ("point", "midpoint", "centre", "corner"):
        if name in candidates:
            return name
    return None


def _sources(scene: Scene, point: str) -> list[str]:
    named = list(scene.ask.due_to)
    return named or [b for b in scene.charged(scene.ask.stage) if b != point and b in scene.places]


def _field_elsewhere(scene: Scene) -> Answer | None:
    """The field of the same charge at another distance: E r² stays the same."""
    fields, gaps = scene.all("field"), scene.all("distance")
    if len(fields) != 1 or len(gaps) != 2 or scene.charged(scene.ask.stage):
        return None
    if len(scene.question.asked) > 1 or scene.earlier or scene.has("plates"):
        return None
    inputs = {
        "E_1": scene.known(fields[0][0]),
        "r_1": scene.known(gaps[0][0]),
        "r_2": scene.known(gaps[1][0]),
    }
    expression = symbol("E_1") * (symbol("r_1") / symbol("r_2")) ** 2
    known = scene.work.expression(
        "inverse square law", "E_2", expression, inputs, "N/C", "field at the other distance"
    )
    return [Result(None, known)]


def _field(scene: Scene) -> Answer | None:
    if (
        scene.all("field")
        or scene.all("voltage")
        or scene.all("force")
        or scene.all("line_density")
    ):
        return None
    point = _point_asked(scene)
    charged = scene.charged(scene.ask.stage)
    if point is None:
        if len(charged) == 1 and scene.all("distance"):
            return _field_at_distance(scene, charged[0])
        return None
    sources = _sources(scene, point)
    if not sources:
        return None
    parts = []
    for source in sources:
        charge = scene.charge(source, scene.ask.stage)
        if charge is None:
            raise Unsolved(f"The charge of {source} is missing.")
        if charge.value == 0:
            continue
        size = scene.work.apply(
            POINT_FIELD,
            "E",
            {"Q": charge, "r": scene.distance(source, point)},
            "N/C",
            f"field of {source} at {point}",
        )
        (x1, y1), (x2, y2) = scene.places[source], scene.places[point]
        gap = math.hypot(x2 - x1, y2 - y1)
        sign = 1.0 if charge.value > 0 else -1.0
        parts.append((size, (sign * (x2 - x1) / gap, sign * (y2 - y1) / gap), source))
    if len(parts) == 1:
        known, vector, source = parts[0]
        if scene.frame in ("sides", "compass", "xy"):
            return [Result(None, known, scene.name_direction(vector, point))]
        charge = scene.charge(source, scene.ask.stage)
        assert charge is not None
        return [Result(None, known, f"{'away from' if charge.value > 0 else 'towards'} {source}")]
    known, vector = _add_vectors(scene, "E", parts, f"net field at {point}", "N/C")
    return [Result(None, known, _named(scene, vector, point, known.value))]


def _field_at_distance(scene: Scene, body: str) -> Answer | None:
    distance = scene.one("distance")
    charge = scene.charge(body, scene.ask.stage)
    if distance is None or charge is None:
        return None
    known = scene.work.apply(
        POINT_FIELD, "E", {"Q": charge, "r": distance}, "N/C", f"field of {body}"
    )
    return [Result(None, known, f"{'away from' if charge.value > 0 else 'towards'} {body}")]


def _field_from_force(scene: Scene) -> Answer | None:
    """E = F/q with its direction."""
    forces = scene.all("force")
    if len(forces) != 1 or scene.all("distance"):
        return None
    index, given = forces[0]
    charged = scene.charged(scene.ask.stage)
    body = given.of if given.of in charged else (charged[0] if len(charged) == 1 else None)
    if body is None:
        return None
    charge = scene.charge(body, scene.ask.stage)
    assert charge is not None
    force = scene.known(index)
    known = scene.work.apply(FORCE_IN_FIELD, "E", {"F": force, "Q": charge}, "N/C", "field")
    direction = None
    if force.direction:
        direction = force.direction if charge.value > 0 else opposite(force.direction)
    return [Result(None, known, direction)]


def _potential(scene: Scene) -> Answer | None:
    point = _point_asked(scene)
    charged = scene.charged(scene.ask.stage)
    if point is None:
        radius = _surface_radius(scene)
        distance = scene.one("distance") or radius
        if len(charged) == 1 and distance is not None:
            charge = scene.charge(charged[0], scene.ask.stage)
            assert charge is not None
            return [
                Result(
                    None,
                    scene.work.apply(
                        POINT_POTENTIAL, "V", {"Q": charge, "r": distance}, "V", "potential"
                    ),
                )
            ]
        return None
    sources = _sources(scene, point)
    parts: dict[str, Known] = {}
    for n, source in enumerate(sources):
        charge = scene.charge(source, scene.ask.stage)
        if charge is None:
            raise Unsolved(f"The charge of {source} is missing.")
        parts[f"V_{n + 1}"] = scene.work.apply(
            POINT_POTENTIAL,
            "V",
            {"Q": charge, "r": scene.distance(source, point)},
            "V",
            f"potential of {source}",
        )
    if not parts:
        return None
    if len(parts) == 1:
        return [Result(None, next(iter(parts.values())))]
    total = sum((symbol(n) for n in parts), sympy.Integer(0))
    return [
        Result(
            None,
            scene.work.expression(
                "sum of potentials", "V", total, parts, "V", f"potential at {point}"
            ),
        )
    ]


def _surface_radius(scene: Scene) -> Known | None:
    radius = scene.one("radius")
    if radius is not None:
        return radius
    diameter = scene.one("diameter")
    if diameter is None:
        return None
    return scene.work.expression(
        "half the diameter", "r", symbol("d") / 2, {"d": diameter}, "m", "radius"
    )


def _potential_at_point(scene: Scene) -> Answer | None:
    """ "the voltage 5 cm from a charged sphere" is a potential."""
    if (
        scene.has("plates")
        or scene.all("capacitance")
        or scene.all("work")
        or scene.all("energy")
        or scene.all("field")
        or scene.all("force")
    ):
        return None
    if not scene.charged(scene.ask.stage):
        return None
    return _potential(scene)


def _pair_energy(scene: Scene) -> Answer | None:
    bodies = scene.charged(scene.ask.stage)
    if len(bodies) != 2 or not scene.all("distance"):
        return None
    gaps = scene.all("distance")
    if len(gaps) > 1 and len({g.quantity.value for _, g in gaps if g.ask == gaps[-1][1].ask}) > 1:
        return None
    q1, q2 = (scene.charge(b, scene.ask.stage) for b in bodies)
    if q1 is None or q2 is None:
        return None
    known = scene.work.apply(
        PAIR_ENERGY,
        "U",
        {"Q_1": q1, "Q_2": q2, "r": scene.distance(*bodies)},
        "J",
        "potential energy",
    )
    return [Result(None, known)]


# --- unknown charges and distances -----------------------------------------------------


def _pair_force(scene: Scene) -> Known | None:
    found = scene.all("force") or scene.all("net_force")
    if found:
        newest = [f for f in found if f[1].ask == found[-1][1].ask]
        if len(newest) > 1:
            raise Unsolved("Several forces are given.")
        return scene.known(found[-1][0])
    return None


def _charge_from_coulomb(scene: Scene) -> Answer | None:
    """An unknown charge of a pair from the force and the distance, with its sign."""
    force = _pair_force(scene)
    if force is None or scene.all("field"):
        return None
    gaps = [(i, g) for i, g in scene.all("distance")]
    if not gaps:
        return None
    distance = scene.known(gaps[-1][0])
    if len({g.quantity.value for _, g in gaps}) > 1:
        raise Unsolved("Several distances are given.")
    charged = list(scene.charged(scene.ask.stage))
    if not charged:
        ratio = scene.fact("charge-ratio")
        if ratio is not None:
            return _charges_in_ratio(scene, force, distance, float(ratio.get("factor") or 1.0))
        if not (scene.has("equal-charges") or scene.has("identical")):
            return None
        known = scene.work.apply(
            EQUAL_COULOMB, "Q", {"F": force, "r": distance}, "C", "charge of each"
        )
        return [Result("each", known)]
    if len(charged) != 1:
        return None
    q1 = scene.charge(charged[0], scene.ask.stage)
    assert q1 is not None
    unknown = (
        scene.ask.of
        if scene.ask.of not in (charged[0], None)
        else next((b for b in scene.question.bodies if b != charged[0]), None)
    )
    known = scene.work.apply(
        COULOMB,
        "Q_2",
        {"F": force, "Q_1": q1, "r": distance},
        "C",
        f"charge of {unknown or 'the other'}",
    )
    sign = _unknown_sign(scene, q1.value)
    if sign < 0 and scene.ask.wants != "magnitude":
        known = scene.work.expression(
            "sign of the charge", "Q", -symbol("Q_2"), {"Q_2": known}, "C", known.label
        )
    return [Result(unknown, known)]


def _charges_in_ratio(scene: Scene, force: Known, distance: Known, factor: float) -> Answer:
    k = scene.work.constant("k")
    small = symbol("r") * sympy.sqrt(symbol("F") / (sympy.Float(factor) * symbol("k")))
    known = scene.work.expression(
        COULOMB.name, "Q", small, {"F": force, "r": distance, "k": k}, "C", "smaller charge"
    )
    if "larger" in scene.ask.text or "bigger" in scene.ask.text or "greater" in scene.ask.text:
        known = scene.work.expression(
            "the larger charge",
            "Q",
            sympy.Float(factor) * symbol("Q_1"),
            {"Q_1": known},
            "C",
            "larger charge",
        )
    return [Result(None, known)]


def _unknown_sign(scene: Scene, other: float) -> int:
    if scene.has("attraction"):
        return -1 if other > 0 else 1
    if scene.has("repulsion"):
        return 1 if other > 0 else -1
    return 1


def _charge_from_zero_force(scene: Scene) -> Answer | None:
    """The charge that makes the net force on another body zero (bodies on one line)."""
    zero = scene.fact("zero-force")
    if zero is None:
        return None
    target = zero.bodies[0] if zero.bodies else None
    stage = scene.ask.stage
    charged = scene.charged(stage)
    unknown = scene.ask.of
    if target is None or unknown is None or unknown in charged:
        return None
    others = [b for b in charged if b not in (target, unknown)]
    if len(others) != 1 or not all(b in scene.places for b in (target, unknown, others[0])):
        return None
    source = others[0]
    charge = scene.charge(source, stage)
    assert charge is not None
    r1, r2 = scene.distance(source, target), scene.distance(unknown, target)
    between = (scene.places[source][0] - scene.places[target][0]) * (
        scene.places[unknown][0] - scene.places[target][0]
    ) < 0
    sign = 1 if between else -1
    known = scene.work.expression(
        "forces that cancel",
        "Q",
        sign * symbol("Q_1") * (symbol("r_2") / symbol("r_1")) ** 2,
        {"Q_1": charge, "r_1": r1, "r_2": r2},
        "C",
        f"charge of {unknown}",
    )
    return [Result(unknown, known)]


def _distance_from_coulomb(scene: Scene) -> Answer | None:
    force = _pair_force(scene)
    charged = scene.charged(scene.ask.stage)
    if force is None or len(charged) != 2 or scene.all("distance"):
        return None
    q1, q2 = (scene.charge(b, scene.ask.stage) for b in charged)
    if q1 is None or q2 is None:
        return None
    _check_kinds(scene, charged[0], charged[1], q1.value, q2.value)
    known = scene.work.apply(COULOMB, "r", {"F": force, "Q_1": q1, "Q_2": q2}, "m", "distance")
    return [Result(None, known)]


def _distance_from_field(scene: Scene) -> Answer | None:
    charged = scene.charged(scene.ask.stage)
    moving = any(
        scene.all(k) for k in ("speed", "initial_speed", "final_speed", "time", "acceleration")
    )
    if len(charged) != 1 or scene.all("distance") or scene.has("plates") or moving:
        return None
    charge = scene.charge(charged[0], scene.ask.stage)
    assert charge is not None
    field, voltage = scene.one("field"), scene.one("voltage") or scene.one("emf")
    if field is not None and voltage is None:
        return [
            Result(
                None, scene.work.apply(POINT_FIELD, "r", {"E": field, "Q": charge}, "m", "distance")
            )
        ]
    if voltage is not None and field is None:
        return [
            Result(
                None,
                scene.work.apply(
                    POINT_POTENTIAL, "r", {"V": voltage, "Q": charge}, "m", "distance"
                ),
            )
        ]
    return None


def _zero_place(scene: Scene) -> Answer | None:
    """Where on the line through two charges the field (or the force on a third) is zero."""
    if (
        not scene.has("zero-field")
        and not scene.has("zero-force")
        and scene.ask.wants != "position"
    ):
        return None
    if not (scene.has("zero-field") or scene.has("zero-force")):
        return None
    charged = list(scene.charged(scene.ask.stage))
    if len(charged) != 2:
        return None
    start = _measured_from(scene, charged)
    other = next(b for b in charged if b != start)
    q1, q2 = scene.charge(start, scene.ask.stage), scene.charge(other, scene.ask.stage)
    assert q1 is not None and q2 is not None
    d = scene.distance(start, other)
    s1, s2, gap = sympy.Abs(symbol("Q_1")), sympy.Abs(symbol("Q_2")), symbol("d")
    if q1.value * q2.value > 0:
        expression = gap / (1 + sympy.sqrt(s2 / s1))
    elif abs(q1.value) < abs(q2.value):
        expression = gap / (sympy.sqrt(s2 / s1) - 1)
    elif abs(q1.value) > abs(q2.value):
        expression = gap / (1 - sympy.sqrt(s2 / s1))
    else:
        raise Unsolved("Equal and opposite charges have no such point.")
    known = scene.work.expression(
        "where the fields cancel",
        "x",
        expression,
        {"Q_1": q1, "Q_2": q2, "d": d},
        "m",
        f"distance from {start}",
    )
    return [Result(None, known)]


def _measured_from(scene: Scene, charged: Sequence[str]) -> str:
    ask = scene.ask
    if ask.of in charged:
        return str(ask.of)
    for fact in scene.facts:
        if fact.name == "measured-from" and fact.bodies and fact.bodies[0] in charged:
            return fact.bodies[0]
    sizes = {b: abs(k.value) for b in charged if (k := scene.charge(b, ask.stage))}
    if "smaller" in ask.text:
        return min(charged, key=lambda b: sizes[b])
    if "larger" in ask.text or "bigger" in ask.text:
        return max(charged, key=lambda b: sizes[b])
    origin = next((f.bodies[0] for f in scene.facts if f.name == "at" and f.get("x") == 0.0), None)
    if origin in charged:
        return str(origin)
    raise Unsolved("It is not said from which charge the place is measured.")


# --- ratios ----------------------------------------------------------------------------


def _scale(scene: Scene) -> tuple[sympy.Expr, dict[str, Known]] | None:
    """The factor by which a Coulomb force or field changes, from the changes stated."""
    factor: sympy.Expr = sympy.Integer(1)
    seen = False
    for fact in scene.facts:
        if fact.name != "scaled":
            continue
        value = sympy.nsimplify(float(fact.get("factor") or 1.0), rational=True)
        thing = fact.get("thing")
        if thing == "distance":
            factor = factor / value**2
        elif thing == "one-charge":
            factor = factor * value
        elif thing == "both-charges":
            factor = factor * (value**2 if scene.ask.kind != "field" else value)
        else:
            raise Unsolved("It is not clear what is scaled.")
        seen = True
    scene.scaled_used |= seen
    return (factor, {}) if seen else None


def _ratio(scene: Scene) -> Answer | None:
    if scene.ask.wants != "ratio" and not scene.has("symbolic-force"):
        return None
    if scene.all("force") and scene.ask.wants != "ratio":
        return None
    shared = _symbolic_contact(scene)
    if shared is not None:
        return shared
    scale = _scale(scene)
    if scale is None:
        return None
    expression, _ = scale
    if "percent" in scene.ask.text:
        expression = expression - 1
        known = scene.work.expression(
            "relative change", "x", expression, {}, "dimensionless", "relative change"
        )
        return [Result(None, known)]
    known = scene.work.expression(
        "inverse square law", "n", expression, {}, "dimensionless", "ratio"
    )
    return [Result(None, known)]


def _symbolic_contact(scene: Scene) -> Answer | None:
    """Charges given as multiples of q that touch: the force before and after as a ratio."""
    multiples = {
        f.bodies[0]: float(f.get("factor") or 0.0)
        for f in scene.facts
        if f.name == "multiple" and f.bodies
    }
    if len(multiples) < 2 or not _contact(scene):
        return None
    a, b = list(multiples.values())[:2]
    if a * b == 0:
        return None
    new = (sympy.nsimplify(a) + sympy.nsimplify(b)) / 2
    expression = sympy.Abs(new**2 / (sympy.nsimplify(a) * sympy.nsimplify(b)))
    scale = _scale(scene)
    if scale is not None:
        expression = expression * scale[0]
    known = scene.work.expression(
        "force after contact", "n", expression, {}, "dimensionless", "ratio"
    )
    return [Result(None, known)]


def _scaled(scene: Scene) -> Answer | None:
    """A new force from the old one and the change of distance or charge."""
    forces = scene.all("force")
    if (
        len(forces) != 1
        or scene.charged(scene.ask.stage)
        and len(scene.charged(scene.ask.stage)) >= 2
    ):
        return None
    force = scene.known(forces[0][0])
    distances = [(i, g) for i, g in scene.all("distance")]
    scale = _scale(scene)
    if len(distances) == 2 and scale is None:
        r1, r2 = scene.known(distances[0][0]), scene.known(distances[1][0])
        known = scene.work.expression(
            "inverse square law",
            "F_2",
            symbol("F_1") * symbol("r_1") ** 2 / symbol("r_2") ** 2,
            {"F_1": force, "r_1": r1, "r_2": r2},
            "N",
            "new force",
        )
        return [Result(None, known)]
    if scale is None:
        return None
    known = scene.work.expression(
        "inverse square law", "F_2", scale[0] * symbol("F_1"), {"F_1": force}, "N", "new force"
    )
    return [Result(None, known)]


def _scaled_distance(scene: Scene) -> Answer | None:
    """A new distance from two forces and the old distance; or the factor of the distance."""
    factors = [(i, g) for i, g in scene.all("force_factor")]
    if scene.ask.wants == "ratio" and (factors or scene.has("scaled")):
        if factors:
            n = scene.known(factors[0][0])
            if scene.has("closer"):
                known = scene.work.expression(
                    "inverse square law",
                    "x",
                    sympy.sqrt(symbol("n")),
                    {"n": n},
                    "dimensionless",
                    "factor",
                )
            else:
                known = scene.work.expression(
                    "inverse square law",
                    "x",
                    1 / sympy.sqrt(symbol("n")),
                    {"n": n},
                    "dimensionless",
                    "factor",
                )
            return [Result(None, known)]
        scaled = [f for f in scene.facts if f.name == "scaled" and f.get("thing") == "force"]
        if scaled:
            scene.scaled_used = True
            value = sympy.nsimplify(float(scaled[-1].get("factor") or 1.0), rational=True)
            known = scene.work.expression(
                "inverse square law", "x", 1 / sympy.sqrt(value), {}, "dimensionless", "factor"
            )
            return [Result(None, known)]
    forces, gaps = scene.all("force"), scene.all("distance")
    added = scene.all("distance_added")
    if len(forces) == 2 and len(added) == 1 and not gaps:
        f1, f2, x = scene.known(forces[0][0]), scene.known(forces[1][0]), scene.known(added[0][0])
        known = scene.work.expression(
            "inverse square law",
            "r",
            symbol("x") / (sympy.sqrt(symbol("F_1") / symbol("F_2")) - 1),
            {"F_1": f1, "F_2": f2, "x": x},
            "m",
            "original distance",
        )
        return [Result(None, known)]
    if len(forces) == 2 and len(gaps) == 1:
        f1, f2, r1 = scene.known(forces[0][0]), scene.known(forces[1][0]), scene.known(gaps[0][0])
        known = scene.work.expression(
            "inverse square law",
            "r_2",
            symbol("r_1") * sympy.sqrt(symbol("F_1") / symbol("F_2")),
            {"F_1": f1, "F_2": f2, "r_1": r1},
            "m",
            "new distance",
        )
        return [Result(None, known)]
    return None


# --- acceleration of charges -----------------------------------------------------------


def _acceleration(scene: Scene) -> Answer | None:
    if scene.all("initial_speed") or scene.all("final_speed"):
        return None
    found = _force_in_field(scene)
    if found is None and len(scene.charged(scene.ask.stage)) >= 2 and scene.all("distance"):
        bodies = scene.charged(scene.ask.stage)
        found = [Result(None, coulomb(scene, bodies[1], bodies[0]))]
    if found is None:
        return None
    body = scene.ask.of or found[0].of or scene.charged(scene.ask.stage)[0]
    mass = scene.mass(body)
    if mass is None:
        raise Unsolved(f"The mass of {body} is missing.")
    prior = scene.prior("force")
    force = prior[0] if prior is not None and scene.all("force") == [] else found[0].known
    known = scene.work.apply(
        NEWTON_2, "a", {"F_net": force, "m": mass}, "m/s**2", f"acceleration of {body}"
    )
    return [Result(body, known, found[0].direction)]
