"""Answers to the asks of electrostatics that need bodies, places and signs.

Each handler takes a scene and gives results, or None when the ask is not its business;
``Unsolved`` says why an ask that is its business has no answer.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

from solver.derive.contact import (
    charge_before,
    charge_from_count,
    charge_in_coulombs,
    charge_moved,
    charge_of_substance,
    counted_electrons,
    has_contact,
    shared_charge,
)
from solver.derive.engine import Unsolved
from solver.derive.fields import (
    charge_from_potential,
    field_elsewhere,
    field_from_force,
    pair_energy,
    point_field,
    point_potential,
    potential_at_point,
)
from solver.derive.forces import coulomb_force, force_in_field
from solver.derive.moving_charges import acceleration_of_charge, moved_apart, speeds_by_voltage
from solver.derive.results import Answer
from solver.derive.scaling import changed_distance, changed_force, ratio_of_changes
from solver.derive.scene import Scene
from solver.derive.unknowns import (
    charge_from_coulomb,
    charge_from_zero_force,
    distance_from_coulomb,
    distance_from_field,
    ratio_from_null_point,
    zero_place,
)

_UNSUPPORTED = re.compile(r"\b(?:half-)?ring\b|\bdis[ck]\b|hemispher|cylind|\barc\b|annul", re.I)


def answer(scene: Scene) -> Answer | None:
    """The results of an electrostatic ask, or None when it is not one."""
    if not _is_electric(scene):
        return None
    _check_understood(scene)
    counted = any(g.kind.startswith("electrons") for _, g in scene.givens)
    shapeless = scene.ask.kind == "electron_count" or counted or scene.has("contact")
    if not shapeless and _UNSUPPORTED.search(scene.text):
        raise Unsolved("Charge spread over such a shape is not in the law book.")
    if _has_unread_vector(scene):
        raise Unsolved("A vector in this question was not understood.")
    handlers: dict[str, Sequence[Callable[[Scene], Answer | None]]] = {
        "charge": (
            ratio_from_null_point,
            charge_of_substance,
            charge_in_coulombs,
            charge_from_potential,
            shared_charge,
            charge_before,
            charge_from_count,
            charge_from_zero_force,
            charge_from_coulomb,
        ),
        "electron_count": (counted_electrons,),
        "charge_transferred": (charge_moved,),
        "force": (ratio_of_changes, changed_force, force_in_field, coulomb_force),
        "net_force": (ratio_of_changes, changed_force, force_in_field, coulomb_force),
        "field": (ratio_of_changes, field_elsewhere, field_from_force, point_field),
        "potential": (field_elsewhere, point_potential),
        "voltage": (potential_at_point,),
        "potential_energy": (moved_apart, pair_energy),
        "work": (moved_apart,),
        "kinetic_energy": (moved_apart,),
        "speed": (speeds_by_voltage, moved_apart),
        "final_speed": (speeds_by_voltage, moved_apart),
        "separation": (zero_place, changed_distance, distance_from_coulomb),
        "distance": (zero_place, changed_distance, distance_from_coulomb, distance_from_field),
        "acceleration": (acceleration_of_charge,),
    }
    for handler in handlers.get(scene.ask.kind, ()):
        found = handler(scene)
        if found is not None:
            return found
    bodies = {*scene.charged(scene.ask.stage), *([scene.ask.of] if scene.ask.of else [])}
    if scene.ask.kind in ("force", "net_force"):
        bodies |= {b for _, g in scene.all("distance") for b in g.between or ()}
    if (
        scene.ask.kind in ("force", "net_force", "field", "charge", "distance", "separation")
        and len(bodies & set(scene.question.bodies)) >= 2
        and not scene.has("plates")
        and "capacit" not in scene.text
        and not (scene.all("mass") and (scene.all("voltage") or scene.all("emf")))
    ):
        raise Unsolved("The places of the charges, or what acts on them, were not understood.")
    return None


def _has_unread_vector(scene: Scene) -> bool:
    """Whether a unit vector stands outside the quantities that were read."""
    text = scene.text
    for given in scene.question.givens:
        text = text.replace(given.quantity.text, "")
    return bool(re.search(r"[îĵŷẑ\u0302]|\bcomponents?\b", text))


_ON_WHAT = re.compile(
    r"\bcharge (?:is |now |left |remains? |that is )*on (?:the |a "
    r"|an )?([a-z' ]+?)(?: after| now|\?|\.|,|$)"
)


_EARTHED = re.compile(
    r"\b(?:is|are|was|were|then|and|been|momentarily|briefly) (?:earthed|grounded)\b"
    r"|\bearthing\b|\bgrounding\b|\bleak\w*|\bto (?:the )?(?:earth|ground)\b(?= by| through| with)"
)
# asks for a number made of the quantity that is named
_MADE_OF = re.compile(
    r"\b(?:product|squares?|fraction|percentage|average|mean|(?:potential )?difference)\b"
)


def _check_understood(scene: Scene) -> None:
    """Words that change the physics and that no rule here has read."""
    ask = scene.ask
    odd = _MADE_OF.search(ask.text)
    if odd and ask.wants != "ratio" and not re.search(r"potential difference", odd.group()):
        raise Unsolved(f"What is asked was not understood: {ask.text}")
    earth = _EARTHED.search(scene.text.lower())
    if earth and (has_contact(scene) or ask.kind in ("charge", "electron_count", "force")):
        raise Unsolved(f"What this does to the charges was not understood: {earth.group()}")
    if scene.has("unread-event") and ask.stage > 0:
        raise Unsolved("Which bodies touch, and in what order, was not understood.")
    if (
        scene.has("insulating")
        and has_contact(scene)
        and ask.stage > 0
        and "stand" not in scene.text
        and "handle" not in scene.text
        and "rod" not in scene.text
    ):
        raise Unsolved("Insulators do not share their charge when they touch.")
    if scene.has("moved") and re.search(
        r"\boriginal (?:distance|separation|place)", scene.question.text
    ):
        raise Unsolved("Which distance holds now was not understood.")
    where = _ON_WHAT.search(ask.text)
    if ask.kind == "charge" and ask.of is None and where:
        noun = where.group(1).split()[-1] if where.group(1).split() else ""
        known = {w for b in scene.question.bodies for w in b.lower().split()}
        if (
            noun.rstrip("s") not in known
            and noun not in known
            and noun
            not in (
                "each",
                "it",
                "them",
                "other",
                "both",
                "body",
                "object",
                "capacitor",
                "plate",
                "plates",
                "two",
                "three",
            )
        ):
            raise Unsolved(f"It is not clear what the {where.group(1)} is.")
    if (
        ask.kind == "net_force"
        and scene.all("mass")
        and (scene.all("field") or scene.all("voltage"))
        and not scene.has("balanced")
    ):
        raise Unsolved("Whether the weight counts in the net force is not clear.")


def _is_electric(scene: Scene) -> bool:
    kinds = {g.kind for _, g in scene.givens}
    electric = {
        "charge",
        "field",
        "electrons_gained",
        "electrons_lost",
        "electron_count",
        "proton_count",
        "line_density",
        "surface_density",
    }
    return bool(
        kinds & electric
        or any(
            f.name in ("contact", "particle", "attraction", "repulsion", "electric")
            for f in scene.facts
        )
        or scene.ask.kind in ("charge", "field", "electron_count", "charge_transferred")
    )
