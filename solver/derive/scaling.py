"""How a force or field changes when distances and charges change."""

from __future__ import annotations

import sympy

from solver.derive.contact import has_contact
from solver.derive.engine import Known, Unsolved
from solver.derive.results import Answer, Result
from solver.derive.scene import Scene
from solver.laws.book import symbol


def stated_scale(scene: Scene) -> tuple[sympy.Expr, dict[str, Known]] | None:
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


def ratio_of_changes(scene: Scene) -> Answer | None:
    if scene.ask.wants != "ratio" and not scene.has("symbolic-force"):
        return None
    if scene.all("force") and scene.ask.wants != "ratio":
        return None
    shared = _symbolic_contact(scene)
    if shared is not None:
        return shared
    scale = stated_scale(scene)
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
    if len(multiples) < 2 or not has_contact(scene):
        return None
    a, b = list(multiples.values())[:2]
    if a * b == 0:
        return None
    new = (sympy.nsimplify(a) + sympy.nsimplify(b)) / 2
    expression = sympy.Abs(new**2 / (sympy.nsimplify(a) * sympy.nsimplify(b)))
    scale = stated_scale(scene)
    if scale is not None:
        expression = expression * scale[0]
    known = scene.work.expression(
        "force after contact", "n", expression, {}, "dimensionless", "ratio"
    )
    return [Result(None, known)]


def changed_force(scene: Scene) -> Answer | None:
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
    scale = stated_scale(scene)
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


def changed_distance(scene: Scene) -> Answer | None:
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
