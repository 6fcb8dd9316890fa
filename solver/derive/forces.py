"""Coulomb forces of point charges, their sum in a plane, and forces in a field."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

import sympy

from solver.derive.engine import Known, Unsolved
from solver.derive.results import Answer, Result, opposite
from solver.derive.scene import Point, Scene
from solver.laws.book import symbol
from solver.laws.electrostatics import COULOMB, FORCE_IN_FIELD, UNIFORM_FIELD


def coulomb_force(scene: Scene) -> Answer | None:
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
    check_kinds(scene, source, target, q1.value, q2.value)
    return scene.work.apply(
        COULOMB,
        "F",
        {"Q_1": q1, "Q_2": q2, "r": scene.distance(source, target)},
        "N",
        name or f"force between {source} and {target}",
    )


def check_kinds(scene: Scene, a: str, b: str, qa: float, qb: float) -> None:
    for name, product in (("attraction", -1), ("repulsion", 1)):
        for fact in scene.facts:
            if fact.name == name and set(fact.bodies) == {a, b} and qa * qb * product < 0:
                raise Unsolved(
                    f"The givens contradict each other: these charges do not show {name}."
                )


def push(scene: Scene, target: str, source: str) -> Point:
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
        (coulomb(scene, target, s, f"force of {s} on {target}"), push(scene, target, s), s)
        for s in sources
    ]
    known, vector = add_vectors(scene, "F", parts, f"net force on {target}", "N")
    return Result(target, known, named(scene, vector, target, known.value))


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
        return scene.name_direction(push(scene, target, source), target)
    return f"{'away from' if qa.value * qb.value > 0 else 'towards'} {source}"


def named(scene: Scene, vector: Point, at: str, size: float) -> str | None:
    if size == 0 or math.hypot(*vector) == 0:
        return None
    if scene.frame == "shape":
        return None
    return scene.name_direction(vector, at)


def add_vectors(
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


def force_in_field(scene: Scene) -> Answer | None:
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
