"""Fields, potentials and energies of point charges."""

from __future__ import annotations

import math
import re

import sympy

from solver.derive.engine import Known, Unsolved
from solver.derive.forces import add_vectors, named
from solver.derive.results import Answer, Result, opposite
from solver.derive.scaling import before_and_now
from solver.derive.scene import Scene, unit_vector
from solver.laws.book import symbol
from solver.laws.electrostatics import FORCE_IN_FIELD, PAIR_ENERGY, POINT_FIELD, POINT_POTENTIAL


def charge_from_potential(scene: Scene) -> Answer | None:
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
    return named or [
        b
        for b in scene.charged(scene.ask.stage)
        if b != point and (b in scene.places or scene.distance_given(b, point) is not None)
    ]


def field_elsewhere(scene: Scene) -> Answer | None:
    """The field or potential of the same charge at another distance: E r² and V r stay the same."""
    kinds = {"field": ("field",), "potential": ("potential", "voltage"), "voltage": ("voltage",)}
    fields = [f for kind in kinds.get(scene.ask.kind, ()) for f in scene.all(kind)]
    gaps = scene.all("distance")
    if len(fields) != 1 or len(gaps) != 2 or scene.charged(scene.ask.stage):
        return None
    if len(scene.question.asked) > 1 or scene.earlier or scene.has("plates"):
        return None
    old, new = before_and_now(scene, gaps)
    ratio = symbol("r_1") / symbol("r_2")
    field = scene.ask.kind == "field"
    if scene.ask.wants == "ratio":
        return None
    inputs = {
        "x_1": scene.known(fields[0][0]),
        "r_1": scene.known(old[0]),
        "r_2": scene.known(new[0]),
    }
    known = scene.work.expression(
        "inverse square law" if field else "potential of a point charge",
        "x_2",
        symbol("x_1") * (ratio**2 if field else ratio),
        inputs,
        "N/C" if field else "V",
        f"{scene.ask.kind} at the other distance",
    )
    return [Result(None, known)]


def point_field(scene: Scene) -> Answer | None:
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
        if source not in scene.places:
            raise Unsolved(f"It is not clear where {source} is placed.")
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
    known, vector = add_vectors(scene, "E", parts, f"net field at {point}", "N/C")
    return [Result(None, known, named(scene, vector, point, known.value))]


def _field_at_distance(scene: Scene, body: str) -> Answer | None:
    distance = scene.one("distance")
    charge = scene.charge(body, scene.ask.stage)
    if distance is None or charge is None:
        return None
    known = scene.work.apply(
        POINT_FIELD, "E", {"Q": charge, "r": distance}, "N/C", f"field of {body}"
    )
    return [Result(None, known, f"{'away from' if charge.value > 0 else 'towards'} {body}")]


def field_from_force(scene: Scene) -> Answer | None:
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
    if re.search("[îĵŷ\u0302]", given.quantity.text) and force.direction:
        return [_field_by_components(scene, force, charge)]
    known = scene.work.apply(FORCE_IN_FIELD, "E", {"F": force, "Q": charge}, "N/C", "field")
    direction = None
    if force.direction:
        direction = force.direction if charge.value > 0 else opposite(force.direction)
    return [Result(None, known, direction)]


def _field_by_components(scene: Scene, force: Known, charge: Known) -> Result:
    """E = F/q for each component of a force that is written by components."""
    along = unit_vector(force.direction or "")
    if along is None:
        raise Unsolved("The direction of the force was not understood.")
    parts = {
        f"E_{axis}": scene.work.expression(
            f"field along {axis}",
            f"E_{axis}",
            sympy.Float(part) * symbol("F") / symbol("Q"),
            {"F": force, "Q": charge},
            "N/C",
            f"field, {axis}",
        )
        for axis, part in zip("xy", along, strict=True)
    }
    total = sympy.sqrt(symbol("E_x") ** 2 + symbol("E_y") ** 2)
    known = scene.work.expression("sum of components", "E", total, parts, "N/C", "field")
    direction = force.direction if charge.value > 0 else opposite(force.direction or "")
    return Result(None, known, direction)


def point_potential(scene: Scene) -> Answer | None:
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


def potential_at_point(scene: Scene) -> Answer | None:
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
    return point_potential(scene)


def pair_energy(scene: Scene) -> Answer | None:
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
