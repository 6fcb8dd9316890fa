"""Steps, the values that flow between them, and the search that chains laws.

``Work`` collects the steps of one derivation. ``chain`` finds the cheapest way from known
values to a wanted one by applying laws forwards, each turned round for its one unknown.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import sympy

from parser.worksheet import Quantity
from solver.constants import CONSTANTS
from solver.findings import Derivation, Expected, Input, Step
from solver.laws.book import Law, Rearranged, equation_of, rearranged, symbol

Key = tuple[str, tuple[str, ...]]

# kinds that cannot be negative
NON_NEGATIVE = frozenset(
    [
        "time",
        "mass",
        "radius",
        "diameter",
        "height",
        "length",
        "area",
        "volume",
        "plate_separation",
        "capacitance",
        "resistance",
        "frequency",
        "wavelength",
        "period",
        "speed",
        "wave_speed",
        "power",
        "electron_count",
        "kinetic_energy",
        "charge_size",
        "force_size",
        "photon_energy",
        "work_function",
        "internal_resistance",
        "density",
        "energy",
        "friction_coefficient",
        "weight",
        "normal_force",
        "tension",
        "side",
        "stiffness",
        "extension",
        "final_speed_size",
        "temperature",
        "dielectric_constant",
        "efficiency",
        "threshold_frequency",
        "max_height",
    ]
)


class Unsolved(Exception):
    """Why a question has no derivation; the message is a plain sentence."""


@dataclass(frozen=True)
class Known:
    """A value and where it came from."""

    value: float
    unit: str
    label: str = ""
    given: int | None = None
    step: int | None = None
    constant: str | None = None
    earlier: tuple[str, int] | None = None
    quantity: Quantity | None = None
    direction: str | None = None

    def magnitude(self) -> Known:
        return replace(self, value=abs(self.value))

    def as_input(self, name: str) -> Input:
        return Input(
            name,
            self.value,
            self.unit,
            self.label,
            self.quantity,
            self.given,
            self.step,
            self.constant,
            self.earlier,
        )


@dataclass
class Work:
    """The steps of one derivation in the making, and the constants in force."""

    stated: Mapping[str, Known] = field(default_factory=dict)
    steps: list[Step] = field(default_factory=list)

    def constant(self, name: str) -> Known:
        if name in self.stated:
            return self.stated[name]
        constant = CONSTANTS[name]
        return Known(constant.value, constant.unit, constant.meaning, constant=name)

    def apply(
        self,
        law: Law,
        unknown: str,
        inputs: Mapping[str, Known],
        unit: str,
        label: str = "",
        direction: str | None = None,
        sentence: str = "",
    ) -> Known:
        """Use ``law`` to find ``unknown``; raises ``Unsolved`` when it has no one answer."""
        bound = {n: (k.magnitude() if n in law.magnitudes else k) for n, k in inputs.items()} | {
            s: self.constant(c) for s, c in law.constants.items()
        }
        form, value = solve_numbers(law, unknown, {n: k.value for n, k in bound.items()})
        used = tuple(bound[n].as_input(n) for n in form.names)
        return self._put(
            Step(
                law.name,
                equation_of(law),
                form.expression,
                unknown,
                used,
                value,
                unit,
                label,
                direction,
                sentence,
            )
        )

    def expression(
        self,
        name: str,
        unknown: str,
        expression: sympy.Expr,
        inputs: Mapping[str, Known],
        unit: str,
        label: str = "",
        direction: str | None = None,
        sentence: str = "",
    ) -> Known:
        """A step written out for this situation, such as a sum of forces."""
        used = {s.name for s in expression.free_symbols}
        value = float(expression.subs({symbol(n): inputs[n].value for n in used}))
        step = Step(
            name,
            sympy.Eq(symbol(unknown), expression, evaluate=False),
            expression,
            unknown,
            tuple(inputs[n].as_input(n) for n in sorted(used)),
            value,
            unit,
            label,
            direction,
            sentence,
        )
        return self._put(step)

    def _put(self, step: Step) -> Known:
        self.steps.append(step)
        return Known(
            step.value, step.unit, step.label, step=len(self.steps) - 1, direction=step.direction
        )

    def derivation(self, result: Known) -> Derivation:
        """The steps that ``result`` rests on, in order, renumbered."""
        if result.step is None:
            result = self.expression(
                "as given",
                "x",
                symbol("x_0"),
                {"x_0": result},
                result.unit,
                result.label,
                result.direction,
            )
        assert result.step is not None
        needed = {result.step}
        for index in range(result.step, -1, -1):
            if index in needed:
                needed |= {i.step for i in self.steps[index].inputs if i.step is not None}
        order = sorted(needed)
        place = {old: new for new, old in enumerate(order)}
        return Derivation(
            tuple(
                replace(
                    self.steps[i],
                    inputs=tuple(
                        replace(x, step=place[x.step]) if x.step is not None else x
                        for x in self.steps[i].inputs
                    ),
                )
                for i in order
            )
        )


def solve_numbers(law: Law, unknown: str, values: Mapping[str, float]) -> tuple[Rearranged, float]:
    """The rearrangement and value of the one possible solution."""
    kind = law.symbols.get(unknown, "")
    found: list[tuple[Rearranged, float]] = []
    for form in rearranged(law, unknown):
        try:
            value = form.function(*(values[n] for n in form.names))
        except (ValueError, ZeroDivisionError, OverflowError, KeyError, TypeError):
            continue
        if isinstance(value, complex) or not math.isfinite(float(value)):  # type: ignore[arg-type]
            continue
        number = float(value)  # type: ignore[arg-type]
        if number < -1e-30 and (kind in NON_NEGATIVE or unknown in law.magnitudes):
            continue
        if all(not math.isclose(number, v, rel_tol=1e-9) for _, v in found):
            found.append((form, number))
    positive = [f for f in found if f[1] > 0]
    if len(found) == 1:
        return found[0]
    if len(positive) == 1:
        return positive[0]
    raise Unsolved(f"{law.name} gives no single value for {unknown}.")


# --- evaluation with other constants ---------------------------------------------------


def evaluate(
    derivation: Derivation,
    constants: Mapping[str, float],
    earlier: Mapping[tuple[str, int], Expected],
) -> float:
    """The result of a derivation with other values of the constants."""
    values: list[float] = []
    for step in derivation.steps:
        numbers = {}
        for one in step.inputs:
            value = one.value
            if one.constant is not None and one.constant in constants and one.given is None:
                value = math.copysign(constants[one.constant], one.value)
            elif one.step is not None:
                value = (
                    math.copysign(values[one.step], one.value)
                    if one.value < 0 or values[one.step] < 0
                    else values[one.step]
                )
            elif one.earlier is not None and one.earlier in earlier:
                before = earlier[one.earlier].derivation
                if before is not None:
                    again = evaluate(before, constants, earlier)
                    value = math.copysign(again, one.value)
            numbers[symbol(one.symbol)] = value
        values.append(float(step.solved.subs(numbers)))
    return values[-1]


def constants_used(derivation: Derivation, earlier: Mapping[tuple[str, int], Expected]) -> set[str]:
    """Names of the constants that the result rests on."""
    used: set[str] = set()
    for step in derivation.steps:
        for one in step.inputs:
            if one.constant and one.constant in CONSTANTS and one.given is None:
                used.add(one.constant)
            before = earlier.get(one.earlier) if one.earlier else None
            if before is not None and before.derivation is not None:
                used |= constants_used(before.derivation, earlier)
    return used


def accepted_values(
    derivation: Derivation, earlier: Mapping[tuple[str, int], Expected]
) -> tuple[float, ...]:
    """The result for every combination of accepted constants (the printed one first)."""
    names = sorted(constants_used(derivation, earlier))
    choices = [CONSTANTS[n].values for n in names]
    while math.prod(len(c) for c in choices) > 40:
        longest = max(range(len(choices)), key=lambda i: len(choices[i]))
        choices[longest] = choices[longest][:-1]
    out: list[float] = []
    for combination in itertools.product(*choices):
        value = evaluate(derivation, dict(zip(names, combination, strict=True)), earlier)
        if all(not math.isclose(value, v, rel_tol=1e-6) for v in out):
            out.append(value)
    return tuple(out)


# --- chaining --------------------------------------------------------------------------


@dataclass(frozen=True)
class Instance:
    """A law with its symbols bound to quantities of named bodies."""

    law: Law
    keys: Mapping[str, Key]
    units: Mapping[str, str]


@dataclass(frozen=True)
class _Node:
    value: float
    cost: float
    instance: Instance | None
    unknown: str


def chain(
    work: Work,
    target: Key,
    known: Mapping[Key, Known],
    instances: Sequence[Instance],
    rounds: int = 6,
) -> tuple[Known, dict[Key, Known]]:
    """The wanted quantity by the cheapest chain of laws; also every value on the way.

    Raises ``Unsolved`` when no chain reaches it or two chains disagree.
    """
    nodes: dict[Key, _Node] = {k: _Node(v.value, 0.0, None, "") for k, v in known.items()}
    for _ in range(rounds):
        changed = False
        for instance in instances:
            changed |= _extend(work, nodes, instance, known)
        if not changed:
            break
    if target not in nodes:
        raise Unsolved(_what_is_missing(target, nodes, instances))
    _check_agreement(work, target, nodes, instances)
    done: dict[Key, Known] = dict(known)
    result = _materialise(work, target, nodes, done)
    return result, done


def _extend(
    work: Work, nodes: dict[Key, _Node], instance: Instance, known: Mapping[Key, Known]
) -> bool:
    missing = [s for s, k in instance.keys.items() if k not in nodes]
    if len(missing) > 1:
        return False
    changed = False
    for unknown in missing or list(instance.keys):
        key = instance.keys[unknown]
        if key in known:
            continue
        others = [k for s, k in instance.keys.items() if s != unknown]
        if key in others:
            continue
        cost = instance.law.cost + sum(nodes[k].cost for k in set(others))
        if key in nodes and nodes[key].cost <= cost + 1e-9:
            continue
        if any(_rests_on(nodes, k, key) for k in others):
            continue
        value = _number(work, instance, unknown, nodes)
        if value is None:
            continue
        nodes[key] = _Node(value, cost, instance, unknown)
        changed = True
    return changed


def _rests_on(nodes: Mapping[Key, _Node], key: Key, on: Key) -> bool:
    node = nodes[key]
    if key == on:
        return True
    if node.instance is None:
        return False
    return any(_rests_on(nodes, k, on) for s, k in node.instance.keys.items() if s != node.unknown)


def _number(
    work: Work, instance: Instance, unknown: str, nodes: Mapping[Key, _Node]
) -> float | None:
    law = instance.law
    values = {s: nodes[k].value for s, k in instance.keys.items() if s != unknown}
    values = {s: abs(v) if s in law.magnitudes else v for s, v in values.items()}
    values |= {s: work.constant(c).value for s, c in law.constants.items()}
    try:
        return solve_numbers(law, unknown, values)[1]
    except Unsolved:
        return None


def _check_agreement(
    work: Work, target: Key, nodes: Mapping[Key, _Node], instances: Iterable[Instance]
) -> None:
    for instance in instances:
        for unknown, key in instance.keys.items():
            if key != target or any(k not in nodes for k in instance.keys.values()):
                continue
            others = [k for s, k in instance.keys.items() if s != unknown]
            if any(_rests_on(nodes, k, target) for k in others):
                continue
            value = _number(work, instance, unknown, nodes)
            if value is None:
                continue
            if not math.isclose(abs(value), abs(nodes[target].value), rel_tol=0.03):
                raise Unsolved(
                    f"The givens contradict each other: {instance.law.name} gives another value."
                )


def _materialise(work: Work, key: Key, nodes: Mapping[Key, _Node], done: dict[Key, Known]) -> Known:
    if key in done:
        return done[key]
    node = nodes[key]
    assert node.instance is not None
    inputs = {
        s: _materialise(work, k, nodes, done)
        for s, k in node.instance.keys.items()
        if s != node.unknown
    }
    done[key] = work.apply(
        node.instance.law,
        node.unknown,
        inputs,
        node.instance.units[node.unknown],
        label=describe(key),
    )
    return done[key]


def describe(key: Key) -> str:
    """A quantity of bodies in words: "force of A and B"."""
    kind, names = key
    words = kind.replace("_", " ")
    return words if not names else f"{words} of {' and '.join(names)}"


def _what_is_missing(target: Key, nodes: Mapping[Key, _Node], instances: Sequence[Instance]) -> str:
    best: list[Key] | None = None
    for instance in instances:
        if target not in instance.keys.values():
            continue
        missing = [k for k in instance.keys.values() if k != target and k not in nodes]
        if best is None or len(missing) < len(best):
            best = missing
    if best is None:
        return f"No law here leads to the {describe(target)}."
    return "Missing: " + ", ".join(f"the {describe(k)}" for k in best) + "."
