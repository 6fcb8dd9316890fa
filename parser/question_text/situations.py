"""Situations that span a whole question: networks, collisions, charges in multiples of q.

Works on the tagged text read so far; adds facts that name givens by their index.
"""

from __future__ import annotations

import re

from parser.question_text.draft import Draft
from parser.worksheet import Fact

_MODE = re.compile(
    r"\b(series|parallel)\b(?! (?:metal |conducting |charged |horizontal "
    r"|vertical )*plates?)(?!-plate)"
)
_COUNT = {"two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "eight": 8, "ten": 10}
_COLLISION = re.compile(
    r"collid|collision|strikes|hits|bump|catch|recoil|explo|fires?\b|fired|throws"
    r"|push(?:es)? (?:off|apart)|stick together|coupl|lock together|joins?|leaves a"
    r"|impact|embed|spring|runs? into|crash|meets"
)
_AFTER = re.compile(
    r"\b(?:after|continues|rebounds|bounces|moves? off|thrown|throws|leaves|recoil|then)\b"
)


def read_situations(draft: Draft) -> None:
    """Add the facts that need the whole text: once, after every sentence was read."""
    text = draft.history
    for letter, kind in (("R", "resistance"), ("F", "capacitance")):
        _network(draft, text, letter, kind)
    if _COLLISION.search(text):
        _objects(draft, text)
    _multiples(draft, text)


def _given_of(draft: Draft, quantity: int) -> int | None:
    return draft.places.index(quantity) if quantity in draft.places else None


def _put(draft: Draft, fact: Fact) -> None:
    if fact not in draft.facts:
        draft.facts.append(fact)


# --- networks --------------------------------------------------------------------------


def _network(draft: Draft, text: str, letter: str, kind: str) -> None:
    values = [
        (m.start(), g)
        for m in re.finditer(rf"⟨{letter}(\d+)⟩", text)
        if (g := _given_of(draft, int(m.group(1)))) is not None and draft.givens[g].kind == kind
    ]
    values = _without_mentions(draft, text, values)
    modes = [m.group(1) for m in _MODE.finditer(text)]
    if not values or not modes:
        return
    detail: tuple[tuple[str, str | float], ...] = (("kind", kind),)
    equal = _equal_parts(draft, text, letter, values)
    if equal is not None and len(values) == 1:
        given, count = equal
        some = _SOME_OF_THEM.search(text)
        if len(set(modes)) == 1:
            alike = (("outer", modes[0]), ("count", float(count)))
            _put(draft, Fact("network", (), (*detail, *alike)))
        elif some and _COUNT[some.group(1)] < count:
            inner = [given] * _COUNT[some.group(1)]
            _put_network(draft, detail, inner, some.group(2), [given] * count)
        else:
            _put(draft, Fact("unread-network", (kind,)))
        return
    if equal is not None:
        given, count = equal
        after = re.search(
            rf"⟨{letter}\d+⟩[^⟨.]{{0,60}}?\bin (series|parallel)\b(?! with (?:a |an |the )?⟨)",
            text[next(p for p, g in values if g == given) :],
        )
        if after is None or len(set(modes)) != 2:
            _put(draft, Fact("unread-network", (kind,)))
            return
        rest = [g for _, g in values if g != given]
        _put_network(draft, detail, [given] * count, after.group(1), [*rest, *[given] * count])
        return
    if len(set(modes)) == 1:
        everything = ",".join(str(g) for _, g in values)
        _put(draft, Fact("network", (), (*detail, ("outer", modes[0]), ("all", everything))))
        return
    inner, inner_mode, _ = _inner_group(text, letter, values, modes)
    if inner:
        _put_network(draft, detail, inner, inner_mode, [])


def _without_mentions(
    draft: Draft, text: str, values: list[tuple[int, int]]
) -> list[tuple[int, int]]:
    """Less those that name a part again ("through the 10 Ω resistor")."""
    kept: list[tuple[int, int]] = []
    for place, given in values:
        value = draft.givens[given].quantity.value
        again = any(draft.givens[g].quantity.value == value for _, g in kept)
        if not (again and re.search(r"\b(?:the|each|this|that|one of the) $", text[:place])):
            kept.append((place, given))
    return kept


_SOME_OF_THEM = re.compile(
    r"\b(two|three|four) (?:of (?:them|these|which) )?(?:are |being )?"
    r"(?:connected |joined |placed )?in (series|parallel)\b"
)


def _equal_parts(
    draft: Draft, text: str, letter: str, values: list[tuple[int, int]]
) -> tuple[int, int] | None:
    """The given that stands for several equal parts ("two 12 Ω resistors"), and how many."""
    named = re.search(
        rf"\b(two|three|four|five|six|eight|ten|⟨X(\d+)⟩) (?:identical |equal "
        rf"|similar )*⟨{letter}(\d+)⟩[ -]\w+s\b",
        text,
    ) or re.search(
        rf"\b(two|three|four|five|six|eight|ten|⟨X(\d+)⟩)\b[^.]{{0,40}}\b(?:each (?:of|with"
        rf"|having)|of)[^.⟨]{{0,25}}⟨{letter}(\d+)⟩(?: each\b)?",
        text,
    )
    if named is None or (len(values) > 1 and "each" in named.group()):
        return None
    given = _given_of(draft, int(named.group(3)))
    listed = re.match(rf"(?: \w+)?,? (?:and )?⟨{letter}", text[named.end() :])
    if given is None or listed:
        return None
    size = _COUNT.get(named.group(1))
    if size is None:
        size = int(draft.tagger.quantities[int(named.group(2))].quantity.value)
    return given, size


def _put_network(
    draft: Draft,
    detail: tuple[tuple[str, str | float], ...],
    inner: list[int],
    inner_mode: str,
    everything: list[int],
) -> None:
    """A group in one mode inside a network in the other; ``everything`` repeats equal parts."""
    facts = [
        ("outer", "series" if inner_mode == "parallel" else "parallel"),
        ("inner", inner_mode),
        ("members", ",".join(str(g) for g in inner)),
        ("all", ",".join(str(g) for g in everything)),
    ]
    _put(draft, Fact("network", (), (*detail, *facts)))


def _inner_group(
    text: str, letter: str, values: list[tuple[int, int]], modes: list[str]
) -> tuple[list[int], str, str]:
    named = re.search(
        r"\b(parallel|series) (?:combination|arrangement|pair|connection|network"
        r"|group) of\b([^.]*)",
        text,
    )
    if named:
        inside = [g for p, g in values if named.start(2) <= p < named.end(2)]
        other = "series" if named.group(1) == "parallel" else "parallel"
        return (inside, named.group(1), other) if len(inside) >= 2 else ([], "", "")
    first = _MODE.search(text)
    if first is None:
        return [], "", ""
    start = max(text.rfind(". ", 0, first.start()), 0)
    inside = [g for p, g in values if start <= p < first.start()]
    joined = re.match(rf" (?:with|to) (?:a |an |the )?⟨{letter}\d+⟩", text[first.end() :])
    if joined:
        inside += [g for p, g in values if first.end() <= p < first.end() + joined.end()]
    other = next((m for m in modes if m != first.group(1)), "")
    if 2 <= len(inside) < len(values):
        return inside, first.group(1), other
    return [], "", ""


# --- collisions ------------------------------------------------------------------------


def _objects(draft: Draft, text: str) -> None:
    """Two bodies with masses, and their velocities before and after the event."""
    tags = [
        (m.start(), m.end(), m.group(1), g)
        for m in re.finditer(r"⟨([KSP])(\d+)⟩", text)
        if (g := _given_of(draft, int(m.group(2)))) is not None
    ]
    masses = [t for t in tags if t[2] == "K"]
    if len(masses) != 2:
        return
    draft.add_fact("collision")
    speeds: list[dict[str, float | str]] = [{}, {}]
    names = [_name_of(text, t[0], t[1], draft, t[3], n) for n, t in enumerate(masses)]
    for n, (start, end, _, _) in enumerate(masses):
        before = text[max(0, start - 45) : start]
        after = re.split(r"⟨|\.", text[end:])[0]
        if re.search(r"\b(?:stationary|resting)\b[^⟨.]*$", before) or re.match(
            r"[^⟨.]{0,40}\b(?:at rest|stationary)\b", after
        ):
            speeds[n]["before"] = "rest"
    recoil = re.search(
        r"recoil|fire|explo|throws|push(?:es)? (?:off|apart)|springs? apart|leaves a", text
    )
    together = re.search(r"catche?s|stick|coupl|lock|embed|joined|as one|together", text)
    for start, end, letter, given in tags:
        if letter != "S":
            continue
        clause_start = max(text.rfind(w, 0, start) for w in (". ", ", and ", " if ", " and the "))
        clause_start = max(clause_start, 0)
        owner = _owner_of_speed(draft, text, start, end, given, names, masses)
        clause = text[clause_start:start]
        late = bool(_AFTER.search(clause)) and not re.search(r"\b(?:initial|before)", clause)
        if together and not re.search(r"\b(?:after|rebounds|bounces|continues)\b", clause):
            late = False
        late = late or bool(recoil and not together)
        speeds[owner].setdefault("after" if late else "before", float(given))
    for n, one in enumerate(speeds):
        detail = (("mass", float(masses[n][3])), *one.items())
        _put(draft, Fact("object", (names[n],), detail))


def _name_of(text: str, start: int, end: int, draft: Draft, given: int, place: int) -> str:
    of = draft.givens[given].of
    if of:
        return of
    before = re.search(r"(\w+) (?:of|with|has|having) (?:a )?mass (?:of )?$", text[:start])
    after = re.match(r"(?: \w+){0,2}? ([a-z]{3,})\b", text[end:])
    if before and before.group(1) not in ("mass", "the", "and"):
        return before.group(1)
    return after.group(1) if after else f"body {place + 1}"


def _owner_of_speed(
    draft: Draft,
    text: str,
    start: int,
    end: int,
    given: int,
    names: list[str],
    masses: list[tuple[int, int, str, int]],
) -> int:
    of = draft.givens[given].of
    sentence = text[max(text.rfind(". ", 0, start), 0) : start]
    if of in names and names[0] != names[1]:
        return names.index(of)
    words = [
        (sentence.rfind(n.split()[-1]), i) for i, n in enumerate(names) if n.split()[-1] in sentence
    ]
    if re.search(
        r"\b(?:leaves|(?:fired|shot|thrown|launched|ejected) (?:from|by|out of))\b", sentence
    ):
        return 0
    if re.search(r"\b(?:fires|shoots|throws|launches|ejects)\b", sentence):
        return 1
    possessive = [
        i
        for i, n in enumerate(names)
        if re.search(rf"\b{re.escape(n.split()[-1])}'s (?:velocity|speed)[^⟨]*$", sentence)
    ]
    if possessive:
        return possessive[0]
    nearest = [i for i, m in enumerate(masses) if m[0] < start]
    if words and names[0].split()[-1] != names[1].split()[-1]:
        return max(words)[1]
    return nearest[-1] if nearest else 0


# --- charges in multiples of q ---------------------------------------------------------


def _multiples(draft: Draft, text: str) -> None:
    found = [(int(m.group(1))) for m in re.finditer(r"⟨X(\d+)⟩ ?q\b(?!_)", text)]
    if not found or len(found) > len(draft.bodies):
        return
    for body, index in zip(draft.bodies, found, strict=False):
        value = draft.tagger.quantities[index].quantity.value
        _put(draft, Fact("multiple", (body,), (("factor", value),)))
