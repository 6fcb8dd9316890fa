"""Statements of a question turned into givens and facts.

Works on tagged sentences (see ``tagging``): finds the owner of every quantity, which two
bodies a distance lies between, how bodies are arranged, and what happens to them.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

from parser.quantity import compass_name
from parser.question_text.cues import FACT_TABLE, kind_of_given
from parser.question_text.tagging import PARTICLES, Tagger
from parser.worksheet import Fact, Given, Quantity

TAG = re.compile(r"⟨([A-Za-z])(\d+)⟩")
B = r"⟨b(\d+)⟩"
_LIST = r"(?:⟨b\d+⟩(?:,? and |, ?| & )?)"
_QLIST = r"(?:⟨{0}\d+⟩(?:,? and(?: of| a| an)* |, ?| & )?)"
_PROPERTY = (
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
    r"|collects?|total|known|sits?|found|small|after|rubbing)\b)*"
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
_DIR = (
    r"(?:(?:to |on )?the )?(?:immediate )?(?:due )?(?:directly |vertically )?"
    r"(left|right|north[- ]?east|north[- ]?west|south[- ]?east|south[- ]?west|north"
    r"|south|east|west|above|below)"
    r"(?:-hand side)?(?: of| from)?"
)
_EACH = re.compile(r"\b(?:each(?! other)|both|every|all(?: of them)?)\b")
_FACTOR_WORDS = {
    "halved": 0.5,
    "doubled": 2.0,
    "trebled": 3.0,
    "tripled": 3.0,
    "quadrupled": 4.0,
    "quartered": 0.25,
    "double": 2.0,
    "triple": 3.0,
    "twice": 2.0,
    "thrice": 3.0,
    "half": 0.5,
    "quadruple": 4.0,
    "doubles": 2.0,
    "halves": 0.5,
    "triples": 3.0,
    "quadruples": 4.0,
    "doubling": 2.0,
    "halving": 0.5,
    "tripling": 3.0,
    "trebles": 3.0,
}
_COUNTS = {
    "two": 2.0,
    "three": 3.0,
    "four": 4.0,
    "five": 5.0,
    "six": 6.0,
    "nine": 9.0,
    "ten": 10.0,
    "one-half": 0.5,
    "one-third": 1 / 3,
    "one-quarter": 0.25,
    "half": 0.5,
    "a third": 1 / 3,
    "one third": 1 / 3,
    "a quarter": 0.25,
    "one half": 0.5,
    "one quarter": 0.25,
    "one fourth": 0.25,
    "one-fourth": 0.25,
    "eight": 8.0,
    "seven": 7.0,
    "sixteen": 16.0,
    "three times": 3.0,
}


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
        return tuple(self._resolve(n) for n in self.tagger.mentions[tag_index].names)

    def _resolve(self, name: str) -> str:
        """ "@3" is the owner of quantity 3, "@smaller" the body of the smaller charge."""
        if not name.startswith("@"):
            return self.alias.get(name, name)
        if name[1:].isdigit():
            return self.owner_of.get(int(name[1:]), "")
        sizes = {g.of: abs(g.quantity.value) for g in self.givens if g.kind == "charge" and g.of}
        if len(set(sizes.values())) < 2:
            return ""
        choose = min if name == "@smaller" else max
        return choose(sizes, key=lambda n: sizes[n])

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


def read_statement(draft: Draft, sentence: str) -> None:
    """Take the givens and facts of one tagged sentence into ``draft``."""
    sentence = _resolve_groups(draft, sentence)
    draft.previous = draft.history
    draft.history += " " + sentence
    _particles(draft, sentence)
    used: set[int] = set()
    _neutral_mentions(draft, sentence)
    _replacement(draft, sentence)
    read_constants(draft, sentence, used)
    head = ""
    for piece, stage_up in _at_events(draft, sentence):
        if stage_up:
            _event(draft, piece, head)
        _charges(draft, piece, sentence, used, head, stage_up)
        head += piece
    _lengths(draft, sentence, used)
    _forces(draft, sentence, used)
    _others(draft, sentence, used)
    _arrangement(draft, sentence)
    _plain_facts(draft, sentence)
    _scaling(draft, sentence)
    _symbolic(draft, sentence)


# --- constants -------------------------------------------------------------------------

# (words before the value, unit, name of the constant)
_CONSTANTS: tuple[tuple[re.Pattern[str], tuple[str, ...], str], ...] = tuple(
    (
        re.compile(words + r"(?: is| =| of| as| to be| equals| ≈|,|:|\)|\(|_\{?\w\}?)* ?$"),
        units,
        name,
    )
    for words, units, name in (
        (r"", ("N*m**2/C**2",), "k"),
        (r"", ("N*m**2/kg**2",), "G"),
        (r"", ("J*s",), "h"),
        (r"", ("F/m", "C**2/N*m**2", "C**2/N/m**2", "C**2/(N*m**2)"), "eps0"),
        (
            r"(?:\be|elementary charge|charge (?:on|of) (?:an|the|one) ⟨b\d+⟩|charge (?:on"
            r"|of) (?:an |the )?electron|electronic charge)",
            ("C",),
            "e",
        ),
        (
            r"(?:\bg|gravity|gravitational acceleration|free[- ]fall|gravitational field strength)",
            ("m/s**2", "N/kg"),
            "g",
        ),
        (r"(?:\bc|speed of light(?: in (?:a )?(?:vacuum|air))?)", ("m/s",), "c"),
        (
            r"(?:\bm_\{?e\}?|mass of (?:an|the|one)? ?(?:⟨b\d+⟩|electron)"
            r"|electron(?:'s)? mass|⟨b\d+⟩ mass)",
            ("kg",),
            "m_e",
        ),
    )
)
_PARTICLE_MASSES = {
    "electron": "m_e",
    "proton": "m_p",
    "neutron": "m_n",
    "alpha particle": "m_alpha",
}


def read_constants(draft: Draft, sentence: str, used: set[int]) -> None:
    """Constants that the text states: they are no givens of the situation."""
    for match in TAG.finditer(sentence):
        letter, index = match.group(1), int(match.group(2))
        if letter in "bgp":
            continue
        quantity = draft.tagger.quantities[index].quantity
        before = sentence[: match.start()]
        for pattern, units, name in _CONSTANTS:
            if quantity.unit not in units:
                continue
            found = pattern.search(before)
            if found is None:
                continue
            if name == "m_e":
                name = _particle_in(draft, found.group()) or ""
            if name == "e" and abs(abs(quantity.value) - 1.6e-19) > 0.01e-19:
                continue
            if name == "c" and not 2.9e8 < quantity.value < 3.1e8:
                continue
            if name:
                draft.add_given(index, Given(quantity, f"constant:{name}"))
                used.add(index)
                break


def _particle_in(draft: Draft, words: str) -> str | None:
    for mention in re.findall(r"⟨b(\d+)⟩", words):
        for particle, name in _PARTICLE_MASSES.items():
            if particle in draft.name(int(mention)):
                return name
    if "electron" in words or re.search(r"m_\{?e", words):
        return "m_e"
    return None


# --- events ----------------------------------------------------------------------------

_CONTACT = next(p for p, n in FACT_TABLE if n == "contact")


_REPLACED = re.compile(
    rf"{B} (?:is|was|has been|were)(?: now| then)? (?:replaced|exchanged"
    rf"|swapped) (?:by|with|for) {B}"
)


def _replacement(draft: Draft, sentence: str) -> None:
    """ "Q is replaced by a sphere with ...": the new body takes the place of the old one."""
    match = _REPLACED.search(sentence)
    if match is None:
        return
    old, new = (draft.name(int(i)) for i in match.groups())
    if not old or not new or old == new:
        return
    draft.stage += 1
    draft.add_fact("replaced", (old,))
    draft.alias[new] = old


_LOOKING_BACK = re.compile(
    r"\b(?:before|until|prior to|after|since|when|once|while|on|during|if|without"
    r"|not|never|cannot|ever)(?: ⟨[bg]\d+⟩| they| the| it| were| are| was| being"
    r"| having been| first| have){0,4} ?$"
)
_IN_CONTACT_FOR = re.compile(r"\b(?:in contact (?:with|for)|contact lasts)\b")


def _at_events(draft: Draft, sentence: str) -> Iterator[tuple[str, bool]]:
    """The sentence in pieces, cut where a contact happens; True where a piece starts with one."""
    cuts: list[int] = []
    for match in _CONTACT.finditer(sentence):
        verb = re.search(r"contact|touch\w*|connected|joined|made to|pushed", match.group())
        start = match.start() + (verb.start() if verb else 0)
        back = _LOOKING_BACK.search(sentence[:start])
        if back and (draft.stage or cuts) and not re.match(r"(?:if|when|once|on)\b", back.group()):
            continue
        if back and re.match(r"before|without|not|never|cannot", back.group()):
            continue
        if _IN_CONTACT_FOR.search(sentence) and "⟨T" in sentence:
            continue
        if cuts and not re.search(r"\bthen\b|\bnext\b|\bafter\b|;", sentence[cuts[-1] : start]):
            continue
        cuts.append(start)
    bounds = [0, *cuts, len(sentence)]
    for i in range(len(bounds) - 1):
        yield sentence[bounds[i] : bounds[i + 1]], i > 0


def _event(draft: Draft, piece: str, head: str) -> None:
    """A contact: its members are the bodies named around the verb, else all."""
    clause = re.split(r"[.;]|\bthen\b(?! touch)|\bafter which\b", head)[-1]
    after_text = re.split(
        r"[.;]|\band then\b|\bseparated\b|\bafter which\b|\bwhat\b|\bcalculate\b"
        r"|\bwhich (?:has|carries|have|is)\b|, and\b",
        piece,
    )[0]
    close = _bodies_in(draft, clause)
    after = _bodies_in(draft, after_text)
    members = list(dict.fromkeys([*close[-1:], *after])) if after else list(dict.fromkeys(close))
    if after and len(close) >= 2 and re.search(r"⟨b\d+⟩,? and (?:\w+ )?⟨b\d+⟩[^⟨]*$", clause):
        members = list(dict.fromkeys([*close, *after]))
    if len(members) < 2:
        members = list(dict.fromkeys([*_bodies_in(draft, head), *after]))
    groups = [
        draft.names(int(i))
        for i in re.findall(r"⟨g(\d+)⟩", clause) or re.findall(r"⟨g(\d+)⟩", head)
    ]
    if len(members) < 2 and groups and len(groups[-1]) >= 2:
        members = list(groups[-1])
    if len(members) < 2:
        members = list(draft.bodies)
    draft.stage += 1
    if re.search(
        r"\bthe (?:first|second|third|other)\b(?! ⟨)|\bin turn\b|one (?:after|by) ", piece
    ):
        draft.add_fact("unread-event")
    draft.add_fact("contact", members)


def _bodies_in(draft: Draft, text: str) -> list[str]:
    return [n for i in re.findall(B, text) if (n := draft.name(int(i)))]


# --- groups ----------------------------------------------------------------------------


def _resolve_groups(draft: Draft, sentence: str) -> str:
    """Fill in the bodies a plural means from the names listed after it, or those known."""
    for match in re.finditer(r"⟨g(\d+)⟩", sentence):
        mention = draft.tagger.mentions[int(match.group(1))]
        if mention.names:
            continue
        after = sentence[match.end() :]
        listed = re.match(
            rf"[ ,(:]*(?:[a-z]+ (?:[a-z]+ )?)?((?:{B}(?:(?: ?\(| ?= ?| of | with "
            rf"| )?(?:charge )?(?:of |= ?)?⟨[A-Z]\d+⟩\)?)?(?:,? and(?: a| an)? |, ?)?){{2,}})",
            after,
        )
        if listed:
            names = [draft.name(int(i)) for i in re.findall(B, listed.group(1))]
            mention.names = tuple(dict.fromkeys(names))
        elif draft.bodies:
            mention.names = tuple(draft.bodies[: mention.plural_count or len(draft.bodies)])
    return sentence


def _neutral_mentions(draft: Draft, sentence: str) -> None:
    """ "two neutral spheres", "an uncharged ball": no charge at the start."""
    for index in re.findall(r"⟨[bg](\d+)⟩", sentence):
        mention = draft.tagger.mentions[int(index)]
        met = draft.names(int(index))
        if len(met) == 1 and {"negative", "negatively", "positive", "positively"} & set(
            mention.words
        ):
            negative = bool({"negative", "negatively"} & set(mention.words))
            draft.add_fact("sign", met, negative="yes" if negative else "no")
        if "charged" in mention.words:
            draft.add_fact("electric")
        if "equally" in mention.words or {"equal", "charges"} <= {
            *mention.words,
            mention.noun + "s",
        }:
            draft.add_fact("equal-charges")
        if {"neutral", "uncharged"} & set(mention.words):
            for name in draft.names(int(index)):
                if name and not any(g.of == name and g.kind == "charge" for g in draft.givens):
                    draft.add_fact("uncharged", (name,))
    for match in re.finditer(
        rf"{B} is (positive|negative)(?:ly charged)?\b(?! or)(?![^.?]*\?)", sentence
    ):
        draft.add_fact(
            "sign",
            (draft.name(int(match.group(1))),),
            negative="yes" if match.group(2) == "negative" else "no",
        )
    for match in re.finditer(
        rf"unknown charge (?:is |was )?(?:given|placed|put|transferred|added) (?:to|on) {B}",
        sentence,
    ):
        name = draft.name(int(match.group(1)))
        draft.facts = [
            f for f in draft.facts if not (f.name == "uncharged" and f.bodies == (name,))
        ]


# --- charges ---------------------------------------------------------------------------


_AFTERNESS = re.compile(r"\b(?:now|afterwards?|after|leaving|then|final|new|later)\b")
_BEFORENESS = re.compile(
    r"\b(?:before|initially|originally|at first|to start with|at the start|original"
    r"|to begin with)\b"
)


def _stage_of_charge(draft: Draft, name: str, before: str, after: str, in_event: bool) -> int:
    """The stage a stated charge belongs to: "before they touched", "afterwards carries"."""
    if draft.stage == 0:
        return 0
    clause = re.split(r"[,;]", before)[-1] + " " + re.split(r"[,;?]", after)[0]
    if _BEFORENESS.search(clause):
        return draft.stage - 1
    known = any(g.kind == "charge" and g.of == name and g.stage < draft.stage for g in draft.givens)
    if in_event and not known and not _AFTERNESS.search(before):
        return draft.stage - 1
    return draft.stage


def _charges(
    draft: Draft, piece: str, sentence: str, used: set[int], head: str = "", in_event: bool = False
) -> None:
    """Give every charge of the piece to its body."""
    tagger = draft.tagger
    owners: dict[int, tuple[str, ...]] = {}
    signs: dict[int, tuple[float, ...]] = {}
    for match in re.finditer(rf"((?:{B} ?= ?){{2,}})⟨C(\d+)⟩", piece):
        owners[int(match.group(3))] = tuple(
            draft.name(int(i)) for i in re.findall(B, match.group(1))
        )
    qlist = _QLIST.format("C")
    for match in re.finditer(rf"({_LIST}{{2,}}){_PROPERTY}({qlist}{{2,}})", piece):
        names = [draft.name(int(i)) for i in re.findall(B, match.group(1))]
        charges = [int(i) for i in re.findall(r"⟨C(\d+)⟩", match.group(2))]
        if len(names) == len(charges):
            for name, charge in zip(names, charges, strict=True):
                owners.setdefault(charge, (name,))
    for match in re.finditer(
        rf"({qlist}{{2,}})(?:charges? |respectively |are |were |is |placed |put |given "
        rf"|located |situated |fixed |charge )*(?:on|at|to"
        rf"|onto) (?:(?:the )?(?:⟨[gp]\d+⟩|points?|positions?|corners?|vertices"
        rf"|ends?) )?({_LIST}{{2,}})",
        piece,
    ):
        names = [draft.name(int(i)) for i in re.findall(B, match.group(2))]
        charges = [int(i) for i in re.findall(r"⟨C(\d+)⟩", match.group(1))]
        if len(names) == len(charges):
            for name, charge in zip(names, charges, strict=True):
                owners.setdefault(charge, (name,))
    for match in re.finditer(rf"⟨g(\d+)⟩{_PROPERTY}({qlist}{{2,}})", piece):
        charges = [int(i) for i in re.findall(r"⟨C(\d+)⟩", match.group(2))]
        members = draft.names(int(match.group(1)))
        if len(members) == len(charges):
            for name, charge in zip(members, charges, strict=True):
                owners.setdefault(charge, (name,))
    for match in re.finditer(r"⟨C(\d+)⟩", piece):
        index = int(match.group(1))
        if index in used or index in tagger.dropped:
            continue
        quantity = tagger.quantities[index].quantity
        before, after = piece[: match.start()], piece[match.end() :]
        kind = kind_of_given("C", before, after, sentence)
        if kind != "charge":
            draft.add_given(index, Given(quantity, kind, of=_subject(draft, before)))
            used.add(index)
            continue
        owning = owners.get(index) or _owner_of_charge(draft, piece, match)
        if not owning:
            owning = _fallback_owner(draft, head + before, after)
        used.add(index)
        draft.owner_of[index] = owning[0]
        factors = signs.get(index) or _opposite_signs(before, len(owning))
        for name, factor in zip(owning, factors, strict=True):
            signed = _with_sign(quantity, factor, name, before, after)
            given = Given(signed, "charge", of=name, symbol=_symbol_before(before))
            stage = _stage_of_charge(draft, name, before, after, in_event)
            draft.givens.append(replace(given, stage=stage))
            draft.places.append(index)


def _last_body(draft: Draft, before: str) -> str | None:
    """The body named last before a place in the text."""
    found = _bodies_in(draft, before) or _bodies_in(draft, draft.previous)
    return found[-1] if found else None


def _fallback_owner(draft: Draft, before: str, after: str) -> tuple[str, ...]:
    """Whose an unclaimed charge is: the pronoun's body, the one body without a charge, or new."""
    clause = re.split(r"[.;?!]", before)[-1]
    pronoun = re.search(r"\b(?:it|its|which|that|her|his)\b[^⟨]*$", clause)
    last = _last_body(draft, before)
    if pronoun and last and not _charge_given(draft, last):
        return (last,)
    mentioned = [n for n in dict.fromkeys(_bodies_in(draft, clause)) if not _charge_given(draft, n)]
    if len(mentioned) == 1:
        return (mentioned[0],)
    free = [
        n for n in draft.bodies if not _charge_given(draft, n) and n not in draft.owner_of.values()
    ]
    if len(free) == 1 and not mentioned and re.search(r"\b(?:charge|charged)\b", clause):
        return (free[0],)
    return (draft.tagger.bodies.add(draft.tagger.bodies.fresh("charge"), "charge"),)


def _opposite_signs(before: str, count: int) -> tuple[float, ...]:
    if count == 2 and re.search(
        r"(?:equal and opposite|opposite charges|equal but opposite|opposite)\b[^.]*$", before
    ):
        return (1.0, -1.0)
    return (1.0,) * count


def _with_sign(quantity: Quantity, factor: float, name: str, before: str, after: str) -> Quantity:
    """A charge whose sign is in words: "a negative charge of 3 nC", "-ve", "opposite"."""
    if quantity.sign:
        return quantity
    negative = re.search(
        r"\bnegative(?:ly)?(?: (?:point|test|static))?(?: charged?)?(?: of| to| with"
        r"| ⟨b\d+⟩| magnitude| a)* ?$",
        before,
    ) or re.match(r" (?:of )?(?:excess )?negative\b", after)
    if negative or factor < 0:
        return replace(
            quantity,
            value=-abs(quantity.value),
            sign="-",
            written_value=-abs(quantity.written_value),
        )
    return quantity


def _symbol_before(before: str) -> str | None:
    match = re.search(r"\b([a-zσλεθ](?:_\{\w+\})?) ?= ?$", before)
    return match.group(1) if match else None


def _charge_given(draft: Draft, name: str) -> bool:
    return any(g.kind == "charge" and g.of == name and g.stage == draft.stage for g in draft.givens)


def _owner_of_charge(draft: Draft, piece: str, match: re.Match[str]) -> tuple[str, ...]:
    before, after = piece[: match.start()], piece[match.end() :]
    placed = re.match(
        rf"(?: charges?| of charge| of excess charge| of positive charge)?(?: is| was"
        rf"| are)?(?: placed| put| transferred| given| located| situated| fixed"
        rf"| held)?,? (?:on|onto|to|in|for|at) {B}",
        after,
    )
    own = re.search(rf"{B}{_PROPERTY}$", before)
    if placed and own and re.search(r" at ⟨b", placed.group()):
        where, who = draft.name(int(placed.group(1))), draft.name(int(own.group(1)))
        if re.fullmatch(r"[A-Z]'?", where) and re.match(r"charge|point charge", who):
            draft.alias[who] = where
            return (where,)
    if placed and not (own and re.search(r"⟨b\d+⟩ (?:of|=|\() ?$", before)):
        return (draft.name(int(placed.group(1))),)
    each = _EACH.search(before[-70:]) or re.match(r"\)?(?: charges?)? (?:each|on each)\b", after)
    listed = re.search(rf"({_LIST}{{2,}}){_PROPERTY}$", before)
    group = re.search(rf"⟨g(\d+)⟩{_PROPERTY}$", before)
    if each and listed:
        return tuple(draft.name(int(i)) for i in re.findall(B, listed.group(1)))
    if (
        listed
        and not each
        and re.search(r"\b(?:equal|same|identical|have|carry|opposite)\b", listed.group())
    ):
        return tuple(draft.name(int(i)) for i in re.findall(B, listed.group(1)))
    if each:
        any_group = re.findall(r"⟨g(\d+)⟩", before)
        if any_group and draft.names(int(any_group[-1])):
            return draft.names(int(any_group[-1]))
        if len(draft.bodies) >= 2:
            return tuple(draft.bodies)
    if own:
        return (draft.name(int(own.group(1))),)
    if group:
        members = draft.names(int(group.group(1)))
        already = [n for n in members if _charge_given(draft, n)]
        if re.match(r"(?:,? and |, )(?:a |an |of )*⟨C\d+⟩", after) or already:
            free = [n for n in members if n not in already]
            return (free[0],) if free else ()
        partner = re.match(r" and ⟨b(\d+)⟩", after)
        if partner and "unknown" in draft.tagger.mentions[int(partner.group(1))].words:
            return (members[0],) if members else ()
        if re.search(r"\bunknown\b|\bone (?:of|has|carries|is)\b", piece) and not each:
            return (members[0],) if members else ()
        return members
    name_after = re.match(
        rf"(?: point)?(?: charge)?[ ,(]*(?:called |labelled )?{B}(?! (?:is|and|from))", after
    )
    if name_after and not _charge_given(draft, draft.name(int(name_after.group(1)))):
        return (draft.name(int(name_after.group(1))),)
    symbol = re.search(r"\b(q) ?(?:=|of) ?$", before)
    if symbol:
        mentioned = [draft.name(int(i)) for i in re.findall(B, before)]
        if mentioned and not _charge_given(draft, mentioned[-1]):
            return (mentioned[-1],)
    subject = re.search(rf"(?:charge|charges)(?: on| of)(?: the)? {B}[^⟨]{{0,25}}$", before)
    if subject:
        return (draft.name(int(subject.group(1))),)
    return ()


def _particles(draft: Draft, sentence: str) -> None:
    """Electrons, protons and nuclei bring their own charge and mass."""
    for index in re.findall(r"⟨[bg](\d+)⟩", sentence):
        mention = draft.tagger.mentions[int(index)]
        for name in draft.names(int(index)):
            noun = draft.tagger.bodies.nouns.get(name, "")
            words = name
            for particle, (code, multiple) in PARTICLES.items():
                if re.search(rf"\b{re.escape(particle)}\b", words) or noun == particle:
                    fact = Fact("particle", (name,), (("particle", code), ("multiple", multiple)))
                    if fact not in draft.facts:
                        draft.facts.append(fact)
                    break
        _ion(draft, sentence, mention.names, int(index))
    crowd = re.search(
        r"\b(electrons|protons)\b (?:are|that are|is)? ?(?:accelerated|released|fired"
        r"|emitted)|\bthe (electrons|protons) (?:hit|reach|strike|arrive)",
        sentence,
    )
    if crowd and not any(f.name == "particle" for f in draft.facts):
        noun = (crowd.group(1) or crowd.group(2))[:-1]
        draft.tagger.bodies.add(noun, noun)
        code, multiple = PARTICLES[noun]
        draft.facts.append(Fact("particle", (noun,), (("particle", code), ("multiple", multiple))))


def _ion(draft: Draft, sentence: str, names: tuple[str, ...], index: int) -> None:
    """The charge of "a singly charged ion" or "an atom with three missing electrons"."""
    for name in names:
        if re.search(
            r"\bsingly(?:-| )charged\b|\bsingly ionised\b|\bsingly ionized\b", name + " " + sentence
        ) and re.search(r"ion|nucleus|atom", name):
            _once(draft, Fact("particle", (name,), (("particle", "ion"), ("multiple", 1.0))))
        elif re.search(
            r"\bdoubly(?:-| )charged\b|\bdoubly ionised\b|\bdoubly ionized\b", name + " " + sentence
        ) and re.search(r"ion|nucleus|atom", name):
            _once(draft, Fact("particle", (name,), (("particle", "ion"), ("multiple", 2.0))))
    missing = re.search(rf"⟨b{index}⟩ with (?:(one|an?)|⟨X(\d+)⟩) missing electrons?", sentence)
    if missing and names:
        given = missing.group(2)
        count = draft.tagger.quantities[int(given)].quantity.value if given else 1.0
        if count:
            _once(
                draft,
                Fact("particle", (names[0],), (("particle", "ion"), ("multiple", float(count)))),
            )


def _once(draft: Draft, fact: Fact) -> None:
    if not any(f.name == fact.name and f.bodies == fact.bodies for f in draft.facts):
        draft.facts.append(fact)


# --- lengths ---------------------------------------------------------------------------


def _lengths(draft: Draft, sentence: str, used: set[int]) -> None:
    for match in re.finditer(r"⟨L(\d+)⟩", sentence):
        index = int(match.group(1))
        if index in used:
            continue
        used.add(index)
        quantity = draft.tagger.quantities[index].quantity
        before, after = sentence[: match.start()], sentence[match.end() :]
        kind = kind_of_given("L", before, after, sentence + " " + draft.history)
        if kind != "distance":
            of = _subject(draft, before) if kind in ("diameter", "radius") else None
            draft.add_given(index, Given(quantity, kind, of=of))
            continue
        if (
            re.search(r"\b[xy] ?= ?$", before)
            or re.search(r"\($", before)
            and re.match(r", ⟨[LX]\d+⟩\)", after)
            or re.search(r"\(⟨[LX]\d+⟩, $", before)
        ):
            draft.add_given(index, Given(quantity, "coordinate"))
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
    back = re.match(rf",? (?:away )?(?:directly )?{_DIR} (?:it|this)\b", after)
    if back:
        found = [n for n in dict.fromkeys(_bodies_in(draft, before)) if n]
        if len(found) == 1:
            behind = [n for n in _bodies_in(draft, draft.previous) if n != found[0]]
            found = [*behind[-1:], *found]
        if len(found) >= 2:
            bearing = _direction(back.group(1))
            return (found[-1], found[0]), Fact(
                "direction", (found[-1], found[0]), (("direction", bearing),)
            )
    side = re.match(rf",? (?:away )?(?:directly )?{_DIR} (?:the )?{a}", after)
    if side:
        other = draft.name(int(side.group(3)))
        subject = _position_subject(draft, before, other, sentence)
        if subject:
            return (subject, other), Fact(
                "direction", (subject, other), (("direction", _direction(side.group(1))),)
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
        direction = re.search(rf"{_DIR} ?$", "")
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


def _direction(word: str) -> str:
    word = compass_name(word)
    return _DIRECTION_WORDS.get(word, word)


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
        _add_point(draft, "point")
        return "point"
    it = re.search(r"\b(?:it|which|that)\b", before)
    last = _last_body(draft, before)
    if it and last and last != other:
        return last
    remaining = [n for n in draft.bodies if n != other]
    if len(remaining) == 1 and re.search(
        r"(?:placed|located|is|held|put|situated|fixed)\b", before
    ):
        return remaining[0]
    _add_point(draft, "point")
    return "point"


def _add_point(draft: Draft, name: str) -> None:
    if name not in draft.tagger.bodies.points:
        draft.tagger.bodies.points.append(name)


# --- forces and the rest ---------------------------------------------------------------


def _forces(draft: Draft, sentence: str, used: set[int]) -> None:
    for match in re.finditer(r"⟨N(\d+)⟩", sentence):
        index = int(match.group(1))
        if index in used:
            continue
        used.add(index)
        quantity = draft.tagger.quantities[index].quantity
        before, after = sentence[: match.start()], sentence[match.end() :]
        kind = kind_of_given("N", before, after, sentence)
        quantity = _worded_direction(quantity, before, after)
        of = _force_on(draft, before, after) or _subject(draft, before)
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
        r"\b(?:heading|moving|travell?ing|going|running|rolls?|rolling|rolled|flying"
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


def _subject(draft: Draft, before: str) -> str | None:
    """The last body named before a quantity in its sentence."""
    found = re.findall(r"⟨b(\d+)⟩", before)
    return draft.name(int(found[-1])) if found else None


def _others(draft: Draft, sentence: str, used: set[int]) -> None:
    for match in TAG.finditer(sentence):
        letter, index = match.group(1), int(match.group(2))
        if letter in "bgpCLN" or index in used:
            continue
        used.add(index)
        quantity = draft.tagger.quantities[index].quantity
        before, after = sentence[: match.start()], sentence[match.end() :]
        kind = kind_of_given(letter, before, after, sentence)
        if letter in "ESA":
            quantity = _worded_direction(quantity, before, after)
        owner = _owner(draft, before, after)
        if kind == "electron_count":
            kind = _electron_kind(before, after)
            each = _EACH.search(before[-40:]) or re.match(r" (?:\w+ )?electrons each\b", after)
            owner = None if each and len(draft.bodies) > 1 else owner or _last_body(draft, before)
        draft.add_given(index, Given(quantity, kind, of=owner, symbol=_symbol_before(before)))


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
    own = re.search(rf"{B}{_PROPERTY}$", before)
    if own:
        return draft.name(int(own.group(1)))
    placed = re.match(rf"(?: \w+)? (?:on|of) {B}", after)
    if placed:
        return draft.name(int(placed.group(1)))
    return _subject(draft, before)


# --- arrangement -----------------------------------------------------------------------


def _arrangement(draft: Draft, sentence: str) -> None:
    x = r"⟨([bp])(\d+)⟩"
    for spot in re.finditer(
        rf"{B}(?: of ⟨C\d+⟩)? (?:is|are) (?:fixed|placed|located|situated|held|kept)? ?at ⟨p(\d+)⟩",
        sentence,
    ):
        body, place = (draft.name(int(i)) for i in spot.groups())
        if re.fullmatch(r"[A-Z]", place):
            draft.alias[place] = body
    middle = re.search(
        rf"\b(?:mid-?way|half[- ]?way|exactly in the middle|in the middle|at the centre"
        rf"|at the center)(?: point)?(?: on the line)?(?: between| of| joining"
        rf"| from)? (?:{x},? (?:and|to) {x}|them|⟨g(\d+)⟩|the two|these|the line)",
        sentence,
    )
    point = re.search(
        rf"⟨p(\d+)⟩(?: of| between| on)?(?: the line| the segment| line)?(?: joining"
        rf"| between| connecting| segment)? (?:{x},? (?:and|to) {x}|them|⟨g(\d+)⟩"
        rf"|the (?:line|two))",
        sentence,
    )
    if point and "midpoint" in draft.names(int(point.group(1))):
        ends = _two_ends(draft, point.groups()[1:], "midpoint")
        if ends:
            subject = _placed_at(draft, sentence[: point.start()]) or "midpoint"
            draft.add_fact("midpoint", (subject, *ends))
            if subject != "midpoint":
                draft.add_fact("midpoint", ("midpoint", *ends))
    elif middle:
        subject = _placed_at(draft, sentence[: middle.start()]) or "midpoint"
        ends = _two_ends(draft, middle.groups(), subject)
        if ends:
            draft.add_fact("midpoint", (subject, *ends))
            _add_point(draft, subject)
    elif re.search(r"⟨p(\d+)⟩", sentence):
        for index in re.findall(r"⟨p(\d+)⟩", sentence):
            if draft.name(int(index)) == "midpoint" and len(draft.bodies) >= 2:
                draft.add_fact("midpoint", ("midpoint", draft.bodies[0], draft.bodies[1]))
    fraction = re.search(
        rf"\b(one[- ](?:fourth|quarter|third)|a (?:quarter|third)) of the way (?:from"
        rf"|between) {x} (?:to|and) {x}",
        sentence,
    )
    if fraction:
        value = {"fourth": 0.25, "quarter": 0.25, "third": 1 / 3}[
            re.split(r"[- ]", fraction.group(1))[-1]
        ]
        draft.add_fact(
            "part-way",
            (draft.name(int(fraction.group(3))), draft.name(int(fraction.group(5)))),
            fraction=value,
        )
    _order(draft, sentence)
    _shapes(draft, sentence)
    _coordinates(draft, sentence)


def _placed_at(draft: Draft, before: str) -> str | None:
    """The body or point that is put at a place."""
    found = re.findall(r"⟨([bp])(\d+)⟩", before)
    return draft.name(int(found[-1][1])) if found else None


def _two_ends(draft: Draft, groups: Sequence[str | None], subject: str) -> tuple[str, str] | None:
    kinds_and_names = [g for g in groups if g]
    if len(groups) >= 4 and groups[1] and groups[3]:
        return draft.name(int(groups[1])), draft.name(int(groups[3]))
    if kinds_and_names and groups[-1]:
        members = [n for n in draft.names(int(groups[-1])) if n != subject]
        if len(members) == 2:
            return members[0], members[1]
    others = [n for n in draft.bodies if n != subject]
    return (others[0], others[1]) if len(others) >= 2 else None


def _order(draft: Draft, sentence: str) -> None:
    x = r"⟨([bp])(\d+)⟩"
    for match in re.finditer(rf"{x}(?: \w+){{0,6}}? {_DIR} {x}", sentence):
        if (
            TAG.search(sentence[match.start() + 4 : match.start(3)].replace("⟨L", ""))
            and "⟨L" not in match.group()
        ):
            continue
        first, other = draft.name(int(match.group(2))), draft.name(int(match.group(5)))
        if first != other and not any(
            f.name == "direction" and f.bodies == (first, other) for f in draft.facts
        ):
            draft.add_fact("direction", (first, other), direction=_direction(match.group(3)))
    for match in re.finditer(
        rf"{x}(?: is| lies| are| placed| located| situated| fixed| which| that|,|\)"
        rf"| held| put| positioned| somewhere| in| on the line| directly| of ⟨C\d+⟩"
        rf"| ⟨C\d+⟩| with| a| charge)* between (?:{x} and {x}|them|⟨g(\d+)⟩|the (?:two"
        rf"|other))",
        sentence,
    ):
        subject = draft.name(int(match.group(2)))
        if re.search(r"\bfrom $", sentence[: match.start()]):
            leading = re.search(r"⟨[bp](\d+)⟩", sentence[: match.start()])
            subject = draft.name(int(leading.group(1))) if leading else subject
        ends = _two_ends(draft, match.groups()[2:], subject)
        if ends and subject not in ends:
            draft.add_fact("between", (subject, *ends))
    joining = re.search(
        rf"{x}[^.;]*\bon the line (?:joining|between|that joins) (?:the )?{x} (?:and|to) {x}",
        sentence,
    )
    if joining and not re.search(r"beyond|extend|produced|outside", sentence):
        names = [draft.name(int(i)) for i in joining.groups()[1::2]]
        if len(set(names)) == 3:
            draft.add_fact("between", names)
    line = re.search(
        r"straight line|\bin (?:a|one) (?:line|row)\b|\bcollinear\b|on (?:a"
        r"|the same) (?:horizontal |vertical )?(?:straight )?line|along (?:a|the same"
        r"|the) (?:horizontal |straight )*line|x-axis|along the same|horizontal line",
        sentence,
    )
    if line:
        named = [draft.name(int(m.group(2))) for m in re.finditer(x, sentence)]
        groups = [draft.names(int(i)) for i in re.findall(r"⟨g(\d+)⟩", sentence)]
        order = list(dict.fromkeys(n for n in named if n))
        if len(order) < 3 and groups and len(groups[-1]) >= 3:
            order = list(groups[-1])
        if len(order) < 3:
            order = list(draft.bodies)
        draft.add_fact("on-line", order)
    if re.search(r"\bvertical(?:ly)? (?:line|above)|vertical line", sentence):
        draft.add_fact("vertical")


def _shapes(draft: Draft, sentence: str) -> None:
    right = re.search(
        r"right[- ]angled? (?:triangle )?(?:at"
        r"|with (?:the )?right[- ]angle at) ⟨[bp](\d+)⟩"
        r"|right[- ]angle (?:is )?at ⟨[bp](\d+)⟩|⟨[bp](\d+)⟩ is at the right[- ]angle"
        r"|perpendicular|right[- ]angles?\b|right[- ]angled",
        sentence,
    )
    if right:
        corner = right.group(1) or right.group(2) or right.group(3)
        draft.add_fact("right-angle", (draft.name(int(corner)),) if corner else ())
    angle_at = re.search(r"(?:angle (?:at ⟨[bp](\d+)⟩ )?(?:is|=|of)? ?⟨G\d+⟩)", sentence)
    if angle_at and angle_at.group(1):
        pass
    if re.search(r"equilateral triangle", sentence):
        draft.add_fact("equilateral")
    if re.search(
        r"\bsquare\b(?! (?:of|the))|corners of a square|square of side", sentence
    ) and re.search(r"corner|vert", sentence):
        draft.add_fact("square")
    if re.search(r"centre of the (?:square|triangle)|center of the (?:square|triangle)", sentence):
        draft.add_fact("at-centre")


def _coordinates(draft: Draft, sentence: str) -> None:
    for match in re.finditer(
        rf"{B}[^⟨.;]*(?:⟨C\d+⟩[^⟨.;]*)?\bat \(⟨[LX](\d+)⟩, ⟨[LX](\d+)⟩\)", sentence
    ):
        x, y = (draft.tagger.quantities[int(i)].quantity.value for i in match.groups()[1:])
        draft.add_fact("at", (draft.name(int(match.group(1))),), x=x, y=y)
    for match in re.finditer(
        rf"{B}[^⟨.;]*(?:⟨C\d+⟩[^⟨.;]*)?\bat (?:x ?= ?)(⟨[LX](\d+)⟩)", sentence
    ):
        quantity = draft.tagger.quantities[int(match.group(3))].quantity
        draft.add_fact("at", (draft.name(int(match.group(1))),), x=quantity.value, y=0.0)
    for match in re.finditer(
        rf"{B}[^⟨.;]*(?:⟨C\d+⟩[^⟨.;]*)?(?:at|on|is at) (?:the )?⟨p(\d+)⟩", sentence
    ):
        if draft.name(int(match.group(2))) == "origin":
            draft.add_fact("at", (draft.name(int(match.group(1))),), x=0.0, y=0.0)


# --- plain facts -----------------------------------------------------------------------


def _plain_facts(draft: Draft, sentence: str) -> None:
    for pattern, name in FACT_TABLE:
        if name == "contact":
            continue
        if pattern.search(sentence):
            draft.add_fact(name)
    _worded_facts(draft, sentence)
    if re.search(r"parallel[- ]plate|parallel (?:\w+ )?plates|plates", sentence):
        draft.add_fact("plates")
    if re.search(r"\buncharged\b|\bneutral\b|\bno (?:net )?charge\b", sentence):
        owner = re.search(
            rf"{B}(?:, | (?:is|was|are|which is|initially"
            rf"|that is))*[^⟨.]{{0,25}}\b(?:uncharged|neutral)",
            sentence,
        )
        for name in draft.bodies:
            if re.search(r"\b(?:uncharged|neutral)\b", name):
                draft.add_fact("uncharged", (name,))
        index = _worded_neutral(draft, sentence)
        if index:
            draft.add_fact("uncharged", (index,))
        elif listed := re.search(
            rf"({_LIST}{{2,}})(?:,? ?(?:are|were|is|both|initially|all|which"
            rf"|that))*[^⟨.]{{0,20}}\b(?:uncharged|neutral)",
            sentence,
        ):
            for name in _bodies_in(draft, listed.group(1)):
                draft.add_fact("uncharged", (name,))
        elif owner:
            draft.add_fact("uncharged", (draft.name(int(owner.group(1))),))
        else:
            draft.add_fact("uncharged")


_WORDED_FACTS: tuple[tuple[str, str], ...] = (
    (r"left to right|from the left", "left-to-right"),
    (
        r"equal (?:positive |negative |point )?charges|equally charged"
        r"|charges? of (?:the same|equal) (?:size|magnitude)|identical(?:ly)? charge"
        r"|same charge|equal charge|each (?:carry|carrying|carries|having|has|with"
        r"|of) (?:a |the same |an equal "
        r"|an unknown )?charge(?: of)?(?: magnitude)? ?(?:⟨b\d+⟩|q\b)",
        "equal-charges",
    ),
    (
        r"\b(?:unknown|different|unequal) sizes?\b|not identical|different radi"
        r"|twice the (?:radius|size)",
        "unlike-sizes",
    ),
    (r"closer together|brought closer|nearer", "closer"),
    (r"charge|electrostatic|coulomb|electric f", "electric"),
    (
        r"(?:electric |net |resultant |total )*field(?: strength)?[^.,;]{0,80}?\b(?:is"
        r"|be|equal to|equals|becomes|are) (?:zero|nil|⟨X\d+⟩\b)|zero (?:net "
        r"|resultant |electric )*field|field[^.;]{0,20}\b(?:vanish|cancel)|no (?:net "
        r"|resultant |electric )*field\b|field(?: strength)? (?:zero|nil)\b",
        "zero-field",
    ),
    (r"on the side away|beyond", "beyond"),
    (
        r"half[- ]?way|mid-?way|midpoint|mid-point|quarter of the way|third of the way",
        "part-of-way",
    ),
    (
        r"\b(?:insulating|plastic|non-?conducting) (?:\w+ )?"
        r"(?:spheres?|balls?|beads?|bodies|objects?)\b"
        r"|\binsulators\b|\bmade of (?:plastic|glass|rubber)\b",
        "insulating",
    ),
    (r"\bhangs?\b|suspended (?:from|by)|\bpendulum\b|\bthread\b", "hangs"),
    (r"\bpan\b|\bbalance pan\b|\bscale\b", "scale-pan"),
    (
        r"can you make|possible (?:total |combined )?(?:capacitances|resistances)|can be made",
        "either-way",
    ),
    (r"\blight\b(?! (?:insulat|string|thread|pan|rope|cord))", "light"),
)
_WORDED_FACT_TABLE = tuple((re.compile(p), n) for p, n in _WORDED_FACTS)
_ZERO_FORCE = re.compile(
    r"(?:no|zero|a zero)(?: net| resultant| total)?(?: electrostatic"
    r"| electric)? force|(?:net|resultant"
    r"|total)(?: \w+){0,2} force[^.;?]{0,60}?\b(?:is|be|equal to|equals"
    r"|becomes) (?:zero|nil)|\bequilibrium\b"
)
_TIMES_OTHER = re.compile(
    r"\bone(?: of (?:which|them|⟨g\d+⟩))?(?: charge)? (?:is|has|being|carries"
    r"|carrying)[^.;⟨]{0,20}?(twice|three|four|five|nine"
    r"|⟨X(\d+)⟩)(?: times)?[^.;]{0,30}\bother\b"
)


def _worded_facts(draft: Draft, sentence: str) -> None:
    for word, name in (("attract", "attraction"), ("repel", "repulsion"), ("repuls", "repulsion")):
        if (
            word in sentence
            and len(draft.bodies) == 2
            and not re.search(rf"(?:\?|whether|or) [^.]*{word}|{word}\w* or", sentence)
        ):
            draft.add_fact(name, tuple(draft.bodies))
    if "⟨C" in sentence or "charge" in draft.tagger.bodies.nouns.values():
        draft.add_fact("electric")
    for pattern, name in _WORDED_FACT_TABLE:
        if pattern.search(sentence):
            draft.add_fact(name)
    zero = _ZERO_FORCE.search(sentence)
    if zero:
        on = re.search(rf"force (?:acting |exerted )?(?:on|experienced by) {B}", zero.group())
        draft.add_fact("zero-force", (draft.name(int(on.group(1))),) if on else ())
    for match in re.finditer(rf"{B}(?: is| being| lies| placed)? on the (left|right)\b", sentence):
        draft.add_fact(f"on-{match.group(2)}", (draft.name(int(match.group(1))),))
    measured = re.search(rf"(?:measured? |distance |far )(?:away )?from (?:the )?{B}", sentence)
    if measured:
        draft.add_fact("measured-from", (draft.name(int(measured.group(1))),))
    times = _TIMES_OTHER.search(sentence)
    if times:
        factor = (
            draft.tagger.quantities[int(times.group(2))].quantity.value
            if times.group(2)
            else {"twice": 2.0, "three": 3.0, "four": 4.0, "five": 5.0, "nine": 9.0}[times.group(1)]
        )
        draft.add_fact("charge-ratio", (), factor=factor)


def _worded_neutral(draft: Draft, sentence: str) -> str | None:
    """The body met as "an identical uncharged sphere B" in the text itself."""
    match = re.search(r"\b(?:uncharged|neutral)\b[^⟨.]{0,12}⟨b(\d+)⟩", sentence) or re.search(
        rf"{B},? (?:which|that)? ?(?:has|have|had|having|carries|with) no (?:net "
        rf"|electric )?charge",
        sentence,
    )
    return draft.name(int(match.group(1))) if match else None


# --- scaling ---------------------------------------------------------------------------

_SCALED = (
    r"(distance|separation|gap|charges?|⟨b\d+⟩|one of (?:them|⟨g\d+⟩)"
    r"|both(?: charges| ⟨g\d+⟩)?|each(?: charge)?|⟨g\d+⟩|force|field|voltage"
    r"|potential difference|mass|speed|spacing|it)"
)


_CHANGE_WORDS = re.compile(
    r"\b(?:halved|doubled|trebled|tripled|quadrupled|quartered|halving|doubling"
    r"|tripling|factor of|times (?:its|the|their|as|bigger|smaller|larger|greater"
    r"|what))\b"
)
_SYMBOL_CHANGE = re.compile(
    r"(?:becomes?|changed to|increased? to|reduced? to|decreased? to|is now|are now"
    r"|moved to|to|now) (?:a distance (?:of )?)?(?:⟨X(\d+)⟩ ?"
    r"|\\frac\{(\d)\}\{(\d)\} ?)([drx])\b|(?:becomes?|to|now) ([drx]) ?/ ?⟨X(\d+)⟩"
)


def _scaling(draft: Draft, sentence: str) -> None:
    """ "the distance is halved and one charge doubled", "increased by a factor of three"."""
    before = sum(1 for f in draft.facts if f.name == "scaled")
    for match in _SYMBOL_CHANGE.finditer(sentence):
        whole, top, bottom, _, _, part = match.groups()
        if whole or part:
            value = draft.tagger.quantities[int(whole or part)].quantity.value
            factor = value if whole else 1 / value
        else:
            factor = int(top) / int(bottom)
        draft.add_fact("scaled", (), thing="distance", factor=factor)
    _scaling_words(draft, sentence)
    after = sum(1 for f in draft.facts if f.name == "scaled")
    factors = any(
        f"⟨X{i}⟩" in sentence
        for i, g in zip(draft.places, draft.givens, strict=True)
        if g.kind == "force_factor"
    )
    if (
        before == after
        and _CHANGE_WORDS.search(sentence)
        and not factors
        and not re.search(r"by what factor|other\b", sentence)
    ):
        draft.add_fact("unread-change")


def _scaling_words(draft: Draft, sentence: str) -> None:
    words = "|".join(_FACTOR_WORDS)
    for match in re.finditer(rf"\b({words})\b(?![- ]?way| (?:a|an|of)\b)", sentence):
        if match.group(1) == "half" and not re.match(
            r" (?:the|its|their|as)\b", sentence[match.end() :]
        ):
            continue
        draft_factor = _FACTOR_WORDS[match.group(1)]
        what = _scaled_thing(sentence, match.start(), match.end())
        if what:
            draft.add_fact("scaled", (), thing=what, factor=draft_factor)
    for match in re.finditer(r"(increas|decreas|reduc)\w* by ⟨X(\d+)⟩", sentence):
        quantity = draft.tagger.quantities[int(match.group(2))].quantity
        if quantity.written_unit == "percent":
            share = quantity.value if match.group(1) == "increas" else -quantity.value
            thing = _scaled_thing(sentence, match.start(), match.end())
            if thing:
                draft.add_fact("scaled", (), thing=thing, factor=1 + share)
                draft.add_fact("scaled-given", (), text=quantity.text)
    for match in re.finditer(
        r"(increas|decreas|reduc|enlarg|multipl|chang|made|become|becoming|greater"
        r"|moved|larger|smaller|grow|(?:is|are|was|were)(?= (?:⟨X\d+⟩|two|three|four"
        r"|five|nine) times))\w*[^.⟨]{0,40}?(?:by|to|is)? ?(?:a factor of )?(⟨X(\d+)⟩"
        r"|\b(?:one[- ](?:half|third|quarter|fourth)|half|a (?:third|quarter)|two|three"
        r"|four|five|six|nine|ten)\b)(?: times)?(?: (?:its|their|the) (?:original"
        r"|initial|previous|first|former))?",
        sentence,
    ):
        text = match.group()
        if not re.search(
            r"factor of|times|original|initial|previous|former|multipl|half|third|quarter", text
        ):
            continue
        if match.group(1) in ("is", "are", "was", "were") and not re.search(
            r"times (?:what|as|bigger|larger|greater|smaller|stronger|its|the)",
            sentence[match.start() : match.end() + 12],
        ):
            continue
        if match.group(3):
            value = draft.tagger.quantities[int(match.group(3))].quantity.value
        else:
            value = _COUNTS.get(match.group(2).replace("-", " "), _COUNTS.get(match.group(2), 0.0))
        if not value or any(w in _FACTOR_WORDS for w in [match.group(2)]):
            continue
        if match.group(1) in ("decreas", "reduc") and "factor of" in text and value > 1:
            value = 1 / value
        what = _scaled_thing(sentence, match.start(), match.end())
        if what:
            draft.add_fact("scaled", (), thing=what, factor=value)


_THINGS: tuple[tuple[re.Pattern[str], str], ...] = tuple(
    (re.compile(words), name)
    for words, name in (
        (r"\b(?:distance|separation|gap|spacing|apart|distances)\b", "distance"),
        (r"\bforce\b", "force"),
        (r"\bfield\b", "field"),
        (r"potential difference|\bvoltage\b", "voltage"),
        (r"\bspeed\b|\bvelocity\b", "speed"),
        (r"\bmass\b", "mass"),
        (r"\b(?:both|each)\b|\bcharges are\b|⟨g\d+⟩", "both-charges"),
        (r"\bcharge\b|⟨b\d+⟩|\bone of\b", "one-charge"),
    )
)


def _scaled_thing(sentence: str, start: int, end: int) -> str | None:
    """What a change word is about: the noun right after it, else the nearest before it."""
    before, after = sentence[:start], sentence[end:]
    if re.match(r" (?:the |their |its )?(?:\w+ )?(?:distance|separation)", after):
        return "distance"
    if re.match(r" (?:the |its )?(?:\w+ )?charge", after):
        return "one-charge"
    clause = re.split(r"[.;,]|\band\b|\bif\b|\bwhile\b", before)[-1]
    if re.search(r"\bone (?:of the |of )?(?:charge|⟨[bg]\d+⟩)", clause):
        return "one-charge"
    found = [(m.end(), name) for pattern, name in _THINGS for m in pattern.finditer(clause)]
    if not found and re.search(r"\b(?:both|each)\b", before):
        return "both-charges"
    both = any(name == "both-charges" for _, name in found)
    nearest = min(found, default=(0, ""))[1]
    if nearest == "one-charge" and both:
        return "both-charges"
    return nearest or None


def _symbolic(draft: Draft, sentence: str) -> None:
    """ "exert a force f on each other": the force is a symbol, so the answer is a ratio to it."""
    if re.search(
        r"\b(?:force|field)(?: of)?(?: magnitude| strength)?(?: (?:between \w+"
        r"|on each other|at [^.]*|is|of|equal to|=))* ?\b([fe])\b(?! ?=)",
        sentence,
    ):
        draft.add_fact("symbolic-force")
