"""Words that change the physics: has the derivation heard them?

A question can be read in part and still give a number. These checks name the words that the
result would have to rest on; where it does not, the question was not understood.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping

from solver.derive.engine import Unsolved
from solver.derive.scene import Prior, Scene
from solver.findings import Derivation

_SEVERAL = re.compile(r"\b(?:two|three|four|five|six|eight|ten|identical|each|both|several)\b")
_OF_NETWORKS = re.compile(
    r"\b(?:series|parallel)\b|equal components|of a capacitor$|in the branch$"
)
_UPRIGHT = re.compile(
    r"accelerat\w*[^.;]{0,40}\b(?:up|down)(?:wards?)?\b|\b(?:up|down)wards? accelerat"
)
_TAKING_OFF = re.compile(
    r"\b(?:rocket|thrust|tak(?:es?|ing) off|lift-?off|blasts? off|launch\w*|hoist\w*|crane"
    r"|vertically|upward\w*)\b"
)
_COUNT = re.compile(
    r"\b(two|three|four|five|six|seven|eight|nine|ten|twelve|twenty|a dozen)\b(?! another)"
    r"((?: [a-z-]+){1,3})"
)
# what may be counted without a part in the result
_IDLE = re.compile(
    r"^ (?:\w+ )?(?:plates?|parallel|points?|places?|towns?|cit(?:y|ies)|stations?|posts?|metals?"
    r"|ends?|sides?|decimal|significant|figures?|parts?|forces?|directions?|terminals?|surfaces?"
    r"|successive|consecutive|adjacent|neighbouring|crests?|hands?|legs?|cars?|trolleys?|carts?"
    r"|bodies|blocks?|balls?|objects?|children|people|students|skaters|vehicles|times|charges?"
    r"|of|different|opposite|and|or|horizontal|vertical|equal and|large|wide|flat|metal|conducting"
    r"|charged|electrodes|sheets|wires|protons?|electrons?|nucle\w+|ions?|particles?)\b"
)


_VALUES = {"two": 2, "three": 3, "four": 4, "five": 5, "six": 6}


def check(scene: Scene, derivation: Derivation, prior: Mapping[tuple[str, int], Prior]) -> None:
    """Raise ``Unsolved`` where the result does not rest on words that must change it."""
    laws = _laws(derivation, prior)
    text = scene.text.lower()
    _connections(scene, laws, text)
    _upright(scene, laws, text)
    _counts(scene, laws, text)


def _laws(derivation: Derivation, prior: Mapping[tuple[str, int], Prior]) -> set[str]:
    """The names of all laws behind a result, those of earlier parts included."""
    laws: set[str] = set()
    stack = [derivation]
    while stack:
        for step in stack.pop().steps:
            laws.add(step.law)
            for one in step.inputs:
                before = prior.get(one.earlier) if one.earlier else None
                if before is not None and before.expected.derivation is not None:
                    stack.append(before.expected.derivation)
    return laws


def _connections(scene: Scene, laws: set[str], text: str) -> None:
    """Series and parallel change every total, current and voltage."""
    if not (scene.has("series") or scene.has("parallel")):
        return
    parts = len(scene.all("resistance")) + len(scene.all("capacitance"))
    alone = parts < 2 and not _SEVERAL.search(text)
    circuit = scene.all("emf") or scene.all("voltage") or scene.all("current") or parts
    if alone or not circuit or any(_OF_NETWORKS.search(law) for law in laws):
        return
    raise Unsolved("How the parts are connected was not worked into the result.")


def _upright(scene: Scene, laws: set[str], text: str) -> None:
    """A body that is accelerated up or down is held by more or less than its weight."""
    if scene.has("electric"):
        return
    pushed = scene.all("force") or scene.all("tension") or scene.ask.kind == "force"
    rises = scene.ask.kind == "acceleration" and pushed and _TAKING_OFF.search(text)
    if rises and not laws & {"weight", "lifting force"}:
        raise Unsolved("How the weight counts was not worked into the result.")
    if scene.ask.kind not in ("force", "tension", "normal_force"):
        return
    if _UPRIGHT.search(text) and not laws & {"weight", "lifting force", "floor that lifts"}:
        raise Unsolved("How the weight counts was not worked into the result.")


def _counts(scene: Scene, laws: set[str], text: str) -> None:
    """A number of things, in words, that nothing has used."""
    kinds = {g.kind for _, g in scene.givens} | {scene.ask.kind}
    charged = any(kind == "charge" or kind.startswith("electron") for kind in kinds)
    if charged or scene.has("electric") or scene.has("contact"):
        return
    if scene.has("collision") or scene.has("network") or scene.ask.kind == "component_count":
        return
    if any(re.search(r"\b(?:series|parallel|equal)\b", law) for law in laws):
        return
    listed = Counter(g.kind for g in scene.question.givens)
    for match in _COUNT.finditer(text):
        told = _VALUES.get(match.group(1)) in listed.values()
        if told or scene.scaled_used or _IDLE.match(match.group(2)):
            continue
        raise Unsolved(f"It is not clear what these words change: {match.group().strip()}")
