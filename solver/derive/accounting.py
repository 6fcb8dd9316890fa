"""Has every number and every change that the question states been accounted for?

A number that nothing used is harmless when it describes something the result cannot depend
on (the mass of a sphere in a Coulomb question). Otherwise the question was probably not
understood, and says so.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from parser.worksheet import Asked, Given, Question
from solver.derive.engine import Unsolved
from solver.derive.scene import Prior, Scene
from solver.findings import Derivation

# kinds that may stand unused beside any electrostatic result
_HARMLESS_ELECTRIC = frozenset(
    [
        "mass",
        "radius",
        "diameter",
        "length",
        "thickness",
        "height",
        "side",
        "area",
        "time",
        "temperature",
        "gravity",
        "density",
        "volume",
    ]
)
# kinds that may stand unused beside a result that is not about electric charge
_HARMLESS = frozenset(["radius", "diameter", "length", "thickness", "temperature", "amplitude"])


def check(scene: Scene, derivation: Derivation, prior: Mapping[tuple[str, int], Prior]) -> None:
    """Raise ``Unsolved`` when a given that should matter was not used."""
    used = _used(derivation, scene.question, prior)
    names = {(g.kind, g.quantity.value) for i, g in enumerate(scene.question.givens) if i in used}
    for index, given in scene.givens:
        if index in used | scene.idle or (given.kind, given.quantity.value) in names:
            continue
        if given.quantity.written_unit == "e" and index in scene.used:
            continue
        if given.kind == "surface_density" and (given.kind, -given.quantity.value) in names:
            continue
        if _said_twice(scene, given, used):
            continue
        if _must_matter(scene, given, used):
            raise Unsolved(f"It is not clear what {given.quantity.text} has to do with this ask.")
    _changes(scene)


# kinds that change an electrostatic result wherever they stand
_ACTS = frozenset(
    ["charge", "distance", "field", "voltage", "emf", "force", "capacitance", "dielectric_constant"]
)


def left_over(
    scene: Scene, derivations: Sequence[Derivation], prior: Mapping[tuple[str, int], Prior]
) -> list[Given]:
    """Givens of the whole question that none of its derivations used and that act on bodies."""
    used: set[int] = set()
    for derivation in derivations:
        used |= _used(derivation, scene.question, prior)
    names = {(g.kind, g.quantity.value) for i, g in enumerate(scene.question.givens) if i in used}
    out = []
    for index, given in scene.givens:
        if index in used or (given.kind, given.quantity.value) in names or given.ask is not None:
            continue
        if given.kind not in _ACTS or given.quantity.written_unit == "e":
            continue
        if _said_twice(scene, given, used) or _is_coordinate(scene, given):
            continue
        if given.kind == "distance" and _fits_the_places(scene, given):
            continue
        if given.stage not in (0, scene.ask.stage):
            continue
        out.append(given)
    return out


def _said_twice(scene: Scene, given: Given, used: set[int]) -> bool:
    """ "4.0 km/h (1.12 m/s)" restated later: close to a used quantity of the same unit."""
    return any(
        g.quantity.unit == given.quantity.unit != "dimensionless"
        and g.quantity.written_unit != given.quantity.written_unit
        and abs(g.quantity.value - given.quantity.value) <= 0.02 * abs(given.quantity.value)
        for i, g in enumerate(scene.question.givens)
        if i in used
    )


def _used(
    derivation: Derivation, question: Question, prior: Mapping[tuple[str, int], Prior]
) -> set[int]:
    """Indices of this question's givens that the result rests on; earlier parts count too."""
    used: set[int] = set()
    values: set[tuple[str, float]] = set()
    stack = [derivation]
    while stack:
        for step in stack.pop().steps:
            for one in step.inputs:
                if one.given is not None:
                    used.add(one.given)
                    if one.quantity is not None:
                        values.add((one.quantity.text, one.quantity.value))
                before = prior.get(one.earlier) if one.earlier else None
                if before is not None and before.expected.derivation is not None:
                    stack.append(before.expected.derivation)
    for index, given in enumerate(question.givens):
        if (given.quantity.text, given.quantity.value) in values:
            used.add(index)
    return used


def _must_matter(scene: Scene, given: Given, used: set[int]) -> bool:
    ask = scene.ask
    if given.kind.startswith("constant:") or given.kind in ("gravity", "coordinate"):
        return False
    if given.kind in ("number", "factor") and (
        scene.scaled_used or scene.has("multiple") or scene.has("network")
    ):
        return False
    if given.kind in ("distance", "number") and _is_coordinate(scene, given):
        return False
    if given.kind == "bisector_height":
        place = scene.fact("bisector")
        return place is None or ask.at not in (None, "there", place.bodies[0])
    if given.kind == "distance" and _fits_the_places(scene, given):
        return False
    if given.kind == "mass" and ask.kind in _MOTION and not _forces(scene):
        return False
    if given.kind == "mass" and (ask.kind in ("work", "time") or scene.all("angle")):
        return False
    if given.ask is None and _others_may_use(scene):
        return False
    if given.ask is not None and given.ask != _part_of(scene):
        return False
    if given.stage != ask.stage and given.kind in ("charge", "distance"):
        return False
    electric = any(
        g.kind
        in (
            "charge",
            "field",
            "line_density",
            "surface_density",
            "electrons_gained",
            "electrons_lost",
        )
        for _, g in scene.givens
    ) or scene.has("particle")
    if given.kind in (_HARMLESS_ELECTRIC if electric else _HARMLESS):
        return False
    if electric and given.kind in ("charge", "distance"):
        return not _left_out(ask, given, scene.has("contact"))
    return True


_MOTION = frozenset(
    [
        "acceleration",
        "time",
        "distance",
        "displacement",
        "speed",
        "final_speed",
        "initial_speed",
        "max_height",
        "height",
    ]
)


def _forces(scene: Scene) -> bool:
    kinds = {g.kind for _, g in scene.givens}
    return bool(
        kinds
        & {"force", "net_force", "friction", "friction_coefficient", "work", "energy", "power"}
    )


def _is_coordinate(scene: Scene, given: Given) -> bool:
    """A number that placed a body ("at x = 0.5 m") is used by the place."""
    value = given.quantity.value
    return any(f.name == "at" and value in (f.get("x"), f.get("y")) for f in scene.facts)


def _fits_the_places(scene: Scene, given: Given) -> bool:
    """A distance that says once more where two bodies stand."""
    ends = given.between
    if ends is None or any(e not in scene.places for e in ends):
        return False
    newest = scene.distance_given(*ends)
    if newest is None or scene.question.givens[newest] is not given:
        return False
    gap = math.dist(scene.places[ends[0]], scene.places[ends[1]])
    if abs(gap - given.quantity.value) > 1e-6 * gap:
        raise Unsolved("The givens contradict each other: the distances do not fit together.")
    return True


def _others_may_use(scene: Scene) -> bool:
    """Whether a stem's given may be meant for another ask of the question or of its siblings."""
    return (
        len(scene.question.asked) > 1
        or scene.question.parent is not None
        or bool(scene.question.earlier)
    )


def _part_of(scene: Scene) -> int | None:
    asks = [g.ask for _, g in scene.givens if g.ask is not None and g.ask <= scene.index]
    return max(asks, default=None)


def _left_out(ask: Asked, given: Given, contact: bool) -> bool:
    """Bodies an explicit "of A due to B" leaves out on purpose."""
    named = {ask.of, *ask.due_to} - {None}
    if ask.kind in ("charge", "electron_count") and ask.of is not None:
        return given.of != ask.of and not contact
    if given.kind == "charge":
        return (
            len(named) >= 2 and given.of not in named or ask.kind == "field" and given.of == ask.of
        )
    return (
        given.between is not None
        and bool(named)
        and (not set(given.between) <= named or len(named) < 2)
    )


def _changes(scene: Scene) -> None:
    """A change of scale that no handler read leaves the ask unsolved."""
    scaled = [f for f in scene.facts if f.name == "scaled"]
    if (
        scaled
        and not scene.scaled_used
        and all(f.ask is None or f.ask == _part_of(scene) for f in scaled)
    ):
        raise Unsolved("The change that the question describes was not worked into the result.")
    unread = [
        f
        for f in scene.question.facts
        if f.name == "unread-change" and f.ask in (None, scene.index, _part_of(scene))
    ]
    if unread:
        words = str(unread[0].get("words") or "")
        raise Unsolved(f"It was not understood what these words change: {words}")
