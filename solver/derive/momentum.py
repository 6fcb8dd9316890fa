"""Conservation of momentum along one line: collisions, coupling, recoil."""

from __future__ import annotations

import re
from dataclasses import dataclass

import sympy

from parser.worksheet import Fact
from solver.derive.engine import Known, Unsolved
from solver.derive.results import Answer, Result, opposite
from solver.derive.scene import Scene
from solver.laws.book import symbol

_NAME = "conservation of momentum"


@dataclass
class _Body:
    name: str
    mass: Known
    before: Known | None
    after: Known | None
    direction: str | None


def answer(scene: Scene) -> Answer | None:
    """The unknown velocity of a collision or a recoil; None for all else."""
    objects = [f for f in scene.facts if f.name == "object"]
    if len(objects) != 2:
        return None
    if scene.ask.kind in ("kinetic_energy", "energy") and scene.has("stick"):
        return _energy_lost(scene, objects)
    if scene.ask.kind not in ("speed", "final_speed", "recoil_speed", "initial_speed"):
        return None
    if not (scene.has("stick") or scene.has("recoil") or scene.has("collision")):
        return None
    positive = _positive_direction(scene, objects)
    bodies = _bodies(scene, objects, positive)
    if scene.has("stick"):
        return _together(scene, bodies, positive)
    return _apart(scene, bodies, positive)


def _positive_direction(scene: Scene, objects: list[Fact]) -> str | None:
    for fact in objects:
        for key in ("before", "after"):
            index = fact.get(key)
            if isinstance(index, float) and index >= 0:
                direction = scene.question.givens[int(index)].quantity.direction
                if direction:
                    return direction
    return None


_FACING = re.compile(
    r"\bopposite (?:directions?|ways?)\b|\btowards? (?:each other|one another)\b|\bhead-?on\b"
)
_SIDED = re.compile(
    r"\b(?:left|right|north|south|east|west|eastwards?|westwards?|northwards?|southwards?"
    r"|rebounds?|bounces?|backwards?|reversed?|the other way)\b"
)


def _bodies(scene: Scene, objects: list[Fact], positive: str | None) -> list[_Body]:
    """The two bodies; raises where words tell of directions that no velocity has."""
    bodies = [_body(scene, f, positive) for f in objects]
    indices = [i for f in objects for k in ("before", "after") if isinstance(i := f.get(k), float)]
    quantities = [scene.question.givens[int(i)].quantity for i in indices]
    moving = [q for q in quantities if q.value]
    silent = [q for q in moving if not q.direction]
    if any(q.sign for q in moving):
        return bodies
    text = scene.text.lower()
    by_mass = re.search(r"\bthe (?:lighter|heavier|larger|smaller|bigger|more massive)\b", text)
    if by_mass and not scene.has("stick"):
        raise Unsolved("Which of the two bodies is meant was not understood.")
    both = all(b.before is not None and b.before.value for b in bodies)
    if _FACING.search(text) and both and len(silent) == len(moving) == 2:
        second = bodies[1].before
        assert second is not None
        bodies[1].before = scene.work.expression(
            "against the first body", "v", -symbol("v_0"), {"v_0": second}, "m/s", second.label
        )
        return bodies
    if silent and len(moving) > 1 and (_SIDED.search(text) or _FACING.search(text)):
        raise Unsolved("Which way each body moves was not understood.")
    return bodies


def _body(scene: Scene, fact: Fact, positive: str | None) -> _Body:
    return _Body(
        fact.bodies[0],
        scene.known(int(float(fact.get("mass") or 0))),
        _velocity(scene, fact, "before", positive),
        _velocity(scene, fact, "after", positive),
        positive,
    )


def _velocity(scene: Scene, fact: Fact, key: str, positive: str | None) -> Known | None:
    index = fact.get(key)
    if index == "rest":
        return Known(0.0, "m/s", "at rest")
    if not isinstance(index, float):
        return None
    known = scene.known(int(index))
    if known.direction and positive and known.direction == opposite(positive):
        return scene.work.expression(
            "against the positive direction",
            "v",
            -symbol("v_0"),
            {"v_0": known},
            "m/s",
            known.label,
        )
    return known


def _signed(scene: Scene, known: Known, positive: str | None) -> tuple[Known, str | None]:
    """A velocity as a size with its direction when directions are used."""
    if positive is None:
        return known, None
    if known.value >= 0:
        return known, positive
    size = scene.work.expression(
        "size of the velocity", "v", -symbol("v_f"), {"v_f": known}, "m/s", known.label
    )
    return size, opposite(positive)


def _together(scene: Scene, bodies: list[_Body], positive: str | None) -> Answer:
    if any(b.before is None for b in bodies):
        raise Unsolved("The velocity of a body before the collision is missing.")
    m1, m2, u1, u2 = (symbol(n) for n in ("m_1", "m_2", "u_1", "u_2"))
    expression = (m1 * u1 + m2 * u2) / (m1 + m2)
    inputs = {"m_1": bodies[0].mass, "m_2": bodies[1].mass}
    for n, body in enumerate(bodies):
        assert body.before is not None
        inputs[f"u_{n + 1}"] = body.before
    known = scene.work.expression(_NAME, "v", expression, inputs, "m/s", "velocity after")
    size, direction = _signed(scene, known, positive)
    return [Result(None, size, direction)]


_LOST = re.compile(r"\b(?:lost|loss|loses?|dissipated|decrease)\b")


def _energy_lost(scene: Scene, objects: list[Fact]) -> Answer | None:
    """Kinetic energy lost where two bodies go on together."""
    if not _LOST.search(scene.ask.text):
        return None
    positive = _positive_direction(scene, objects)
    bodies = _bodies(scene, objects, positive)
    (after,) = _together(scene, bodies, positive)
    m1, m2, u1, u2, v = (symbol(n) for n in ("m_1", "m_2", "u_1", "u_2", "v"))
    inputs = {"m_1": bodies[0].mass, "m_2": bodies[1].mass, "v": after.known}
    for n, body in enumerate(bodies):
        assert body.before is not None
        inputs[f"u_{n + 1}"] = body.before
    lost = (m1 * u1**2 + m2 * u2**2 - (m1 + m2) * v**2) / 2
    known = scene.work.expression(
        "kinetic energy before and after", "E_lost", lost, inputs, "J", "kinetic energy lost"
    )
    return [Result(None, known)]


def _apart(scene: Scene, bodies: list[_Body], positive: str | None) -> Answer:
    unknown = [b for b in bodies if b.after is None]
    if len(unknown) != 1:
        raise Unsolved("The velocities after the event are not clear.")
    target = unknown[0]
    words = scene.ask.text
    asked_other = next(b for b in bodies if b is not target).name.split()[-1]
    if asked_other in words and target.name.split()[-1] not in words:
        raise Unsolved("It is not clear whose velocity is asked.")
    other = next(b for b in bodies if b is not target)
    if target.before is None or other.before is None:
        if scene.has("recoil"):
            rest = Known(0.0, "m/s", "at rest")
            target.before = target.before or rest
            other.before = other.before or rest
        else:
            raise Unsolved("The velocity of a body before the collision is missing.")
    assert other.after is not None and target.before is not None and other.before is not None
    m1, m2, u1, u2, v1 = (symbol(n) for n in ("m_1", "m_2", "u_1", "u_2", "v_1"))
    expression: sympy.Expr = (m1 * u1 + m2 * u2 - m1 * v1) / m2
    inputs = {
        "m_1": other.mass,
        "m_2": target.mass,
        "u_1": other.before,
        "u_2": target.before,
        "v_1": other.after,
    }
    if other.before.value == 0 and target.before.value == 0:
        expression = -m1 * v1 / m2
        inputs = {"m_1": other.mass, "m_2": target.mass, "v_1": other.after}
    known = scene.work.expression(
        _NAME, "v_2", expression, inputs, "m/s", f"velocity of {target.name}"
    )
    if positive is None and scene.ask.wants != "vector" and "speed" in scene.ask.text:
        known = scene.work.expression(
            "size of the velocity",
            "v",
            sympy.Abs(symbol("v_f")),
            {"v_f": known},
            "m/s",
            known.label,
        )
    size, direction = _signed(scene, known, positive)
    return [Result(target.name, size, direction)]
