"""Charges that move: work, speed and acceleration."""

from __future__ import annotations

import re

import sympy

from solver.derive.engine import Unsolved
from solver.derive.forces import coulomb, force_in_field
from solver.derive.results import Answer, Result
from solver.derive.scene import Scene
from solver.laws.book import symbol
from solver.laws.mechanics import NEWTON_2


def moved_apart(scene: Scene) -> Answer | None:
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


def speeds_by_voltage(scene: Scene) -> Answer | None:
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


def acceleration_of_charge(scene: Scene) -> Answer | None:
    if scene.all("initial_speed") or scene.all("final_speed"):
        return None
    found = force_in_field(scene)
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
