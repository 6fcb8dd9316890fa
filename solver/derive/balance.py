"""Electric force against weight: droplets between plates, beads on threads, floating charges."""

from __future__ import annotations

import sympy

from solver.derive.engine import Known, Unsolved
from solver.derive.forces import coulomb, external_field
from solver.derive.results import Answer, Result
from solver.derive.scene import Scene
from solver.laws.book import Law, symbol
from solver.laws.electrostatics import CHARGE_COUNT, COULOMB

_SOURCE = "OpenStax, College Physics 2e, chapters 4 and 18"
BALANCE = Law(
    "weight balanced by the electric force",
    "Q*E = w",
    {"Q": "charge_size", "E": "field", "w": "weight"},
    _SOURCE,
    "at rest in a vertical field",
    {},
    frozenset({"Q", "E", "w"}),
)
WEIGHT = Law("weight", "w = m*g", {"w": "weight", "m": "mass"}, _SOURCE, "", {"g": "g"})
THREAD = Law(
    "thread at an angle",
    "Q*E = m*g*tan(theta)",
    {"Q": "charge_size", "E": "field", "m": "mass", "theta": "angle"},
    _SOURCE,
    "at rest in a horizontal field",
    {"g": "g"},
    frozenset({"Q", "E"}),
)


def answer(scene: Scene) -> Answer | None:
    """Asks about a body whose weight is held by an electric force; None for all else."""
    kind = scene.ask.kind
    if kind == "tension" or (kind in ("force", "net_force") and scene.has("scale-pan")):
        return _pull_of_thread(scene)
    if scene.all("angle") and scene.has("hangs") and (scene.all("field") or kind == "field"):
        return _thread(scene)
    if not scene.has("balanced"):
        return None
    if kind in ("distance", "separation", "height"):
        return _floating(scene)
    if kind in ("charge", "electron_count", "field", "mass", "voltage"):
        return _held(scene)
    return None


def _weight(scene: Scene) -> Known | None:
    stated = scene.one("weight")
    if stated is not None:
        return stated
    body = scene.ask.of if scene.ask.of in scene.question.bodies else None
    mass = scene.mass(body) or scene.one("mass")
    if mass is None:
        mass = _water_drop(scene)
    if mass is None:
        return None
    return scene.work.apply(WEIGHT, "w", {"m": mass}, "N", "weight")


def _water_drop(scene: Scene) -> Known | None:
    """The mass of a water droplet from its radius."""
    radius = scene.one("radius")
    if radius is None or "water" not in scene.text.lower():
        return None
    expression = sympy.Rational(4, 3) * sympy.pi * symbol("r") ** 3 * symbol("rho")
    return scene.work.expression(
        "mass of a ball of water",
        "m",
        expression,
        {"r": radius, "rho": scene.work.constant("rho_water")},
        "kg",
        "mass",
    )


def _held(scene: Scene) -> Answer | None:

    ask = scene.ask
    weight = _weight(scene) if ask.kind != "mass" else None
    field = external_field(scene) if ask.kind not in ("field", "voltage") else None
    charged = scene.charged(ask.stage)
    charge = scene.charge(charged[0], ask.stage) if len(charged) == 1 else None
    if ask.kind in ("charge", "electron_count"):
        if weight is None or field is None:
            return None
        size = scene.work.apply(BALANCE, "Q", {"E": field, "w": weight}, "C", "size of the charge")
        if ask.kind == "electron_count":
            size = scene.work.apply(
                CHARGE_COUNT, "n", {"Q": size}, "dimensionless", "number of electrons"
            )
            return [Result(ask.of, size)]
        if ask.wants != "magnitude" and field.direction == "down":
            size = scene.work.expression(
                "sign of the charge", "Q", -symbol("Q_0"), {"Q_0": size}, "C", "charge"
            )
        return [Result(ask.of, size)]
    if charge is None:
        return None
    if ask.kind == "mass":
        if field is None:
            return None
        w = scene.work.apply(BALANCE, "w", {"E": field, "Q": charge}, "N", "weight")
        return [Result(ask.of, scene.work.apply(WEIGHT, "m", {"w": w}, "kg", "mass"))]
    if weight is None:
        raise Unsolved("The mass or the weight is missing.")
    known = scene.work.apply(BALANCE, "E", {"Q": charge, "w": weight}, "N/C", "field")
    if ask.kind == "voltage":
        gap = scene.one("plate_separation") or scene.one("distance")
        if gap is None:
            raise Unsolved("The distance between the plates is missing.")
        known = scene.work.expression(
            "uniform field between plates",
            "V",
            symbol("E") * symbol("d"),
            {"E": known, "d": gap},
            "V",
            "voltage",
        )
        return [Result(None, known)]
    return [Result(None, known, "up" if charge.value > 0 else "down")]


def _floating(scene: Scene) -> Answer | None:
    """The height at which one charge floats above another."""
    charged = scene.charged(scene.ask.stage)
    weight = _weight(scene)
    if len(charged) != 2 or weight is None:
        return None
    q1, q2 = (scene.charge(b, scene.ask.stage) for b in charged)
    if q1 is None or q2 is None:
        return None
    return [
        Result(
            None, scene.work.apply(COULOMB, "r", {"F": weight, "Q_1": q1, "Q_2": q2}, "m", "height")
        )
    ]


def _thread(scene: Scene) -> Answer | None:
    angle, mass, field = scene.one("angle"), scene.one("mass"), scene.one("field")
    charged = scene.charged(scene.ask.stage)
    charge = scene.charge(charged[0], scene.ask.stage) if len(charged) == 1 else None
    if angle is None or mass is None:
        return None
    if scene.ask.kind == "charge" and field is not None:
        return [
            Result(
                scene.ask.of,
                scene.work.apply(
                    THREAD, "Q", {"E": field, "m": mass, "theta": angle}, "C", "charge"
                ),
            )
        ]
    if scene.ask.kind == "field" and charge is not None:
        return [
            Result(
                None,
                scene.work.apply(
                    THREAD, "E", {"Q": charge, "m": mass, "theta": angle}, "N/C", "field"
                ),
            )
        ]
    return None


def _pull_of_thread(scene: Scene) -> Answer | None:
    """Tension in a thread (or push on a pan) with a second charge right above or below."""

    charged = scene.charged(scene.ask.stage)
    place = next(
        (f for f in scene.facts if f.name == "direction" and f.get("direction") in ("up", "down")),
        None,
    )
    if len(charged) != 2 or place is None:
        return None
    other, body = place.bodies
    if other not in charged or body not in charged:
        return None
    if scene.all("mass") and scene.all("mass")[-1][1].of == other and scene.all("weight") == []:
        other, body = body, other
        above = place.get("direction") == "down"
    else:
        above = place.get("direction") == "up"
    weight = _weight(scene)
    if weight is None:
        return None
    force = coulomb(scene, body, other)
    q1, q2 = scene.charge(body, scene.ask.stage), scene.charge(other, scene.ask.stage)
    assert q1 is not None and q2 is not None
    attracted = q1.value * q2.value < 0
    pulled_down = attracted != above
    sign = 1 if pulled_down else -1
    known = scene.work.expression(
        "vertical forces in balance",
        "T",
        symbol("w") + sign * symbol("F"),
        {"w": weight, "F": force},
        "N",
        "tension" if scene.ask.kind == "tension" else "push",
    )
    return [Result(scene.ask.of, known)]
