"""What a question's givens and facts say at the moment one ask is about.

``Scene`` holds the charges of the bodies at each stage (before and after contact), the
distances, and where everything stands.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import sympy

from parser.worksheet import Asked, Fact, Given, Question
from solver.constants import PARTICLE_MASS
from solver.derive.engine import Key, Known, Unsolved, Work
from solver.findings import Expected
from solver.laws.book import symbol
from solver.laws.electrostatics import CHARGE_COUNT

Point = tuple[float, float]


@dataclass(frozen=True)
class Prior:
    """A result found before, and the ask it answered."""

    asked: Asked
    expected: Expected


Earlier = Mapping[tuple[str, int], Prior]

_ANGLES = {
    "right": 0.0,
    "left": 180.0,
    "up": 90.0,
    "down": 270.0,
    "north": 90.0,
    "south": 270.0,
    "east": 0.0,
    "west": 180.0,
    "north-east": 45.0,
    "north-west": 135.0,
    "south-east": 315.0,
    "south-west": 225.0,
}
_SIDES = {0: "right", 180: "left", 90: "up", 270: "down"}
_COMPASS = {
    0: "east",
    180: "west",
    90: "north",
    270: "south",
    45: "north-east",
    135: "north-west",
    315: "south-east",
    225: "south-west",
}


def unit_vector(direction: str) -> Point | None:
    """A direction word as a vector in the plane; None for "towards X" and the like."""
    if direction in _ANGLES:
        turn = math.radians(_ANGLES[direction])
    elif direction.endswith("deg anticlockwise from right"):
        turn = math.radians(float(direction.split()[0]))
    else:
        return None
    return (round(math.cos(turn), 12), round(math.sin(turn), 12))


@dataclass
class Scene:
    """One question as it stands for one ask."""

    question: Question
    index: int
    work: Work
    earlier: Earlier
    givens: list[tuple[int, Given]] = field(default_factory=list)
    facts: list[Fact] = field(default_factory=list)
    used: set[int] = field(default_factory=set)
    places: dict[str, Point] = field(default_factory=dict)
    frame: str = "line"
    scaled_used: bool = False
    idle: set[int] = field(default_factory=set)
    _charges: dict[tuple[str, int], Known | None] = field(default_factory=dict)

    @property
    def ask(self) -> Asked:
        return self.question.asked[self.index]

    @property
    def text(self) -> str:
        """All the text the question was read with."""
        return f"{self.question.stem}\n{self.question.text}"

    # -- givens --

    def all(self, kind: str, stage: int | None = None) -> list[tuple[int, Given]]:
        """Givens of a kind (at a stage), in the order of the text."""
        return [
            (i, g) for i, g in self.givens if g.kind == kind and (stage is None or g.stage == stage)
        ]

    def known(self, index: int) -> Known:
        """A given as a value; multiples of e become a step."""
        self.used.add(index)
        given = self.question.givens[index]
        quantity = given.quantity
        label = given.kind.replace("_", " ") + (f" of {given.of}" if given.of else "")
        if quantity.written_unit == "e":
            return self._multiple_of_e(quantity.written_value, label)
        return Known(
            quantity.value,
            quantity.unit,
            label,
            given=index,
            quantity=quantity,
            direction=quantity.direction,
        )

    def one(self, kind: str) -> Known | None:
        """The only given of a kind, the latest where a part restates it."""
        found = self.all(kind)
        if not found:
            return None
        last = [f for f in found if f[1].ask == found[-1][1].ask]
        values = {round(g.quantity.value, 30) for _, g in last}
        if len(values) > 1:
            raise Unsolved(f"Several values are given for the {kind.replace('_', ' ')}.")
        return self.known(found[-1][0])

    def has(self, name: str) -> bool:
        return any(f.name == name for f in self.facts)

    def fact(self, name: str) -> Fact | None:
        return next((f for f in reversed(self.facts) if f.name == name), None)

    # -- charges --

    def _multiple_of_e(self, multiple: float, label: str) -> Known:
        e = self.work.constant("e")
        if abs(multiple) == 1:
            return Known(multiple * e.value, "C", label, constant="e", given=e.given)
        number = (
            sympy.Integer(int(multiple)) if float(multiple).is_integer() else sympy.Float(multiple)
        )
        return self.work.expression(
            CHARGE_COUNT.name, "Q", number * symbol("e"), {"e": e}, "C", label
        )

    def charge(self, body: str, stage: int) -> Known | None:
        """The charge of a body at a stage, or None when it is not known."""
        key = (body, stage)
        if key not in self._charges:
            self._charges[key] = None
            self._charges[key] = self._find_charge(body, stage)
        return self._charges[key]

    def _find_charge(self, body: str, stage: int) -> Known | None:
        before = self._earlier_charge(body, stage)
        if before is not None:
            return before
        stated = [(i, g) for i, g in self.all("charge", stage) if g.of == body]
        if stated:
            newest = [s for s in stated if s[1].ask == stated[-1][1].ask]
            values = {g.quantity.value for _, g in newest}
            if len(values) > 1:
                raise Unsolved(f"Two different charges are given for {body}.")
            return self.known(stated[-1][0])
        if stage > 0:
            event = next((f for f in self.facts if f.name == "contact" and f.stage == stage), None)
            if event is not None and body in event.bodies:
                return self._shared(event, body, stage)
            return self.charge(body, stage - 1)
        counted = self._from_electrons(body)
        if counted is not None:
            return counted
        for fact in self.facts:
            if fact.name == "particle" and fact.bodies == (body,):
                return self._multiple_of_e(
                    float(fact.get("multiple", 0.0) or 0.0), f"charge of {body}"
                )
            if fact.name == "uncharged" and body in fact.bodies:
                return Known(0.0, "C", f"charge of {body}")
        return self._times_another(body, stage)

    def _times_another(self, body: str, stage: int) -> Known | None:
        """ "B carries three times the charge of A": from the charge of the other."""
        for fact in self.facts:
            if fact.name != "times-charge" or body not in fact.bodies:
                continue
            many, one = fact.bodies
            factor = sympy.nsimplify(float(fact.get("factor") or 1.0), rational=True)
            other = self.charge(one if body == many else many, stage)
            if other is None:
                continue
            times = factor if body == many else 1 / factor
            return self.work.expression(
                "charge as a multiple of another",
                "Q",
                times * symbol("Q_0"),
                {"Q_0": other},
                "C",
                f"charge of {body}",
            )
        return None

    def _from_electrons(self, body: str) -> Known | None:
        for kind, sign in (("electrons_gained", -1), ("electrons_lost", 1), ("proton_count", 1)):
            counts = [
                (i, g)
                for i, g in self.all(kind)
                if g.of == body
                or (
                    g.of is None
                    and not any(f.name == "particle" and f.bodies == (body,) for f in self.facts)
                )
            ]
            if counts:
                n = self.known(counts[-1][0])
                return self.work.expression(
                    CHARGE_COUNT.name,
                    "Q",
                    sign * symbol("n") * symbol("e"),
                    {"n": n, "e": self.work.constant("e")},
                    "C",
                    f"charge of {body}",
                )
        return None

    def _earlier_charge(self, body: str, stage: int) -> Known | None:
        for (number, index), prior in reversed(list(self.earlier.items())):
            asked, expected = prior.asked, prior.expected
            if asked.kind != "charge" or asked.stage != stage or asked.wants == "ratio":
                continue
            if expected.of == body or (expected.of == "each" and body in self._members(stage)):
                return Known(
                    expected.value, "C", f"charge of {body} found before", earlier=(number, index)
                )
        return None

    def prior(self, *kinds: str) -> tuple[Known, Prior] | None:
        """The latest earlier result of one of these kinds."""
        for (number, index), prior in reversed(list(self.earlier.items())):
            if prior.asked.kind in kinds and prior.asked.wants not in ("ratio", "sign"):
                e = prior.expected
                known = Known(
                    e.value,
                    e.unit,
                    f"{prior.asked.kind.replace('_', ' ')} found before",
                    earlier=(number, index),
                    direction=e.direction,
                )
                return known, prior
        return None

    def _members(self, stage: int) -> tuple[str, ...]:
        event = next((f for f in self.facts if f.name == "contact" and f.stage == stage), None)
        return event.bodies if event else ()

    def _shared(self, event: Fact, body: str, stage: int) -> Known | None:
        parts = [self.charge(b, stage - 1) for b in event.bodies]
        if any(p is None for p in parts) or len(parts) < 2:
            return None
        names = [f"Q_{i + 1}" for i in range(len(parts))]
        total = sum((symbol(n) for n in names), sympy.Integer(0))
        known = self.work.expression(
            "charge shared on contact",
            "Q_new",
            sympy.Mul(sympy.Rational(1, len(parts)), total, evaluate=False),
            {n: p for n, p in zip(names, parts, strict=True) if p is not None},
            "C",
            f"charge of each after contact of {' and '.join(event.bodies)}",
            sentence="Identical spheres in contact share the sum of their charges equally.",
        )
        for other in event.bodies:
            self._charges[(other, stage)] = known
        return known

    def charged(self, stage: int) -> list[str]:
        """Bodies that carry or may carry a charge, in the order of the text."""
        with_charge = []
        for body in self.question.bodies:
            charge = self.charge(body, stage)
            if charge is not None:
                with_charge.append(body)
        return with_charge

    def mass(self, body: str | None) -> Known | None:
        """The mass of a body: stated, or that of its particle."""
        stated = [(i, g) for i, g in self.all("mass") if body is None or g.of in (body, None)]
        if stated:
            return self.known(stated[-1][0])
        for fact in self.facts:
            code = str(fact.get("particle", ""))
            named = fact.name == "particle" and code in PARTICLE_MASS
            if named and (body is None or body in fact.bodies):
                return self.work.constant(PARTICLE_MASS[code])
        only = self.all("mass")
        if body is not None and len(only) == 1 and len(self.question.bodies) <= 2:
            return self.known(only[0][0])
        return None

    # -- distances and places --

    def distance_given(self, a: str, b: str) -> int | None:
        """Index of the stated distance between two bodies; the latest part's wins."""
        wanted = {a, b}
        found = [
            (i, g)
            for i, g in self.all("distance")
            if g.between is not None and set(g.between) == wanted and g.stage <= self.ask.stage
        ]
        if not found:
            return None
        best = max(g.stage for _, g in found)
        found = [f for f in found if f[1].stage == best]
        newest = [f for f in found if f[1].ask == found[-1][1].ask]
        if len({g.quantity.value for _, g in newest}) > 1:
            raise Unsolved(f"Several distances are given between {a} and {b}.")
        return found[-1][0]

    def distance(self, a: str, b: str) -> Known:
        """The distance between two bodies or points, stated or worked out from their places."""
        index = self.distance_given(a, b)
        if index is not None:
            return self._moved(self.known(index), a, b)
        between_surfaces = self._from_surfaces()
        if between_surfaces is not None:
            return between_surfaces
        geometric = self._gap(a, b)
        for middle in [*self.question.bodies, *self.places]:
            known = self._by_parts(a, b, middle, geometric)
            if known is not None:
                return known
        return self.work.expression(
            "distance between the places",
            "r",
            sympy.Float(geometric),
            {},
            "m",
            f"distance {a} to {b}",
        )

    def _moved(self, known: Known, a: str, b: str) -> Known:
        """A stated distance after "2 cm closer" or "increased by 3 cm"."""
        moves = [*self.all("distance_added"), *self.all("distance_removed")]
        if not moves:
            return known
        if len(moves) > 1 or len({g.between for _, g in self.all("distance")}) > 1:
            raise Unsolved("Which distance changes was not understood.")
        index, given = moves[0]
        sign = 1 if given.kind == "distance_added" else -1
        moved = self.work.expression(
            "distance after the move",
            "r",
            symbol("r_0") + sign * symbol("x"),
            {"r_0": known, "x": self.known(index)},
            "m",
            f"distance {a} to {b}",
        )
        if moved.value <= 0:
            raise Unsolved("The distance after the move would be nothing.")
        return moved

    def _from_surfaces(self) -> Known | None:
        """Centre to centre from the gap between two equal spheres and their size."""
        gap = self.all("gap")
        size = self.all("diameter") or self.all("radius")
        if len(gap) != 1 or not size or len({g.quantity.value for _, g in size}) != 1:
            return None
        times = 1 if size[0][1].kind == "diameter" else 2
        return self.work.expression(
            "centre to centre",
            "r",
            symbol("x") + times * symbol("d"),
            {"x": self.known(gap[0][0]), "d": self.known(size[0][0])},
            "m",
            "distance between the centres",
        )

    def _gap(self, a: str, b: str) -> float:
        if a not in self.places or b not in self.places:
            raise Unsolved(f"The distance between {a} and {b} is missing.")
        (x1, y1), (x2, y2) = self.places[a], self.places[b]
        gap = math.hypot(x1 - x2, y1 - y2)
        if gap <= 0:
            raise Unsolved(f"{a} and {b} are at the same place.")
        return gap

    def _by_parts(self, a: str, b: str, middle: str, geometric: float) -> Known | None:
        for fact in self.facts:
            if (
                fact.name == "midpoint"
                and a in fact.bodies
                and b in fact.bodies
                and fact.bodies[0] in (a, b)
            ):
                index = self.distance_given(fact.bodies[1], fact.bodies[2])
                if index is not None:
                    return self.work.expression(
                        "half the distance",
                        "r",
                        symbol("d") / 2,
                        {"d": self.known(index)},
                        "m",
                        f"distance {a} to {b}",
                    )
        if middle in (a, b):
            return None
        first, second = self.distance_given(a, middle), self.distance_given(middle, b)
        if first is None or second is None:
            return None
        x, y = (
            self.question.givens[first].quantity.value,
            self.question.givens[second].quantity.value,
        )
        r1, r2 = symbol("r_1"), symbol("r_2")
        for form, value in (
            (r1 + r2, x + y),
            (r1 - r2, x - y),
            (r2 - r1, y - x),
            (sympy.sqrt(r1**2 + r2**2), math.hypot(x, y)),
        ):
            if math.isclose(value, geometric, rel_tol=1e-9):
                return self.work.expression(
                    "distance from the parts",
                    "r",
                    form,
                    {"r_1": self.known(first), "r_2": self.known(second)},
                    "m",
                    f"distance {a} to {b}",
                )
        return None

    def name_direction(self, vector: Point, at: str) -> str | None:
        """A vector at a body in the question's own convention."""
        angle = math.degrees(math.atan2(vector[1], vector[0])) % 360
        nearest = round(angle / 45) * 45 % 360
        exact = abs((angle - nearest + 180) % 360 - 180) < 0.05
        if self.frame == "compass":
            return _COMPASS[nearest] if exact else f"{angle:.1f} deg anticlockwise from right"
        if self.frame in ("sides", "xy"):
            if exact and nearest in _SIDES:
                return _SIDES[nearest]
            return f"{angle:.1f} deg anticlockwise from right"
        return self._relative(vector, at)

    def _relative(self, vector: Point, at: str) -> str | None:
        here = self.places.get(at)
        if here is None:
            return None
        behind = None
        for name, place in sorted(self.places.items(), key=lambda item: math.dist(item[1], here)):
            if name == at or name not in self.question.bodies:
                continue
            dx, dy = place[0] - here[0], place[1] - here[1]
            size = math.hypot(dx, dy) * math.hypot(*vector)
            if size == 0:
                continue
            along = (dx * vector[0] + dy * vector[1]) / size
            if along > 0.9999:
                return f"towards {name}"
            if along < -0.9999 and behind is None:
                behind = f"away from {name}"
        return behind


# --- building --------------------------------------------------------------------------


def build(
    question: Question,
    index: int,
    work: Work,
    earlier: Earlier,
    without: frozenset[int] = frozenset(),
) -> Scene:
    """The scene of one ask: what its part may use, and where everything stands."""
    scene = Scene(question, index, work, earlier)
    ask = question.asked[index]
    if ask.wants == "show":
        shown = [i for i, g in enumerate(question.givens) if g.kind == ask.kind]
        without = without | frozenset(shown[-1:])
    scene.givens = [
        (i, g)
        for i, g in enumerate(question.givens)
        if (g.ask is None or g.ask <= index) and g.stage <= ask.stage and i not in without
    ]
    scene.facts = [
        f for f in question.facts if (f.ask is None or f.ask <= index) and f.stage <= ask.stage
    ]
    _place_all(scene)
    return scene


def _place_all(scene: Scene) -> None:
    names = list(dict.fromkeys([*scene.question.bodies, *_points(scene)]))
    _choose_frame(scene)
    for fact in scene.facts:
        if fact.name == "at":
            scene.places[fact.bodies[0]] = (
                float(fact.get("x") or 0.0),
                float(fact.get("y") or 0.0),
            )
            scene.frame = "sides"
    _shapes(scene)
    if not scene.places and names:
        pair = next((g.between for _, g in scene.all("distance") if g.between), None)
        if pair is None and not any(f.name == "direction" for f in scene.facts):
            return
        start = pair[1] if pair else next(f.bodies[1] for f in scene.facts if f.name == "direction")
        order = _order(scene)
        if order:
            start = order[0]
        scene.places[start] = (0.0, 0.0)
    for _ in range(len(names) + 1):
        if not any(_place_one(scene, n) for n in names if n not in scene.places):
            break


def _points(scene: Scene) -> list[str]:
    found: list[str] = []
    for _, given in scene.givens:
        if given.between:
            found += list(given.between)
    for fact in scene.facts:
        if fact.name in ("midpoint", "between", "direction", "bisector", "at"):
            found += list(fact.bodies)
    return list(dict.fromkeys(found))


def _choose_frame(scene: Scene) -> None:
    directions = [str(f.get("direction")) for f in scene.facts if f.name == "direction"]
    if any(d in _ANGLES and d in _COMPASS.values() for d in directions):
        scene.frame = "compass"
    elif directions or scene.has("left-to-right") or scene.has("on-left") or scene.has("on-right"):
        scene.frame = "sides"


def _order(scene: Scene) -> list[str]:
    """Names on a line from left to right, when their order is stated."""
    order = next(
        (list(f.bodies) or list(scene.question.bodies) for f in scene.facts if f.name == "on-line"),
        [],
    )
    if any(f.name in ("direction", "at") for f in scene.facts):
        return []
    between = next(
        (f for f in scene.facts if f.name in ("between", "midpoint") and f.bodies[0] in order), None
    )
    if between is not None and len(order) == 3:
        order = [between.bodies[1], between.bodies[0], between.bodies[2]]
    for fact in scene.facts:
        if len(order) != 2 and fact.name == "on-left" and len(scene.question.bodies) == 2:
            order = list(scene.question.bodies)
    left, right = scene.fact("on-left"), scene.fact("on-right")
    if left is not None and left.bodies and left.bodies[0] in order and order[0] != left.bodies[0]:
        order.reverse()
    if (
        right is not None
        and right.bodies
        and right.bodies[0] in order
        and order[-1] != right.bodies[0]
    ):
        order.reverse()
    return order


def _shapes(scene: Scene) -> None:
    bodies = list(scene.question.bodies)
    side = next((g.quantity.value for _, g in scene.all("side")), None)
    if scene.has("equilateral") and len(bodies) >= 3:
        if side is None:
            pair = scene.all("distance")
            side = pair[0][1].quantity.value if pair else None
        if side is not None:
            corners = [(0.0, 0.0), (side, 0.0), (side / 2, side * math.sqrt(3) / 2)]
            scene.places.update(dict(zip(bodies[:3], corners, strict=True)))
            scene.places["centre"] = (side / 2, side * math.sqrt(3) / 6)
            scene.frame = "shape"
    elif scene.has("square") and side is not None:
        corners = [(0.0, 0.0), (side, 0.0), (side, side), (0.0, side)]
        scene.places.update(dict(zip(bodies[:4], corners, strict=False)))
        scene.places["centre"] = (side / 2, side / 2)
        if len(bodies) == 3:
            scene.places["corner"] = corners[3]
        scene.frame = "shape"
    elif scene.has("right-angle"):
        _right_angle(scene, bodies)


def _right_angle(scene: Scene, bodies: Sequence[str]) -> None:
    fact = scene.fact("right-angle")
    corner = fact.bodies[0] if fact and fact.bodies else None
    if any(f.name == "direction" for f in scene.facts):
        return
    pairs = [(set(g.between), g.quantity.value) for _, g in scene.all("distance") if g.between]
    if corner is None:
        common = [b for b in [*bodies, *_points(scene)] if sum(b in p for p, _ in pairs) >= 2]
        corner = common[0] if len(common) == 1 else None
    arms = [(next(iter(p - {corner})), d) for p, d in pairs if corner in p]
    if corner is None or len(arms) < 2:
        return
    scene.places[corner] = (0.0, 0.0)
    scene.places[arms[0][0]] = (arms[0][1], 0.0)
    scene.places[arms[1][0]] = (0.0, arms[1][1])
    scene.frame = "shape"


def _stated(scene: Scene, a: str, b: str) -> float | None:
    try:
        index = scene.distance_given(a, b)
    except Unsolved:
        return None
    return scene.question.givens[index].quantity.value if index is not None else None


def _place_one(scene: Scene, name: str) -> bool:
    return (
        _by_direction(scene, name)
        or _by_middle(scene, name)
        or _by_far_end(scene, name)
        or _by_order(scene, name)
        or _by_two_distances(scene, name)
        or _by_one_distance(scene, name)
    )


def _by_direction(scene: Scene, name: str) -> bool:
    for fact in scene.facts:
        if fact.name != "direction":
            continue
        vector = unit_vector(str(fact.get("direction")))
        if vector is None or name not in fact.bodies:
            continue
        first, other = fact.bodies
        anchor, sign = (other, 1.0) if name == first else (first, -1.0)
        size = _stated(scene, name, anchor)
        if anchor in scene.places and size is not None:
            x, y = scene.places[anchor]
            scene.places[name] = (x + sign * size * vector[0], y + sign * size * vector[1])
            return True
    return False


def _by_middle(scene: Scene, name: str) -> bool:
    for fact in scene.facts:
        if fact.name == "midpoint" and fact.bodies[0] == name:
            a, b = fact.bodies[1], fact.bodies[2]
            if a in scene.places and b in scene.places:
                (x1, y1), (x2, y2) = scene.places[a], scene.places[b]
                scene.places[name] = ((x1 + x2) / 2, (y1 + y2) / 2)
                return True
        if fact.name == "bisector" and fact.bodies[0] == name:
            a, b = fact.bodies[1], fact.bodies[2]
            if a in scene.places and b in scene.places:
                (x1, y1), (x2, y2) = scene.places[a], scene.places[b]
                gap = math.hypot(x2 - x1, y2 - y1)
                up = float(fact.get("height") or 0.0) / gap
                middle = ((x1 + x2) / 2, (y1 + y2) / 2)
                scene.places[name] = (middle[0] - up * (y2 - y1), middle[1] + up * (x2 - x1))
                scene.frame = "shape"
                return True
        if fact.name == "between" and fact.bodies[0] == name:
            a, b = fact.bodies[1], fact.bodies[2]
            for start, end in ((a, b), (b, a)):
                size = _stated(scene, name, start)
                if size is not None and a in scene.places and b in scene.places:
                    (x1, y1), (x2, y2) = scene.places[start], scene.places[end]
                    gap = math.hypot(x2 - x1, y2 - y1)
                    if size >= gap:
                        raise Unsolved(f"{name} cannot lie between {a} and {b} at that distance.")
                    scene.places[name] = (x1 + (x2 - x1) * size / gap, y1 + (y2 - y1) * size / gap)
                    return True
    return False


def _by_far_end(scene: Scene, name: str) -> bool:
    """The far end of "P lies between A and B" from the distances of P to both."""
    for fact in scene.facts:
        if fact.name != "between" or name not in fact.bodies[1:]:
            continue
        middle = fact.bodies[0]
        near = fact.bodies[1] if name == fact.bodies[2] else fact.bodies[2]
        size = _stated(scene, name, middle)
        if size is not None and middle in scene.places and near in scene.places:
            (x1, y1), (x2, y2) = scene.places[near], scene.places[middle]
            gap = math.hypot(x2 - x1, y2 - y1)
            scene.places[name] = (x2 + (x2 - x1) * size / gap, y2 + (y2 - y1) * size / gap)
            return True
    return False


def _by_order(scene: Scene, name: str) -> bool:
    order = _order(scene)
    if name not in order:
        return False
    here = order.index(name)
    for other in order:
        size = _stated(scene, name, other)
        if size is not None and other in scene.places:
            x, y = scene.places[other]
            scene.places[name] = (x + size if order.index(other) < here else x - size, y)
            return True
    return False


def _by_two_distances(scene: Scene, name: str) -> bool:
    near = [
        (o, d) for o in scene.places if o != name and (d := _stated(scene, name, o)) is not None
    ]
    if len(near) < 2:
        return False
    (a, da), (b, db) = near[:2]
    (x1, y1), (x2, y2) = scene.places[a], scene.places[b]
    gap = math.hypot(x2 - x1, y2 - y1)
    if gap == 0 or da + db < gap * (1 - 1e-9) or abs(da - db) > gap * (1 + 1e-9):
        raise Unsolved(f"The distances of {name} from {a} and {b} do not fit together.")
    along = (da**2 - db**2 + gap**2) / (2 * gap)
    height = math.sqrt(max(0.0, da**2 - along**2))
    ux, uy = (x2 - x1) / gap, (y2 - y1) / gap
    if height < 1e-9 * gap:
        height = 0.0
    else:
        scene.frame = "shape"
    scene.places[name] = (x1 + along * ux - height * uy, y1 + along * uy + height * ux)
    return True


def _by_one_distance(scene: Scene, name: str) -> bool:
    if len(scene.places) != 1:
        return False
    ((other, (x, y)),) = scene.places.items()
    size = _stated(scene, name, other)
    if size is None:
        return False
    order = list(_order(scene))
    left_first = name in order and other in order and order.index(name) < order.index(other)
    left = scene.fact("on-left")
    right = scene.fact("on-right")
    if (left is not None and name in left.bodies) or (right is not None and other in right.bodies):
        left_first = True
    scene.places[name] = (x - size if left_first else x + size, y)
    return True


def key(kind: str, *names: str) -> Key:
    """A key for ``chain``: the kind and, in a fixed order, the bodies it belongs to."""
    return kind, tuple(sorted(names))
