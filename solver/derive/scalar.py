"""Answers by chaining laws over quantities that belong to one thing.

The givens become values keyed by kind; facts add what words say without a number (rest,
free fall, light); the law book is searched for the cheapest chain to what is asked.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

import sympy

from solver.derive.engine import Instance, Key, Known, Unsolved, chain
from solver.derive.results import Answer, Result, opposite
from solver.derive.scene import Scene, unit_vector
from solver.laws import LAWS
from solver.laws.book import Law, symbol

UNITS: Mapping[str, str] = {
    "force": "N",
    "net_force": "N",
    "friction": "N",
    "weight": "N",
    "tension": "N",
    "normal_force": "N",
    "drive_force": "N",
    "impulse_force": "N",
    "slope_force": "N",
    "charge": "C",
    "charge_size": "C",
    "distance": "m",
    "field": "N/C",
    "potential": "V",
    "voltage": "V",
    "emf": "V",
    "potential_energy": "J",
    "kinetic_energy": "J",
    "energy": "J",
    "work": "J",
    "net_work": "J",
    "useful_work": "J",
    "mass": "kg",
    "acceleration": "m/s**2",
    "time": "s",
    "initial_speed": "m/s",
    "final_speed": "m/s",
    "speed": "m/s",
    "wave_speed": "m/s",
    "height": "m",
    "radius": "m",
    "plate_separation": "m",
    "area": "m**2",
    "surface_density": "C/m**2",
    "line_density": "C/m",
    "electron_count": "dimensionless",
    "capacitance": "F",
    "dielectric_constant": "dimensionless",
    "current": "A",
    "resistance": "ohm",
    "internal_resistance": "ohm",
    "power": "W",
    "useful_power": "W",
    "efficiency": "dimensionless",
    "momentum": "kg*m/s",
    "momentum_change": "kg*m/s",
    "impulse": "N*s",
    "frequency": "Hz",
    "threshold_frequency": "Hz",
    "wavelength": "m",
    "period": "s",
    "photon_energy": "J",
    "work_function": "J",
    "friction_coefficient": "dimensionless",
    "angle": "rad",
    "stiffness": "N/m",
    "extension": "m",
    "length": "m",
    "resistivity": "ohm*m",
    "refractive_index": "dimensionless",
    "number": "dimensionless",
    "photon_count": "dimensionless",
}

# asks that are answered under another kind when that one is not in the law book
_TARGETS: Mapping[str, tuple[str, ...]] = {
    "max_height": ("distance", "height"),
    "height": ("height", "distance"),
    "displacement": ("distance",),
    "distance": ("distance", "plate_separation"),
    "separation": ("plate_separation", "distance"),
    "speed": ("speed", "final_speed", "wave_speed", "initial_speed"),
    "final_speed": ("final_speed", "speed"),
    "force": ("force", "net_force", "impulse_force", "drive_force"),
    "net_force": ("net_force",),
    "work": ("work", "energy", "net_work"),
    "energy": ("energy", "work", "photon_energy", "potential_energy"),
    "kinetic_energy": ("kinetic_energy",),
    "voltage": ("voltage", "emf"),
    "potential": ("voltage",),
    "charge": ("charge", "charge_size"),
    "power": ("power", "useful_power"),
    "useful_power": ("useful_power", "power"),
    "useful_work": ("useful_work", "work"),
    "charge_transferred": ("charge",),
    "wave_speed": ("wave_speed", "speed"),
}


def answer(scene: Scene) -> Answer:
    """The results of an ask by chaining; raises ``Unsolved`` when no chain reaches it."""
    facts = _facts(scene)
    if facts & {"part-of-way"} and not scene.places:
        raise Unsolved("How far along the way is meant was not understood.")
    known = _known(scene, facts)
    instances = [
        _instance(law)
        for law in LAWS
        if law.needs <= facts
        and not law.unless & facts
        and len(set(law.symbols.values())) == len(law.symbols)
    ]
    problem: Unsolved | None = None
    for kind in _targets(scene, facts, known):
        target: Key = (kind, ())
        if kind == "charge_size" and ("charge", ()) in known:
            continue
        if target in known:
            if not _part_brings_news(scene):
                continue
            known.pop(target)
        try:
            result, used = chain(scene.work, target, known, instances)
        except Unsolved as reason:
            problem = problem or reason
            if "contradict" in str(reason):
                raise
            continue
        del used
        if result.value == 0:
            problem = Unsolved(
                "The result would be nothing at all; the question was probably not understood."
            )
            continue
        if result.value < 0 and (
            "speed" in scene.ask.text
            or "how far" in scene.ask.text
            or kind in ("force", "net_force", "impulse_force", "friction")
            or kind in ("height", "distance")
            and scene.ask.kind != "displacement"
        ):
            result = scene.work.expression(
                "size", "x", sympy.Abs(symbol("x_0")), {"x_0": result}, result.unit, result.label
            )
        direction = _direction(scene, result)
        start = known.get(("initial_speed", ()))
        if kind in ("momentum_change", "impulse") and start is not None and start.direction:
            direction = start.direction if result.value >= 0 else opposite(start.direction)
            result = scene.work.expression(
                "size", "x", sympy.Abs(symbol("x_0")), {"x_0": result}, result.unit, result.label
            )
        return [Result(scene.ask.of, replace(result, unit=UNITS[kind]), direction)]
    raise problem or Unsolved("No law here leads to what is asked.")


def _part_brings_news(scene: Scene) -> bool:
    """Whether this part states something of its own, so that an old value no longer holds."""
    index = scene.index
    return any(g.ask == index for _, g in scene.givens) or any(f.ask == index for f in scene.facts)


def _instance(law: Law) -> Instance:
    return Instance(
        law,
        {s: (k, ()) for s, k in law.symbols.items()},
        {s: UNITS[k] for s, k in law.symbols.items()},
    )


def _targets(scene: Scene, facts: frozenset[str], known: Mapping[Key, Known]) -> tuple[str, ...]:
    kind = scene.ask.kind
    targets = _TARGETS.get(kind, (kind,))
    if kind == "speed" and ("initial_speed", ()) in known and ("final_speed", ()) not in known:
        return ("final_speed", "speed")
    if kind == "speed" and ("accelerated" in facts or ("speed", ()) in known):
        targets = ("final_speed", "initial_speed", "speed")
        if ("final_speed", ()) in known:
            targets = ("initial_speed", "speed")
    if kind == "force" and "vertical-force" in facts:
        stands = re.search(r"\b(?:floor|scales?|seat|stands?|standing)\b", scene.text.lower())
        return ("normal_force",) if stands else ("tension",)
    if kind == "force" and ("time", ()) in known and ("acceleration", ()) not in known:
        targets = ("impulse_force", "net_force", "force")
    return targets


def _direction(scene: Scene, result: Known) -> str | None:
    del result
    asked = scene.ask
    if asked.kind in ("displacement", "speed", "acceleration", "final_speed"):
        for _, given in scene.givens:
            if given.quantity.direction and given.quantity.unit in ("m", "m/s", "m/s**2", "N"):
                return given.quantity.direction
    return None


def _facts(scene: Scene) -> frozenset[str]:
    """Plain facts of the question, and those that its givens imply."""
    facts = {f.name for f in scene.facts}
    kinds = {g.kind for _, g in scene.givens}
    text = scene.text.lower()
    if (
        kinds & {"acceleration", "initial_speed", "final_speed"}
        or facts & {"from-rest", "to-rest", "slowing"}
        or scene.ask.kind in ("acceleration", "final_speed", "initial_speed", "max_height")
    ):
        facts.add("accelerated")
    if (
        "gravity" in facts
        and not facts & {"constant-speed"}
        and scene.ask.kind
        in ("time", "height", "max_height", "distance", "final_speed", "speed", "initial_speed")
    ):
        facts.add("accelerated")
    if (
        kinds & {"friction", "friction_coefficient"}
        or re.search(r"\brough\b", text)
        or "friction" in text
        and "friction is neg" not in text
        and scene.ask.kind in ("friction", "friction_coefficient")
    ):
        facts.add("friction-present")
    if (
        "friction-present" in facts
        and "force" not in kinds
        and scene.ask.kind in ("acceleration", "friction")
    ):
        facts.add("friction-alone")
    if kinds & {"friction_coefficient"} or scene.ask.kind == "friction_coefficient":
        facts.add("level-friction")
    if (
        kinds & {"internal_resistance"}
        or scene.ask.kind == "internal_resistance"
        or "internal resistance" in text
        and not ("negligible" in text or "ignored" in text or "no internal" in text)
    ):
        facts.add("internal-resistance")
    if "capacit" in text:
        facts.add("capacitor")
    if "dielectric_constant" in kinds:
        facts.add("dielectric")
    if (
        kinds & {"photon_energy", "work_function", "threshold_frequency"}
        or any(
            w in text
            for w in (
                "light",
                "photon",
                "radio",
                "microwave",
                "x-ray",
                "laser",
                "radiation",
                "γ-ray",
                "ultraviolet",
                "infrared",
                "television",
                "broadcast",
            )
        )
    ) and (not (kinds & {"wave_speed", "sound_speed"}) or kinds & {"photon_energy"}):
        facts.add("light")
    if any(
        w in text
        for w in (
            "photoelectr",
            "ejected",
            "ejects",
            "work function",
            "binding energy",
            "threshold",
        )
    ):
        facts.add("photoelectrons")
    charged = (
        bool(kinds & {"charge", "charge_transferred"})
        or "particle" in facts
        or any(p.asked.kind == "charge" for p in scene.earlier.values())
    )
    found_voltage = any(p.asked.kind == "voltage" for p in scene.earlier.values())
    if (
        charged
        and "capacitor" not in facts
        and (kinds & {"voltage", "emf"} or scene.ask.kind == "voltage" or found_voltage)
        and scene.ask.kind
        in ("voltage", "kinetic_energy", "speed", "final_speed", "initial_speed", "mass", "charge")
    ):
        facts.add("through-voltage")
    if (
        ("distance" in kinds or scene.ask.kind in ("distance", "separation"))
        and not facts & {"plates", "capacitor"}
        and charged | (scene.ask.kind == "charge")
    ):
        facts.add("point-charge")
    if "line_density" in kinds or scene.ask.kind == "line_density":
        facts.add("long-line")
        facts.discard("point-charge")
    if re.search(
        r"thrown horizontally|horizontally (?:at|with|from)|projected horizontally"
        r"|rolls off|leaves the (?:table|edge)",
        text,
    ):
        facts.add("projectile")
    if re.search(
        r"just (?:to )?start|about to (?:slip|move|slide)|begins? to (?:move|slide)"
        r"|on the point of",
        text,
    ):
        facts.add("constant-speed")
    if "initial_speed" in kinds or (
        "speed" in kinds and scene.ask.kind in ("final_speed", "speed")
    ):
        facts.add("initial-speed")
    if re.search(r"(?:longest|maximum|threshold)[- ]wavelength", text):
        facts.add("threshold-wavelength")
    if (
        re.search(r"\bcrt\b|x-ray tube|accelerating (?:potential|voltage)", text)
        and scene.ask.kind == "photon_energy"
    ):
        facts.add("x-ray-tube")
    if "echo" in text:
        facts.add("echo")
    if scene.ask.kind in ("tension", "force", "normal_force") and re.search(
        r"\b(?:lift|elevator|crane|cable|rocket|helicopter|hoist\w*)\b", text
    ):
        facts.add("vertical-force")
    if any(w in text for w in ("lift", "rais", "climb", "runs up", "hoist")):
        facts.add("lifting")
    if (
        "lifting" in facts
        and {"height", "final_speed"} <= kinds
        and scene.ask.kind
        in (
            "power",
            "work",
            "time",
            "energy",
        )
    ):
        facts |= {"speeding-up-a-rise", "accelerated"}
    moment = re.search(
        r"\b(?:just before|when|lands?|hits?|reach\w*|strikes?|at the (?:bottom|end)|after"
        r"|impact|arriv\w+)\b",
        scene.ask.text,
    )
    asked_then = scene.ask.kind in ("kinetic_energy", "momentum") and moment
    if asked_then and "accelerated" in facts and not kinds & {"speed", "final_speed"}:
        facts.add("at-the-end")
    if "efficien" in text:
        facts.add("efficiency")
    slanting = re.search(
        r"\b(?:rope|string|handle|cable|chain|strap|pull|push\w*|force"
        r"|direction)\b[^.]{0,60}(?:incline|angle|°|below|above)",
        text,
    )
    level = re.search(r"\blevel (?:ground|floor|surface)|horizontal (?:floor|surface|ground)", text)
    sloping = re.search(
        r"inclined? (?:plane|surface|road|track|ramp|that)|\bplane\b|slope|ramp|hill", text
    )
    if sloping and "angle" in kinds and not (slanting and level):
        facts.add("incline")
    if "incline" in facts and any(w in text for w in ("frictionless", "smooth")):
        facts.add("smooth")
    if "incline" in facts and any(w in text for w in ("rests", "at rest", "stationary")):
        facts.add("at-rest")
    if "incline" not in facts and "angle" in kinds and kinds & {"force"}:
        facts.add("force-at-angle")
    if scene.ask.kind == "work" and "friction" in scene.ask.text:
        facts.add("work-by-friction")
    if scene.ask.kind == "work" and (
        "net work" in scene.ask.text or "total work" in scene.ask.text
    ):
        facts.add("net-work")
    if (
        any(
            w in text
            for w in (
                "roller coaster",
                "pendulum",
                "swing",
                "slides down",
                "lowest point",
                "frictionless track",
            )
        )
        and "height" in kinds
    ):
        facts.add("energy-drop")
    if "number" in kinds and any(
        w in text for w in ("ripples", "waves", "oscillations", "vibrations", "crests", "cycles")
    ):
        facts.add("counted-waves")
    return frozenset(facts)


def _known(scene: Scene, facts: frozenset[str]) -> dict[Key, Known]:
    known: dict[Key, Known] = {}

    def put(kind: str, value: Known) -> None:
        known[(kind, ())] = value

    by_kind: dict[str, list[int]] = {}
    same_rate = "this rate" in scene.text.lower()
    for index, given in scene.givens:
        if same_rate and given.ask is not None and given.ask < scene.index:
            continue
        kind = "charge" if given.kind == "charge_transferred" else given.kind
        if kind in ("initial_speed", "final_speed") and scene.ask.kind in (
            "momentum",
            "kinetic_energy",
        ):
            kind = "speed"
        by_kind.setdefault(kind, []).append(index)
    for kind, indices in by_kind.items():
        newest = [
            i
            for i in indices
            if scene.question.givens[i].ask == scene.question.givens[indices[-1]].ask
        ]
        values = [scene.question.givens[i].quantity.value for i in newest]
        if len(set(values)) > 1:
            if (
                kind == "voltage"
                and len(values) == 2
                and re.search(r"\bfrom\b.*\bto\b", scene.text)
            ):
                put(
                    kind,
                    scene.work.expression(
                        "difference of potentials",
                        "V",
                        symbol("V_2") - symbol("V_1"),
                        {"V_1": scene.known(newest[0]), "V_2": scene.known(newest[1])},
                        "V",
                        "potential difference",
                    ),
                )
            elif kind == "side" and len(values) == 2:
                put(
                    "area",
                    scene.work.expression(
                        "area of a rectangle",
                        "A",
                        symbol("a") * symbol("b"),
                        {"a": scene.known(newest[0]), "b": scene.known(newest[1])},
                        "m**2",
                        "area",
                    ),
                )
            elif kind == "force":
                _put_net_force(scene, newest, put)
            elif (
                kind == "charge"
                and facts & {"plates", "capacitor"}
                and len({abs(v) for v in values}) == 1
            ):
                put(kind, scene.known(newest[0]).magnitude())
                scene.used.update(newest)
            elif kind == "surface_density" and len({abs(v) for v in values}) == 1:
                put(kind, scene.known(newest[0]))
                scene.used.update(newest)
            continue
        put(kind, scene.known(indices[-1]))
    for (number, index), prior in scene.earlier.items():
        kind = prior.asked.kind
        e = prior.expected
        if "thrown-up" in facts and kind in ("height", "distance", "max_height"):
            continue
        for name in _TARGETS.get(kind, (kind,))[:1]:
            if (name, ()) not in known and UNITS.get(name) == e.unit:
                put(
                    name,
                    Known(
                        e.value,
                        e.unit,
                        f"{name.replace('_', ' ')} found before",
                        earlier=(number, index),
                    ),
                )
    if ("side", ()) in known and ("area", ()) not in known:
        many = len(by_kind.get("side", [])) == 2
        expression = symbol("a") ** 2
        del many
        put(
            "area",
            scene.work.expression(
                "area of a square", "A", expression, {"a": known[("side", ())]}, "m**2", "area"
            ),
        )
    _motion(scene, facts, known)
    each_second = re.search(r"\b(?:per|each|every|in (?:one|a|1)) second\b", scene.ask.text)
    if scene.ask.kind == "photon_count" and each_second:
        known.setdefault(("time", ()), Known(1.0, "s", "one second"))
    _particle(scene, known)
    _aliases(scene, facts, known)
    return known


def _put_net_force(scene: Scene, forces: Sequence[int], put: Callable[[str, Known], None]) -> None:
    """Two forces whose directions are told add up to the net force."""
    text = scene.text.lower()
    if len(forces) != 2 or scene.all("friction") or scene.all("net_force"):
        return
    first, second = (scene.known(i) for i in forces)
    inputs = {"F_1": first, "F_2": second}
    f1, f2 = symbol("F_1"), symbol("F_2")
    turn = _angle_between(first.direction, second.direction)
    if turn is None:
        if re.search(r"\bopposite (?:directions?|ways)|in opposition", text):
            turn = 180.0
        elif re.search(r"\bsame direction\b", text):
            turn = 0.0
        elif re.search(r"right angles?|perpendicular", text):
            turn = 90.0
        else:
            return
    along = {0.0: f1 + f2, 180.0: sympy.Abs(f1 - f2), 90.0: sympy.sqrt(f1**2 + f2**2)}
    if turn in along:
        put(
            "net_force",
            scene.work.expression(
                "sum of two forces", "F_net", along[turn], inputs, "N", "net force"
            ),
        )


def _angle_between(first: str | None, second: str | None) -> float | None:
    """The angle of two directions in degrees, 0 to 180; None where one is not told."""
    one, other = unit_vector(first or ""), unit_vector(second or "")
    if one is None or other is None:
        return None
    return round(
        math.degrees(math.acos(max(-1.0, min(1.0, one[0] * other[0] + one[1] * other[1]))))
    )


def _zero(label: str, unit: str) -> Known:
    return Known(0.0, unit, label)


def _told_first(one: Known | None, other: Known | None) -> bool:
    """Whether the text gives the first value before the second."""
    if one is None or other is None or one.given is None or other.given is None:
        return False
    return one.given < other.given


def _motion(scene: Scene, facts: frozenset[str], known: dict[Key, Known]) -> None:
    """Rest, slowing down and free fall as values."""
    u, v, a, s = (
        ("initial_speed", ()),
        ("final_speed", ()),
        ("acceleration", ()),
        ("distance", ()),
    )
    speed = ("speed", ())
    kind = scene.ask.kind
    if "from-rest" in facts and u not in known and "thrown-up" not in facts:
        known[u] = _zero("starts from rest", "m/s")
    if "thrown-up" in facts and re.search(
        r"\b(?:back to|returns?|return to|comes back)\b", scene.ask.text
    ):
        known[s] = _zero("back where it started", "m")
        if u in known:
            known[v] = _negated(scene, known[u])
    to_the_top = re.search(r"maximum height|highest point|greatest height|\btop\b", scene.ask.text)
    if kind == "time" and "thrown-up" in facts and to_the_top:
        known[v] = _zero("at the highest point", "m/s")
    falls = re.search(r"\b(?:falls?|fell|falling|dropp?ed|drops)\b", scene.text.lower())
    if (
        falls
        and "gravity" in facts
        and not facts & {"thrown-up", "thrown-down", "projectile"}
        and not {u, speed} & known.keys()
    ):
        known[u] = _zero("falls from rest", "m/s")
    rising = (
        "thrown-up" in facts
        and kind in ("initial_speed", "speed", "final_speed")
        and {s, ("height", ())} & known.keys()
    )
    if rising and not {v, ("time", ()), speed, u} & known.keys():
        known[v] = _zero("at the highest point", "m/s")
    if "to-rest" in facts and v not in known and kind != "final_speed":
        known[v] = _zero("comes to rest", "m/s")
    if v not in known and _told_first(known.get(speed), known.get(u)):
        known[u], known[v] = known[speed], known[u]
    if speed in known and "accelerated" in facts:
        if u in known and v not in known and kind not in ("final_speed", "speed"):
            known[v] = known[speed]
        elif u not in known:
            known[u] = known[speed]
    if (
        re.search(r"\brebounds?\b|bounces? back", scene.text)
        and v in known
        and known[v].value > 0
        and known[v].given is not None
    ):
        known[v] = _negated(scene, known[v])
    if (
        u in known
        and v in known
        and known[u].direction
        and known[v].direction
        and opposite(known[u].direction or "") == known[v].direction
    ):
        known[v] = _negated(scene, known[v])
    downwards = re.search(
        r"accelerat\w*[^.;]{0,30}\bdown(?:wards?)?\b|\bdownwards? accelerat", scene.text.lower()
    )
    if "vertical-force" in facts and (a in known or downwards):
        if "slowing" in facts:
            raise Unsolved("Which way the acceleration points was not understood.")
        if downwards and a in known and known[a].value > 0 and known[a].given is not None:
            known[a] = _negated(scene, known[a])
    if "slowing" in facts and a in known and known[a].value > 0 and known[a].given is not None:
        known[a] = _negated(scene, known[a])
    vertical = (
        "projectile" not in facts
        and facts & {"thrown-up", "thrown-down", "gravity", "from-rest"}
        and "gravity" in facts
    )
    if (
        vertical
        and "accelerated" in facts
        and a not in known
        and not known.keys() & {("force", ()), ("net_force", ()), ("friction", ())}
    ):
        g = scene.work.constant("g")
        if ("gravity", ()) in known:
            g = known[("gravity", ())]
        if "thrown-up" in facts:
            known[a] = _negated(scene, g)
            if kind == "max_height" or (
                kind in ("height", "distance") and "highest" in scene.ask.text
            ):
                known[v] = _zero("at the highest point", "m/s")
        else:
            known[a] = g
        if ("height", ()) in known and s not in known:
            known[s] = known[("height", ())]


def _negated(scene: Scene, known: Known) -> Known:
    return scene.work.expression(
        "against the motion", "a", -symbol("a_0"), {"a_0": known}, known.unit, known.label
    )


def _aliases(scene: Scene, facts: frozenset[str], known: dict[Key, Known]) -> None:
    pairs: tuple[tuple[str, str], ...] = (
        ("charge_transferred", "charge"),
        ("displacement", "distance"),
        ("sound_speed", "wave_speed"),
        ("speed", "wave_speed"),
        ("work", "energy"),
        ("energy", "work"),
    )
    if "this rate" in scene.text.lower():
        pairs = (*pairs, ("useful_power", "power"))
    for source, target in pairs:
        if (source, ()) in known and (target, ()) not in known and scene.ask.kind != target:
            known[(target, ())] = known[(source, ())]
    if ("force", ()) in known and ("time", ()) in known and ("distance", ()) not in known:
        known.setdefault(("impulse_force", ()), known[("force", ())])
    if (
        ("net_force", ()) in known
        and ("time", ()) in known
        and scene.ask.kind in ("impulse", "momentum_change")
    ):
        known.setdefault(("impulse_force", ()), known[("net_force", ())])
    level = not facts & {"gravity", "projectile", "lifting", "incline", "energy-drop"}
    steady = "constant-speed" in facts and scene.ask.kind in ("time", "speed")
    if steady and level and ("height", ()) in known:
        known.setdefault(("distance", ()), known[("height", ())])
    if "projectile" in facts and ("speed", ()) in known:
        known.setdefault(("initial_speed", ()), known[("speed", ())])
    if ("emf", ()) in known and "x-ray-tube" in facts:
        known.setdefault(("voltage", ()), known[("emf", ())])
    where = [k for k in ("force", "friction", "weight") if (k, ()) in known]
    if scene.ask.kind in ("power", "useful_power") and where and ("speed", ()) in known:
        known.setdefault(("drive_force", ()), known[(where[0], ())])
    lifted = scene.ask.kind == "potential_energy" and ("charge", ()) not in known
    if lifted and ("distance", ()) in known:
        known.setdefault(("height", ()), known[("distance", ())])
    if ("work", ()) in known and scene.ask.kind in ("final_speed", "speed", "initial_speed"):
        known.setdefault(("net_work", ()), known[("work", ())])
    at_a_point = "point-charge" in facts and "potential" in scene.text.lower()
    if ("voltage", ()) in known and at_a_point:
        known.setdefault(("potential", ()), known[("voltage", ())])
    if ("plate_separation", ()) in known and ("mass", ()) in known:
        known.setdefault(("distance", ()), known[("plate_separation", ())])
    if ("emf", ()) in known and ("voltage", ()) not in known and "through-voltage" in facts:
        known[("voltage", ())] = known[("emf", ())]
    if (
        ("final_speed", ()) in known
        and ("speed", ()) not in known
        and ("initial_speed", ()) not in known
    ):
        known[("speed", ())] = known[("final_speed", ())]
    if (
        ("initial_speed", ()) in known
        and ("speed", ()) not in known
        and known[("initial_speed", ())].value != 0
        and scene.ask.kind in ("kinetic_energy", "momentum")
    ):
        known[("speed", ())] = known[("initial_speed", ())]


def _particle(scene: Scene, known: dict[Key, Known]) -> None:
    charged = [
        b
        for b in scene.question.bodies
        if any(f.name == "particle" and f.bodies == (b,) for f in scene.facts)
    ]
    if len(charged) == 1:
        charge = scene.charge(charged[0], scene.ask.stage)
        mass = scene.mass(charged[0])
        if charge is not None and ("charge", ()) not in known:
            known[("charge", ())] = charge
        if mass is not None and ("mass", ()) not in known:
            known[("mass", ())] = mass
