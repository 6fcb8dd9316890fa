"""What every stated length is: a distance between two bodies, a coordinate, a size."""

from __future__ import annotations

import re
from dataclasses import replace

from parser.question_text.cues import kind_of_given
from parser.question_text.draft import (
    DIR,
    B,
    Draft,
    add_point,
    bodies_in,
    last_body,
    side_named,
    subject_before,
    unread_quantities,
)
from parser.question_text.places import bisector_height
from parser.worksheet import Fact, Given, Quantity


def read_lengths(draft: Draft, sentence: str, used: set[int]) -> None:
    for _, index, quantity, before, after in unread_quantities(draft, sentence, used, "L"):
        kind = kind_of_given("L", before, after, sentence + " " + draft.history)
        if kind in ("distance_added", "distance_removed") and re.match(r" to ⟨L", after):
            kind = "distance_change"
        if kind != "distance":
            of = subject_before(draft, before) if kind in ("diameter", "radius") else None
            draft.add_given(index, Given(quantity, kind, of=of))
            continue
        if index == bisector_height(sentence):
            draft.add_given(index, Given(quantity, "bisector_height"))
            continue
        pair_of_sides = re.match(r" (?:by|×) ⟨L(\d+)⟩", after)
        if pair_of_sides and int(pair_of_sides.group(1)) not in used:
            other = int(pair_of_sides.group(1))
            used.add(other)
            draft.add_given(index, Given(quantity, "side"))
            draft.add_given(other, Given(draft.tagger.quantities[other].quantity, "side"))
            continue
        if (
            re.match(
                r" (?:from the next|apart from (?:each other|the next)|between neighbours"
                r"|between (?:adjacent|neighbouring|successive))",
                after,
            )
            and len(draft.bodies) >= 3
        ):
            for first, second in zip(draft.bodies, draft.bodies[1:], strict=False):
                draft.add_given(index, Given(quantity, "distance", between=(first, second)))
            continue
        between, fact = _ends_of_distance(draft, sentence, before, after)
        if between and _is_restated(draft, between, quantity.value, sentence):
            draft.stage += 1
            draft.add_fact("moved", between)
        given = Given(quantity, "distance", between=between)
        if re.match(r" (?:to the )?(?:further|farther|more)\b| (?:further|farther)", after):
            given = replace(given, kind="distance_added")
        draft.add_given(index, given)
        if fact is not None and fact not in draft.facts:
            draft.facts.append(replace(fact, stage=draft.stage))


_CHANGED = re.compile(
    r"\b(?:now|moved|increased?|decreased?|reduced?|changed?|brought|becomes?"
    r"|further|closer|new|instead|then|goes|shifted|again|once more|would"
    r"|separated (?:to|until)|at what|drops?)\b"
)


def _is_restated(draft: Draft, between: tuple[str, str], value: float, sentence: str) -> bool:
    """Whether a distance replaces one stated before for the same two bodies."""
    same = [
        g
        for g in draft.givens
        if g.kind == "distance"
        and g.between
        and set(g.between) == set(between)
        and g.stage == draft.stage
    ]
    return bool(same) and same[-1].quantity.value != value and bool(_CHANGED.search(sentence))


def _ends_of_distance(
    draft: Draft, sentence: str, before: str, after: str
) -> tuple[tuple[str, str] | None, Fact | None]:
    """The two bodies or points a distance lies between, and on which side, when said."""
    a, b = (r"⟨([bp])(\d+)⟩",) * 2
    back = re.match(rf",? (?:away )?(?:directly )?{DIR} (?:it|this)\b", after)
    if back:
        found = [n for n in dict.fromkeys(bodies_in(draft, before)) if n]
        if len(found) == 1:
            behind = [n for n in bodies_in(draft, draft.previous) if n != found[0]]
            found = [*behind[-1:], *found]
        if len(found) >= 2:
            bearing = side_named(back.group(1))
            return (found[-1], found[0]), Fact(
                "direction", (found[-1], found[0]), (("direction", bearing),)
            )
    side = re.match(rf",? (?:away )?(?:directly )?{DIR} (?:the )?{a}", after)
    if side:
        other = draft.name(int(side.group(3)))
        subject = _position_subject(draft, before, other, sentence)
        if subject:
            return (subject, other), Fact(
                "direction", (subject, other), (("direction", side_named(side.group(1))),)
            )
        return None, None
    pair = re.search(
        rf"(?:between|distance from|joining|separating|length) {a},? (?:and|to) {b}[^⟨]*$", before
    )
    if pair and not re.search(
        r"\b(?:mid-?way|half[- ]?way|point)[^⟨]{0,12}$", before[: pair.start()]
    ):
        return (draft.name(int(pair.group(2))), draft.name(int(pair.group(4)))), None
    pair = re.match(
        rf"(?: away| apart)?,? (?:is the distance )?(?:from|between) {a} (?:and|to) {b}", after
    )
    if pair and not re.search(r"from ⟨", pair.group()):
        return (draft.name(int(pair.group(2))), draft.name(int(pair.group(4)))), None
    pair = re.search(
        rf"(?:distance|separation|gap) (?:of |from )?{a}(?: from| to| and) {b}(?: is| =|,| of)* ?$",
        before,
    )
    if pair:
        return (draft.name(int(pair.group(2))), draft.name(int(pair.group(4)))), None
    one = re.match(
        rf"(?: away| distant)?(?: directly)? (?:from|of|to) (?:the )?(?:centers? of "
        rf"|centres? of |center of |centre of )?{a}",
        after,
    )
    if one and one.group(1) == "b" or one:
        other = draft.name(int(one.group(2)))
        direction = re.search(rf"{DIR} ?$", "")
        subject = _position_subject(draft, before, other, sentence)
        if subject and direction is None:
            return (subject, other), None
        return (("point", other) if other else None), None
    one = re.search(
        rf"(?:distance|separation)[^⟨.]{{0,20}} from (?:the )?{a}(?: is| =|,| of| to \w+)* ?$",
        before,
    )
    if one:
        other = draft.name(int(one.group(2)))
        return (
            _position_subject(draft, before[: one.start()], other, sentence) or "point",
            other,
        ), None
    each = re.match(r"(?: away)? from (?:each|both)(?: of them| other| charge| end)?", after)
    if each and "other" not in each.group():
        subject = _position_subject(draft, before, "", sentence)
        if subject:
            others = [n for n in draft.bodies if n != subject][:2]
            for name in others[1:]:
                draft.add_given(
                    -1,
                    Given(
                        _last_quantity(draft, before, sentence, after),
                        "distance",
                        between=(subject, name),
                    ),
                )
            return ((subject, others[0]) if others else None), None
    if re.match(
        r",? (?:apart|from each other|from one another|between (?:them|the|their)|long)|\)? apart",
        after,
    ) or re.search(
        r"(?:distance|separation)\b[^.⟨]*⟨g\d+⟩[^.]*\bis(?: about| only)? ?$"
        r"|(?:separat\w+|apart|distance (?:between|of)|spacing|spaced|d|r|away"
        r"|distance)(?: \w+){0,4}? ?(?:by|of|is|=|to|at|:)?(?: a| an| the| about| new"
        r"| distance| separation| of)* ?$",
        before,
    ):
        return _pair_of_clause(draft, before, sentence), None
    return None, None


def _last_quantity(draft: Draft, before: str, sentence: str, after: str) -> Quantity:
    place = len(before)
    tag = re.match(r"⟨L(\d+)⟩", sentence[place:])
    assert tag is not None
    return draft.tagger.quantities[int(tag.group(1))].quantity


def _pair_of_clause(draft: Draft, before: str, sentence: str) -> tuple[str, str] | None:
    """The two bodies that "apart" or "separated by" is about."""
    some = re.search(r"\bthe (first|last|other) two\b[^⟨]*$", before)
    if some and len(draft.bodies) >= 3:
        pool = draft.bodies[:2] if some.group(1) == "first" else draft.bodies[-2:]
        return pool[0], pool[1]
    clause = before
    names = list(dict.fromkeys(draft.name(int(i)) for i in re.findall(B, clause)))
    names = [n for n in names if n]
    groups = [draft.names(int(i)) for i in re.findall(r"⟨g(\d+)⟩", clause)]
    groups = [g for g in groups if len(g) >= 2]
    if groups and len(groups[-1]) == 2 and (len(names) < 2 or re.search(r"⟨g\d+⟩[^⟨]*$", clause)):
        return groups[-1][0], groups[-1][1]
    if len(names) >= 2:
        return names[-2], names[-1]
    if groups and len(groups[-1]) > 2:
        return None
    whole = list(dict.fromkeys(draft.name(int(i)) for i in re.findall(B, sentence)))
    if len(whole) == 2:
        return whole[0], whole[1]
    if len(draft.bodies) >= 2:
        return draft.bodies[0], draft.bodies[1]
    return None


def _position_subject(draft: Draft, before: str, other: str, sentence: str) -> str | None:
    """What stands at the stated place: the last body or point named before it.

    A body that an earlier distance is measured *from* is not it, unless "which" follows.
    """
    relative = re.search(r"\b(?:which|that|who)\b[^⟨]*$", before)
    mentions = [
        (m.group(1), int(m.group(2)))
        for m in re.finditer(r"⟨([bpg])(\d+)⟩", before)
        if relative or not re.search(r"\bfrom $", before[: m.start()])
    ]
    for kind, index in reversed(mentions):
        if kind == "g":
            members = draft.names(index)
            if len(members) == 1:
                return members[0]
            continue
        name = draft.name(index)
        if name == "point" and re.search(
            rf"(?:brought|placed|put|held|located|moved|situated|fixed)[^⟨]* (?:at|to) ⟨p{index}⟩",
            before,
        ):
            continue
        if name and name != other:
            return name
    if other and re.search(r"\b(?:field|potential|voltage)\b", sentence):
        add_point(draft, "point")
        return "point"
    it = re.search(r"\b(?:it|which|that)\b", before)
    last = last_body(draft, before)
    if it and last and last != other:
        return last
    remaining = [n for n in draft.bodies if n != other]
    if len(remaining) == 1 and re.search(
        r"(?:placed|located|is|held|put|situated|fixed)\b", before
    ):
        return remaining[0]
    add_point(draft, "point")
    return "point"
