"""Places given as numbers: "(3 m, 0)", "at x = 10 cm", "at the 20 cm mark", the origin."""

from __future__ import annotations

import re
from dataclasses import dataclass

from parser.question_text.draft import Draft, add_point
from parser.worksheet import Given

_N = r"⟨[LX]\d+⟩"
_PLACE = re.compile(
    rf"\((?P<pair>{_N}, ?{_N})\)(?P<unit> ?(?:m|cm|mm)\b)?"
    rf"|\b(?P<axis>[xy]) ?= ?(?P<on>[+-]? ?{_N})"
    rf"|(?P<mark>{_N})(?= (?:and {_N} )?marks?\b)"
)
_ROW = re.compile(
    rf"\b(?:at|on) (?:the )?(?P<row>(?:{_N}(?:,? and |, )?){{2,}})(?= ?(?:marks?\b|along|on the"
    r" (?:x-axis|rule|ruler|scale|line)|of (?:a|the) (?:metre|meter) ))"
)
_AXIS_ROW = re.compile(rf"\bx ?= ?(?P<row>{_N}(?:(?:,? and |, )(?:x ?= ?)?{_N})+)")
_ENTITY = re.compile(r"⟨([bgpC])(\d+)⟩")
_UNITS = {"m": 1.0, "cm": 1e-2, "mm": 1e-3}


@dataclass(frozen=True)
class _Place:
    start: int
    end: int
    x: float
    y: float
    tags: tuple[int, ...]


def read_coordinates(draft: Draft, sentence: str, used: set[int]) -> None:
    """Where bodies and points stand by number; their tags are used up."""
    for group in _groups(draft, sentence):
        names = _standing(draft, sentence, group)
        if len(names) != len(group):
            continue
        for name, place in zip(names, group, strict=True):
            if name in ("", "origin"):
                continue
            draft.add_fact("at", (name,), x=place.x, y=place.y)
            for tag in place.tags:
                if tag not in used:
                    used.add(tag)
                    draft.add_given(tag, Given(draft.tagger.quantities[tag].quantity, "coordinate"))
    for match in re.finditer(r"(?:at|on|is at) (?:the )?⟨p(\d+)⟩", sentence):
        if draft.name(int(match.group(1))) == "origin":
            before = _entities(draft, sentence[: match.start()])
            after = _entities(draft, sentence[match.end() :])
            near = before[-1:] or after[:1]
            if near and near[0] != "origin" and not _is_placed(draft, near[0]):
                draft.add_fact("at", (near[0],), x=0.0, y=0.0)


def _is_placed(draft: Draft, name: str) -> bool:
    return any(f.name == "at" and f.bodies == (name,) for f in draft.facts)


def _groups(draft: Draft, sentence: str) -> list[list[_Place]]:
    """Places that follow each other without a body between them."""
    places: list[_Place] = []
    for row in [*_ROW.finditer(sentence), *_AXIS_ROW.finditer(sentence)]:
        for tag in re.finditer(r"⟨[LX](\d+)⟩", row.group("row")):
            index = int(tag.group(1))
            start = row.start("row") + tag.start()
            value = draft.tagger.quantities[index].quantity.value
            places.append(_Place(start, row.start("row") + tag.end(), value, 0.0, (index,)))
    for match in _PLACE.finditer(sentence):
        if any(p.start <= match.end() and match.start() <= p.end for p in places):
            continue
        tags = tuple(int(i) for i in re.findall(r"⟨[LX](\d+)⟩", match.group()))
        values = [draft.tagger.quantities[t].quantity.value for t in tags]
        size = _UNITS[match.group("unit").strip()] if match.group("unit") else 1.0
        x, y = (values[0], values[1]) if len(values) == 2 else (values[0], 0.0)
        if match.group("axis") == "y":
            x, y = 0.0, values[0]
        places.append(_Place(match.start(), match.end(), size * x, size * y, tags))
    places.sort(key=lambda p: p.start)
    groups: list[list[_Place]] = []
    for place in places:
        last = groups[-1][-1] if groups else None
        if last is not None and not _ENTITY.search(sentence[last.end : place.start]):
            groups[-1].append(place)
        else:
            groups.append([place])
    return groups


def _standing(draft: Draft, sentence: str, group: list[_Place]) -> list[str]:
    """What stands at the places of a group: the bodies named just before, else just after."""
    before = _entities(draft, sentence[: group[0].start])
    if len(before) >= len(group):
        return before[-len(group) :]
    if len(group) == 1:
        after = _entities(draft, sentence[group[0].end :])
        if after:
            return after[:1]
        if re.search(r"\b(?:field|potential)\b", sentence):
            add_point(draft, "point")
            return ["point"]
    return []


def _entities(draft: Draft, text: str) -> list[str]:
    """Bodies, points and owners of charges, each once where it is named twice in a row."""
    found: list[str] = []
    for match in _ENTITY.finditer(text):
        kind, index = match.group(1), int(match.group(2))
        if kind == "C":
            names: tuple[str, ...] = (draft.owner_of.get(index, ""),)
        else:
            names = draft.names(index)
        for name in names:
            if name and name in found:
                found.remove(name)
            if name:
                found.append(name)
    return found
