"""How a force or field changes when distances and charges change."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import sympy

from parser.worksheet import Fact, Given
from solver.derive.contact import has_contact
from solver.derive.engine import Known, Unsolved
from solver.derive.results import Answer, Result
from solver.derive.scene import Scene
from solver.laws.book import symbol

# asked kind -> what may change, and the power of it that the result goes with
_COULOMB = {"distance": -2, "one-charge": 1, "both-charges": 2, "dielectric": -1}
_POWERS: Mapping[str, Mapping[str, int]] = {
    "force": _COULOMB,
    "net_force": _COULOMB,
    "field": {"distance": -2, "one-charge": 1, "both-charges": 1, "dielectric": -1},
    "potential": {"distance": -1, "one-charge": 1, "both-charges": 1},
    "potential_energy": {"distance": -1, "one-charge": 1, "both-charges": 2, "dielectric": -1},
}
_PLATES_FIELD = {"voltage": 1, "distance": -1}
_CAPACITANCE = {"distance": -1, "area": 1, "dielectric": 1}
_MOTION: Mapping[str, Mapping[str, int]] = {
    "acceleration": {"force": 1, "mass": -1},
    "kinetic_energy": {"mass": 1, "speed": 2},
    "momentum": {"mass": 1, "speed": 1},
}
_ISOLATED = re.compile(
    r"disconnect|isolat|removed from (?:the|its) (?:battery|supply|source|cell)|taken off the"
)
_STILL_CONNECTED = re.compile(
    r"(?:remains?|still|stays?|kept|left|while) (?:it is |they are )?(?:still )?connected"
    r"|(?:voltage|p\.?d\.?|potential difference) (?:is )?(?:kept|held|stays|remains)"
)


def powers_of(scene: Scene) -> Mapping[str, int] | None:
    """With which power of each thing that may change the asked quantity goes."""
    kind = scene.ask.kind
    text = scene.text.lower()
    if "capacit" in text:
        return _capacitor_powers(kind, text)
    if kind == "field" and scene.has("plates"):
        return _PLATES_FIELD
    if kind in _MOTION:
        return _MOTION[kind]
    electric = any(scene.has(f) for f in ("electric", "attraction", "repulsion"))
    if kind in ("force", "net_force") and not electric:
        return None
    return _POWERS.get(kind)


def _capacitor_powers(kind: str, text: str) -> Mapping[str, int] | None:
    isolated, connected = _ISOLATED.search(text), _STILL_CONNECTED.search(text)
    if kind == "capacitance":
        return _CAPACITANCE
    if kind == "energy" and not isolated and not connected:
        return {"voltage": 2, "capacitance": 1}
    if bool(isolated) == bool(connected):
        return None
    sign = -1 if isolated else 1
    if (kind == "voltage" and isolated) or (kind == "charge" and connected) or kind == "energy":
        return {thing: sign * power for thing, power in _CAPACITANCE.items()}
    return None


_ADDS_UP = re.compile(r"\b(?:now|then|also|again|further|next|in addition)\b")
_AFRESH = re.compile(r"\b(?:if|would|were|instead|original|initial|only|what happens)\b")


def changes_for(scene: Scene) -> list[Fact]:
    """The changes of scale that hold for this ask; raises when it is not clear which do."""
    scaled = [f for f in scene.facts if f.name == "scaled"]
    part = max((f.ask for f in scaled if f.ask is not None), default=None)
    own = [f for f in scaled if f.ask is None or f.ask == part]
    if len(own) < len(scaled):
        text = scene.ask.text + " " + scene.question.text.lower()
        if _AFRESH.search(text):
            return own
        if not _ADDS_UP.search(text):
            raise Unsolved("It is not clear whether the changes of the parts before still hold.")
    return scaled


def factor_of_changes(scene: Scene, changes: Sequence[Fact]) -> sympy.Expr:
    """The factor by which the asked quantity changes."""
    powers = powers_of(scene)
    factor: sympy.Expr = sympy.Integer(1)
    for fact in changes:
        value = sympy.nsimplify(float(fact.get("factor") or 1.0), rational=True)
        thing = str(fact.get("thing"))
        if powers is None or thing not in powers:
            raise Unsolved("It is not clear how the change acts on what is asked.")
        factor = factor * value ** powers[thing]
    return factor


@dataclass(frozen=True)
class Change:
    """A factor on the asked quantity; ``givens`` are those that only the change uses."""

    factor: sympy.Expr
    inputs: Mapping[str, Known]
    givens: frozenset[int]


_TAKEN_OUT = re.compile(r"(?:removed|pulled out|withdrawn|taken out|slid out)")


def change_of(scene: Scene) -> Change | None:
    """All that changes the asked quantity by a factor; None when nothing does."""
    changes = changes_for(scene)
    factor = factor_of_changes(scene, changes)
    inputs: dict[str, Known] = {}
    slabs = scene.all("dielectric_constant")
    powers = powers_of(scene)
    if len(slabs) == 1 and powers is not None and "dielectric" in powers:
        power = powers["dielectric"]
        if _TAKEN_OUT.search(scene.text.lower().replace("removed from", "")):
            power = -power
        inputs["κ"] = scene.known(slabs[0][0])
        factor = factor * symbol("κ") ** power
    elif not changes:
        return None
    return Change(factor, inputs, frozenset(i for i, _ in slabs) if inputs else frozenset())


def stated_base(scene: Scene, change: Change) -> tuple[Known, str | None, str | None] | None:
    """The asked quantity as the text gives it, before the change."""
    kinds = ("force", "net_force") if scene.ask.kind == "force" else (scene.ask.kind,)
    if scene.ask.kind == "voltage":
        kinds = ("voltage", "emf")
    found = [f for kind in kinds for f in scene.all(kind)]
    if not found:
        return None
    names = [(g.kind, g.of, g.between) for i, g in scene.givens if i not in change.givens]
    loose = [g for _, g in scene.givens if g.kind in ("number", "unknown", "factor")]
    newer = [g for i, g in scene.givens if i != found[0][0] and i not in change.givens and g.stage]
    if len(found) != 1 or len(set(names)) != len(names) or loose or newer:
        raise Unsolved("Which of the values holds after the change is not clear.")
    known = scene.known(found[0][0])
    return known, known.direction, found[0][1].of


def before_and_now(
    scene: Scene, pair: Sequence[tuple[int, Given]]
) -> tuple[tuple[int, Given], tuple[int, Given]]:
    """Two values of one kind, the one that the ask itself names last; else as told."""
    first, second = pair
    named = [p for p in pair if p[1].quantity.text in scene.ask.text]
    if len(named) == 2:
        raise Unsolved("Which value goes with which was not understood.")
    return (second, first) if named and named[0] is first else (first, second)


def stated_scale(scene: Scene) -> tuple[sympy.Expr, dict[str, Known]] | None:
    """The factor by which a Coulomb force or field changes, from the changes stated."""
    changes = changes_for(scene)
    if not changes:
        return None
    scene.scaled_used = True
    return factor_of_changes(scene, changes), {}


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
        old, new = before_and_now(scene, distances)
        r1, r2 = scene.known(old[0]), scene.known(new[0])
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
            scene.scaled_used = True
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
        old, new = before_and_now(scene, forces)
        f1, f2, r1 = scene.known(old[0]), scene.known(new[0]), scene.known(gaps[0][0])
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
