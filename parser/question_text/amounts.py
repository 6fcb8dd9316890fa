"""Forces and all other quantities: their kind, their owner, their direction."""

from __future__ import annotations

import re
from dataclasses import replace
from string import ascii_letters

from parser.question_text.cues import kind_of_given
from parser.question_text.draft import (
    EACH,
    PROPERTY,
    B,
    Draft,
    last_body,
    subject_before,
    symbol_before,
    unread_quantities,
)
from parser.worksheet import Given, Quantity

_OTHERS = frozenset(ascii_letters) - frozenset("bgpCLN")  # read elsewhere, or no quantities


def read_forces(draft: Draft, sentence: str, used: set[int]) -> None:
    for _, index, quantity, before, after in unread_quantities(draft, sentence, used, "N"):
        kind = kind_of_given("N", before, after, sentence)
        quantity = _worded_direction(quantity, before, after)
        of = _force_on(draft, before, after) or subject_before(draft, before)
        between: tuple[str, str] | None = None
        if kind == "force":
            mutual = re.search(
                r"each other|one another|between|attract|repel|repuls|exerts?|on its partner",
                sentence,
            )
            if mutual and len(draft.bodies) >= 2:
                names = [draft.name(int(i)) for i in re.findall(B, sentence)]
                names = list(dict.fromkeys(n for n in names if n)) or draft.bodies
                pair = names[:2] if len(names) >= 2 else draft.bodies[:2]
                between = (pair[0], pair[1])
            for word, sign in (
                ("attract", "attraction"),
                ("repel", "repulsion"),
                ("repuls", "repulsion"),
            ):
                if word in sentence and between:
                    draft.add_fact(sign, between)
        draft.add_given(index, Given(quantity, kind, of=of, between=between))


def _force_on(draft: Draft, before: str, after: str) -> str | None:
    on = re.match(rf"(?: force)?(?: is| was)?(?: exerted| acting| acts)? on {B}", after)
    if on:
        return draft.name(int(on.group(1)))
    on = re.search(
        rf"force (?:exerted |acting |experienced )?(?:on|by|of) {B}(?: due to ⟨b\d+⟩"
        rf"| by ⟨b\d+⟩)?(?: is| of| =| has| a| magnitude)* ?$",
        before,
    )
    return draft.name(int(on.group(1))) if on else None


_WORDED = re.compile(
    r"\b(upwards?|downwards?|to the left|to the right|eastwards?|westwards?"
    r"|northwards?|southwards?|leftwards?|rightwards?)\b"
)


def _worded_direction(quantity: Quantity, before: str, after: str) -> Quantity:
    """A direction near the quantity: "an upward force of", "... that points due east"."""
    if quantity.direction:
        return quantity
    near = re.search(
        r"\b(upward|downward|eastward|westward|northward|southward|vertical upward"
        r"|leftward|rightward)s?(?: \w+){0,3} (?:of|=)(?: magnitude"
        r"| strength)?(?: of)? ?$",
        before,
    )
    heading = re.search(
        r"\b(?:\w+ing|rolls?|rolled|moves?|travels?|comes?|goes|flies|continues"
        r"|walks?|jogs|runs|drives|cycles)(?: due)?(?: to the)? (north|south|east|west"
        r"|left|right)(?:wards?)?(?: at| with)?(?: an?)?(?: \w+){0,3} ?$",
        before,
    )
    if heading:
        return replace(quantity, direction=heading.group(1))
    later = re.match(
        r"(?: \w+){0,4}?,? ?(?:that |which |and |is |it |are )*(?:directed|pointing"
        r"|points?|acting|acts?|pointed|upwards?|downwards?)?(?: vertically"
        r"| horizontally| due| to the| straight)* ?(upwards?|downwards?|left|right|east"
        r"|west|north|south|eastwards?|westwards?|northwards?|southwards?)\b(?! of)",
        after,
    )
    word = (
        near.group(1)
        if near
        else later.group(1)
        if later and re.search(r"direct|point|act|vertical|upward|downward|due|ward", later.group())
        else None
    )
    if word is None:
        return quantity
    base = re.sub(r"(?:wards?)$", "", word)
    return replace(quantity, direction={"up": "up", "down": "down"}.get(base, base))


def read_amounts(draft: Draft, sentence: str, used: set[int]) -> None:
    for letter, index, quantity, before, after in unread_quantities(draft, sentence, used, _OTHERS):
        kind = kind_of_given(letter, before, after, sentence)
        if letter in "ESA":
            quantity = _worded_direction(quantity, before, after)
        owner = _owner(draft, before, after)
        if kind == "electron_count":
            kind = _electron_kind(before, after)
            each = EACH.search(before[-40:]) or re.match(r" (?:\w+ )?electrons each\b", after)
            owner = None if each and len(draft.bodies) > 1 else owner or last_body(draft, before)
        draft.add_given(index, Given(quantity, kind, of=owner, symbol=symbol_before(before)))


_GAINED = re.compile(
    r"\b(?:gain(?:s|ed)?|add(?:ed|s)?|acquires?|collects?|excess|extra|surplus"
    r"|picks? up|receives?|takes? up|given|more electrons)\b"
)


_LOST = re.compile(
    r"\b(?:los(?:es|t|e|ing)|remov(?:ed|es|ing)|missing|short|deficit|deficiency"
    r"|deficient|fewer|strip(?:ped|s)|gives? (?:up|away)|knocked|leave"
    r"|more protons than)\b"
)


def _electron_kind(before: str, after: str) -> str:
    """Whether electrons were gained or lost, from the nearest word around their number."""
    near = re.split(r"[.;?]", after)[0]
    if re.match(
        r" (?:\w+ )?(?:electrons?|of them)(?: \w+){0,3} (?:short|missing|removed|lost"
        r"|are removed|were removed)\b",
        near,
    ) or re.match(r" (?:missing|fewer)", near):
        return "electrons_lost"
    if re.match(r" (?:excess|extra|surplus|more electrons)", near):
        return "electrons_gained"
    if re.match(r" more protons", near):
        return "electrons_lost"
    words = [(m.start(), "electrons_gained") for m in _GAINED.finditer(before)]
    words += [(m.start(), "electrons_lost") for m in _LOST.finditer(before)]
    if words:
        return max(words)[1]
    if _LOST.search(near):
        return "electrons_lost"
    if _GAINED.search(near):
        return "electrons_gained"
    return "electron_count"


def _owner(draft: Draft, before: str, after: str) -> str | None:
    own = re.search(rf"{B}{PROPERTY}$", before)
    if own:
        return draft.name(int(own.group(1)))
    placed = re.match(rf"(?: \w+)? (?:on|of) {B}", after)
    if placed:
        return draft.name(int(placed.group(1)))
    return subject_before(draft, before)
