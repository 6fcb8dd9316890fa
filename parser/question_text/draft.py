"""What has been understood of one question so far, and the pieces of patterns that its readers
share.
"""

from __future__ import annotations

import re
from collections.abc import Container, Iterator, Sequence
from dataclasses import dataclass, field, replace

from parser.quantity import compass_name
from parser.question_text.tagging import Tagger
from parser.worksheet import Fact, Given, Quantity

TAG = re.compile(r"⟨([A-Za-z])(\d+)⟩")


B = r"⟨b(\d+)⟩"


LIST = r"(?:⟨b\d+⟩(?:,? and |, ?| & )?)"


QLIST = r"(?:⟨{0}\d+⟩(?:,? and(?: of| a| an)* |, ?| & )?)"


PROPERTY = (
    r"(?:[\s,(=:)]|⟨[ABD-Z]\d+⟩|\b(?:of|a|an|the|net|total|excess|charge[sd]?|to"
    r"|with|has|have|having|had|"
    r"carries|carrying|carry|carried|bears?|bearing|holds?|holding|is|are|was|were"
    r"|which|that|it|initially|"
    r"initial|positive(?:ly)?|negative(?:ly)?|static|original(?:ly)?"
    r"|electric(?:al)?|where|now|given|and|"
    r"mass(?:es)?|radius|diameter|extra|final|new|point|equal|magnitudes?|uniformly"
    r"|surface|in|on it|had|"
    r"starts? with|acquires?|gains?|receives?|possess(?:es)?|stores?|each|whose"
    r"|also|moving|together|but|itself|rubbed|silk|fur|wool|cloth|ends? up|"
    r"picks? up|by|friction|respectively|identical|then|called|an? unknown"
    r"|apart|collects?|total|known|sits?|found|small|after|rubbing)\b)*"
)


_DIRECTION_WORDS = {
    "left": "left",
    "right": "right",
    "above": "up",
    "below": "down",
    "north": "north",
    "south": "south",
    "east": "east",
    "west": "west",
}


DIR = (
    r"(?:(?:to |on )?the )?(?:immediate )?(?:due )?(?:directly |vertically )?"
    r"(left|right|north[- ]?east|north[- ]?west|south[- ]?east|south[- ]?west|north"
    r"|south|east|west|above|below)"
    r"(?:-hand side)?(?: of| from)?"
)


EACH = re.compile(r"\b(?:each(?! other)|both|every|all(?: of them)?)\b")


@dataclass
class Draft:
    """What has been understood of one question so far."""

    tagger: Tagger
    givens: list[Given] = field(default_factory=list)
    facts: list[Fact] = field(default_factory=list)
    stage: int = 0
    places: list[int] = field(default_factory=list)
    problems: list[str] = field(default_factory=list)
    owner_of: dict[int, str] = field(default_factory=dict)
    history: str = ""
    previous: str = ""
    alias: dict[str, str] = field(default_factory=dict)

    def name(self, tag_index: int) -> str:
        """The single body or point that a mention means."""
        names = self.names(tag_index)
        return names[0] if names else ""

    def names(self, tag_index: int) -> tuple[str, ...]:
        names = self.tagger.mentions[tag_index].names
        if names == ("@neutrals",):
            charged = {g.of for g in self.givens if g.kind == "charge" and g.quantity.value}
            return tuple(n for n in self.bodies if n not in charged)
        return tuple(self._resolve(n) for n in names)

    def _resolve(self, name: str) -> str:
        """ "@3" is the owner of quantity 3, "@smaller" the body of the smaller charge."""
        if not name.startswith("@"):
            return self.alias.get(name, name)
        if name[1:].isdigit():
            return self.owner_of.get(int(name[1:]), "")
        if name in ("@positive", "@negative", "@charged", "@neutral"):
            return self._by_sign(name)
        sizes = {g.of: abs(g.quantity.value) for g in self.givens if g.kind == "charge" and g.of}
        if len(set(sizes.values())) < 2:
            return ""
        choose = min if name == "@smaller" else max
        return choose(sizes, key=lambda n: sizes[n])

    def _by_sign(self, name: str) -> str:
        """The one body whose charge is positive, negative, or there at all."""
        signs = {g.of: g.quantity.value for g in self.givens if g.kind == "charge" and g.of}
        for fact in self.facts:
            if fact.name == "sign":
                signs.setdefault(fact.bodies[0], -1.0 if fact.get("negative") == "yes" else 1.0)
        fits = {
            "@positive": lambda n: signs.get(n, 0.0) > 0,
            "@negative": lambda n: signs.get(n, 0.0) < 0,
            "@charged": lambda n: signs.get(n, 0.0) != 0,
            "@neutral": lambda n: not signs.get(n, 0.0),
        }[name]
        found = [n for n in self.bodies if fits(n)]
        return found[0] if len(found) == 1 else ""

    def add_fact(self, name: str, bodies: Sequence[str] = (), **detail: str | float) -> None:
        fact = Fact(name, tuple(bodies), tuple(detail.items()), self.stage)
        if fact not in self.facts:
            self.facts.append(fact)

    def add_given(self, index: int, given: Given) -> None:
        self.givens.append(replace(given, stage=self.stage))
        self.places.append(index)

    @property
    def bodies(self) -> list[str]:
        return self.tagger.bodies.names


def unread_quantities(
    draft: Draft, sentence: str, used: set[int], letters: Container[str]
) -> Iterator[tuple[str, int, Quantity, str, str]]:
    """Each quantity that nothing has read yet and whose tag's letter is one of ``letters``.

    Gives the letter, the tag's number, the quantity and the text before and after it, and counts
    the quantity as read.
    """
    for match in TAG.finditer(sentence):
        letter, index = match.group(1), int(match.group(2))
        if letter not in letters or index in used:
            continue
        used.add(index)
        quantity = draft.tagger.quantities[index].quantity
        yield letter, index, quantity, sentence[: match.start()], sentence[match.end() :]


def bodies_in(draft: Draft, text: str) -> list[str]:
    return [n for i in re.findall(B, text) if (n := draft.name(int(i)))]


def last_body(draft: Draft, before: str) -> str | None:
    """The body named last before a place in the text."""
    found = bodies_in(draft, before) or bodies_in(draft, draft.previous)
    return found[-1] if found else None


def symbol_before(before: str) -> str | None:
    match = re.search(r"\b([a-zσλεθ](?:_\{\w+\})?) ?= ?$", before)
    return match.group(1) if match else None


def add_once(draft: Draft, fact: Fact) -> None:
    if not any(f.name == fact.name and f.bodies == fact.bodies for f in draft.facts):
        draft.facts.append(fact)


def side_named(word: str) -> str:
    word = compass_name(word)
    return _DIRECTION_WORDS.get(word, word)


def add_point(draft: Draft, name: str) -> None:
    if name not in draft.tagger.bodies.points:
        draft.tagger.bodies.points.append(name)


def subject_before(draft: Draft, before: str) -> str | None:
    """The last body named before a quantity in its sentence."""
    found = re.findall(r"⟨b(\d+)⟩", before)
    return draft.name(int(found[-1])) if found else None


def placed_at(draft: Draft, before: str) -> str | None:
    """The body or point that is put at a place."""
    found = re.findall(r"⟨([bp])(\d+)⟩", before)
    return draft.name(int(found[-1][1])) if found else None


def two_ends(draft: Draft, groups: Sequence[str | None], subject: str) -> tuple[str, str] | None:
    kinds_and_names = [g for g in groups if g]
    if len(groups) >= 4 and groups[1] and groups[3]:
        return draft.name(int(groups[1])), draft.name(int(groups[3]))
    if kinds_and_names and groups[-1]:
        members = [n for n in draft.names(int(groups[-1])) if n != subject]
        if len(members) == 2:
            return members[0], members[1]
    others = [n for n in draft.bodies if n != subject]
    return (others[0], others[1]) if len(others) >= 2 else None
