"""Unknown charges, distances and places from a force or a field."""

from __future__ import annotations

from collections.abc import Sequence

import sympy

from solver.derive.engine import Known, Unsolved
from solver.derive.forces import check_kinds
from solver.derive.results import Answer, Result
from solver.derive.scene import Scene
from solver.laws.book import symbol
from solver.laws.electrostatics import COULOMB, EQUAL_COULOMB, POINT_FIELD, POINT_POTENTIAL


def ratio_from_null_point(scene: Scene) -> Answer | None:
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


def _pair_force(scene: Scene) -> Known | None:
    found = scene.all("force") or scene.all("net_force")
    if found:
        newest = [f for f in found if f[1].ask == found[-1][1].ask]
        if len(newest) > 1:
            raise Unsolved("Several forces are given.")
        return scene.known(found[-1][0])
    return None


def charge_from_coulomb(scene: Scene) -> Answer | None:
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


def charge_from_zero_force(scene: Scene) -> Answer | None:
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


def distance_from_coulomb(scene: Scene) -> Answer | None:
    force = _pair_force(scene)
    charged = scene.charged(scene.ask.stage)
    if force is None or len(charged) != 2 or scene.all("distance"):
        return None
    q1, q2 = (scene.charge(b, scene.ask.stage) for b in charged)
    if q1 is None or q2 is None:
        return None
    check_kinds(scene, charged[0], charged[1], q1.value, q2.value)
    known = scene.work.apply(COULOMB, "r", {"F": force, "Q_1": q1, "Q_2": q2}, "m", "distance")
    return [Result(None, known)]


def distance_from_field(scene: Scene) -> Answer | None:
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


def zero_place(scene: Scene) -> Answer | None:
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
