"""Asks over several values of one kind: networks of resistors or capacitors, "of each"."""

from __future__ import annotations

import re

import sympy

from parser.worksheet import Fact
from solver.derive.engine import Known, Unsolved
from solver.derive.results import Answer, Result
from solver.derive.scene import Scene
from solver.laws.book import symbol

_KINDS = {"resistance": ("R", "ohm", "series"), "capacitance": ("C", "F", "parallel")}


def answer(scene: Scene) -> Answer | None:
    """Totals of networks and what follows from them; None for all else."""
    unread = scene.fact("unread-network")
    if unread is not None and scene.ask.kind not in ("mass",):
        raise Unsolved("How the parts are connected was not understood.")
    if scene.ask.kind == "component_count":
        return _how_many(scene, "resistance" if scene.all("resistance") else "capacitance")
    for kind in _KINDS:
        count = sum(1 for _ in scene.all(kind))
        network = next(
            (f for f in reversed(scene.facts) if f.name == "network" and f.get("kind") == kind),
            None,
        )
        if network is not None and (count >= 2 or network.get("count") or network.get("members")):
            return _network(scene, kind, network)
        mode = next(
            (f.name for f in reversed(scene.facts) if f.name in ("series", "parallel")), None
        )
        if network is None and count >= 2 and mode is not None and not scene.has("either-way"):
            found = _network(scene, kind, Fact("network", (), (("kind", kind), ("outer", mode))))
            if found is not None:
                return found
        if count == 2 and scene.ask.kind == kind and network is None and scene.has("either-way"):
            return _either(scene, kind)
    return None


def _either(scene: Scene, kind: str) -> Answer:
    """All totals that two components can make."""
    known = [scene.known(i) for i, _ in scene.all(kind)]
    return [
        Result("series", _total(scene, kind, known, "series")),
        Result("parallel", _total(scene, kind, known, "parallel")),
    ]


def _total(scene: Scene, kind: str, parts: list[Known], mode: str, count: int = 0) -> Known:
    """The total of components in one mode; ``count`` equal ones when only one value is given."""
    letter, unit, adds = _KINDS[kind]
    if count:
        n, one = sympy.Integer(count), symbol(letter)
        expression = n * one if mode == adds else one / n
        return scene.work.expression(
            f"{count} equal in {mode}",
            f"{letter}_t",
            expression,
            {letter: parts[0]},
            unit,
            f"total {kind}",
        )
    names = [f"{letter}_{i + 1}" for i in range(len(parts))]
    terms = [symbol(n) for n in names]
    expression = (
        sum(terms, sympy.Integer(0))
        if mode == adds
        else 1 / sum((1 / t for t in terms), sympy.Integer(0))
    )
    return scene.work.expression(
        f"{kind} in {mode}",
        f"{letter}_t",
        expression,
        dict(zip(names, parts, strict=True)),
        unit,
        f"total {kind}",
    )


def _network(scene: Scene, kind: str, network: Fact) -> Answer | None:
    ask = scene.ask
    values = scene.all(kind)
    outer = str(network.get("outer"))
    inner = [int(i) for i in str(network.get("members") or "").split(",") if i]
    count = int(float(network.get("count") or 0))
    if count and len(values) == 1:
        total = _total(scene, kind, [scene.known(values[0][0])], outer, count)
    elif inner:
        group = _total(scene, kind, [scene.known(i) for i in inner], str(network.get("inner")))
        everything = [int(i) for i in str(network.get("all") or "").split(",") if i]
        rest = [scene.known(i) for i in _outside(inner, everything or [i for i, _ in values])]
        rest = rest if everything else _unrepeated(rest)
        total = _total(scene, kind, [group, *rest], outer)
    else:
        told = {int(i) for i in str(network.get("all") or "").split(",") if i}
        distinct = [scene.known(i) for i, _ in values if not told or i in told]
        total = _total(scene, kind, distinct if told else _unrepeated(distinct), outer)
    earlier = scene.prior(kind)
    total = earlier[0] if earlier is not None and ask.kind != kind else total
    if ask.kind == kind:
        return [Result(None, total)]
    branch = _branch(scene, kind, network, inner, total) if inner else None
    return branch or _circuit(scene, kind, total, outer, inner)


def _outside(inner: list[int], everything: list[int]) -> list[int]:
    """What is not in the inner group; an equal part may stand in both."""
    left = list(everything)
    for one in inner:
        if one in left:
            left.remove(one)
    return left


def _branch(
    scene: Scene, kind: str, network: Fact, inner: list[int], total: Known
) -> Answer | None:
    """The current in one resistor of a group in parallel that the main current divides in."""
    text = scene.ask.text
    single = [i for i, _ in scene.all(kind) if _mentioned(scene, i, text)]
    values = {scene.question.givens[i].quantity.value for i in inner}
    chosen = [i for i in single if scene.question.givens[i].quantity.value in values]
    if kind != "resistance" or scene.ask.kind not in ("current", "voltage", "power") or not chosen:
        return None
    source = scene.one("emf") or scene.one("voltage")
    alike = [g for _, g in scene.all(kind) if g.quantity.value in values]
    if (
        source is None
        or network.get("inner") != "parallel"
        or scene.ask.kind != "current"
        or scene.all("internal_resistance")
        and scene.prior("current") is None
        or len(values) > 1
        and len(alike) > len(inner) + 1
    ):
        raise Unsolved("This part of the network was not understood.")
    prior = scene.prior("current")
    main = (
        prior[0]
        if prior
        else scene.work.expression(
            "Ohm's law",
            "I",
            symbol("V") / symbol("R"),
            {"V": source, "R": total},
            "A",
            "main current",
        )
    )
    parts = {f"R_{n + 1}": scene.known(i) for n, i in enumerate(inner)}
    shared = symbol("I") / sum((1 / symbol(n) for n in parts), sympy.Integer(0)) / symbol("R")
    own = scene.known(chosen[0])
    known = scene.work.expression(
        "current in the branch", "I_1", shared, {"I": main, "R": own} | parts, "A", "current"
    )
    return [Result(None, known)]


def _unrepeated(parts: list[Known]) -> list[Known]:
    """Values named again in a later part ("across the 3 µF capacitor") count once."""
    out: list[Known] = []
    for one in parts:
        if all(o.value != one.value or o.given == one.given for o in out):
            out.append(one)
    return out


def _circuit(scene: Scene, kind: str, total: Known, outer: str, inner: list[int]) -> Answer | None:
    """Current, charge, energy or part voltage of a network on one source."""
    ask = scene.ask
    source = scene.one("emf") or scene.one("voltage")
    current = scene.prior("current")
    text = ask.text
    single = [i for i, g in scene.all(kind) if g.ask == scene.index or _mentioned(scene, i, text)]
    if source is None:
        return None
    if kind == "resistance":
        r_in = scene.one("internal_resistance")
        expression = symbol("V") / symbol("R")
        inputs = {"V": source, "R": total}
        if r_in is not None:
            expression = symbol("V") / (symbol("R") + symbol("r"))
            inputs["r"] = r_in
        main = (
            current[0]
            if current
            else scene.work.expression("Ohm's law", "I", expression, inputs, "A", "current")
        )
        if ask.kind == "current" and not (single and outer == "parallel"):
            return [Result(None, main)]
        if (
            ask.kind == "voltage"
            and single
            and outer == "series"
            and not inner
            or ask.kind == "voltage"
            and single
            and single[-1] not in inner
        ):
            part = scene.known(single[-1])
            return [
                Result(
                    None,
                    scene.work.expression(
                        "Ohm's law",
                        "V",
                        symbol("I") * symbol("R"),
                        {"I": main, "R": part},
                        "V",
                        "voltage",
                    ),
                )
            ]
        if ask.kind == "power" and not single:
            return [
                Result(
                    None,
                    scene.work.expression(
                        "electrical power",
                        "P",
                        symbol("V") * symbol("I"),
                        {"V": source, "I": main},
                        "W",
                        "power",
                    ),
                )
            ]
        if ask.kind == "voltage" and not single and r_in is not None:
            terminal = {"I": main, "R": total}
            known = scene.work.expression(
                "Ohm's law", "V", symbol("I") * symbol("R"), terminal, "V", "terminal voltage"
            )
            return [Result(None, known)]
        if ask.kind == "current" and single and outer == "parallel" and not inner and r_in is None:
            scene.idle.update(i for i, _ in scene.all(kind))
            branch = {"V": source, "R": scene.known(single[-1])}
            known = scene.work.expression(
                "current in the branch",
                "I",
                symbol("V") / symbol("R"),
                branch,
                "A",
                "current in the branch",
            )
            return [Result(None, known)]
        raise Unsolved("This part of the network was not understood.")
    parallel = outer == "parallel"
    if single or (parallel and re.search(r"\beach\b", text)):
        return _parts(scene, source, total, parallel, inner, single)
    charge = scene.work.expression(
        "charge of a capacitor",
        "Q",
        symbol("C") * symbol("V"),
        {"C": total, "V": source},
        "C",
        "charge",
    )
    if ask.kind == "charge":
        return [Result(None if parallel else "each", charge)]
    if ask.kind == "energy":
        return [Result(None, _energy(scene, total, source))]
    raise Unsolved("This part of the network was not understood.")


def _energy(scene: Scene, capacitance: Known, voltage: Known) -> Known:
    return scene.work.expression(
        "energy of a capacitor",
        "E",
        symbol("C") * symbol("V") ** 2 / 2,
        {"C": capacitance, "V": voltage},
        "J",
        "energy",
    )


def _parts(
    scene: Scene, source: Known, total: Known, parallel: bool, inner: list[int], single: list[int]
) -> Answer:
    """Charge, voltage or energy of single capacitors of a plain network."""
    if inner:
        raise Unsolved("This part of the network was not understood.")
    chosen = single[-1:] or [i for i, _ in scene.all("capacitance")]
    out: Answer = []
    for index in chosen:
        own = scene.known(index)
        voltage = source
        if not parallel:
            prior = scene.prior("charge")
            q = (
                prior[0]
                if prior
                else scene.work.expression(
                    "charge of a capacitor",
                    "Q",
                    symbol("C") * symbol("V"),
                    {"C": total, "V": source},
                    "C",
                    "charge",
                )
            )
            voltage = scene.work.expression(
                "capacitance", "V", symbol("Q") / symbol("C"), {"Q": q, "C": own}, "V", "voltage"
            )
        if scene.ask.kind == "voltage":
            out.append(Result(None, voltage))
        elif scene.ask.kind == "charge":
            out.append(
                Result(
                    None,
                    scene.work.expression(
                        "charge of a capacitor",
                        "Q",
                        symbol("C") * symbol("V"),
                        {"C": own, "V": voltage},
                        "C",
                        "charge",
                    ),
                )
            )
        elif scene.ask.kind == "energy":
            out.append(Result(None, _energy(scene, own, voltage)))
        else:
            raise Unsolved("This part of the network was not understood.")
    return out


def _mentioned(scene: Scene, index: int, text: str) -> bool:
    return scene.question.givens[index].quantity.text in text


def _how_many(scene: Scene, kind: str) -> Answer | None:
    """How many equal components make a wanted total."""
    letter, _, adds = _KINDS[kind]
    values = scene.all(kind)
    if len(values) != 2:
        return None
    first, second = (scene.known(i) for i, _ in values)
    big, small = (first, second) if first.value > second.value else (second, first)
    expression = symbol(f"{letter}_1") / symbol(f"{letter}_2")
    del adds
    known = scene.work.expression(
        "equal components",
        "n",
        expression,
        {f"{letter}_1": big, f"{letter}_2": small},
        "dimensionless",
        "number",
    )
    return [Result(None, known)]
