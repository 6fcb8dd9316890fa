"""Whose every stated charge is, at which moment, and with which sign."""

from __future__ import annotations

import re
from dataclasses import replace

from parser.question_text.cues import kind_of_given
from parser.question_text.draft import (
    EACH,
    LIST,
    PROPERTY,
    QLIST,
    B,
    Draft,
    add_once,
    bodies_in,
    last_body,
    subject_before,
    symbol_before,
)
from parser.question_text.tagging import PARTICLES
from parser.worksheet import Fact, Given, Quantity

_AFTERNESS = re.compile(r"\b(?:now|afterwards?|after|leaving|then|final|new|later)\b")


_BEFORENESS = re.compile(
    r"\b(?:before|initially|originally|at first|to start with|at the start|original"
    r"|to begin with)\b"
)


_AFTER_EVENT = re.compile(
    r"\b(?:after|once|when|following)(?: ⟨[bg]\d+⟩| they| the| have| had|,)* ?$"
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


def read_charges(
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
    qlist = QLIST.format("C")
    for match in re.finditer(rf"({LIST}{{2,}}){PROPERTY}({qlist}{{2,}})", piece):
        names = [draft.name(int(i)) for i in re.findall(B, match.group(1))]
        charges = [int(i) for i in re.findall(r"⟨C(\d+)⟩", match.group(2))]
        if len(names) == len(charges):
            for name, charge in zip(names, charges, strict=True):
                owners.setdefault(charge, (name,))
    for match in re.finditer(
        rf"({qlist}{{2,}})(?:charges? |respectively |are |were |is |placed |put |given "
        rf"|located |situated |fixed |charge )*(?:on|at|to"
        rf"|onto) (?:(?:the )?(?:⟨[gp]\d+⟩|points?|positions?|corners?|vertices"
        rf"|ends?) )?({LIST}{{2,}})",
        piece,
    ):
        names = [draft.name(int(i)) for i in re.findall(B, match.group(2))]
        charges = [int(i) for i in re.findall(r"⟨C(\d+)⟩", match.group(1))]
        if len(names) == len(charges):
            for name, charge in zip(names, charges, strict=True):
                owners.setdefault(charge, (name,))
    for match in re.finditer(rf"⟨g(\d+)⟩{PROPERTY}({qlist}{{2,}})", piece):
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
            draft.add_given(index, Given(quantity, kind, of=subject_before(draft, before)))
            used.add(index)
            continue
        owning = owners.get(index) or _owner_of_charge(draft, piece, match)
        if not owning:
            owning = _next_of_group(draft, piece, match)
        if not owning:
            owning = _fallback_owner(draft, head + before, after)
        used.add(index)
        draft.owner_of[index] = owning[0]
        factors = signs.get(index) or _opposite_signs(before, len(owning))
        for name, factor in zip(owning, factors, strict=True):
            signed = _with_sign(quantity, factor, name, before, after)
            given = Given(signed, "charge", of=name, symbol=symbol_before(before))
            told_after = in_event and bool(_AFTER_EVENT.search(head))
            stage = _stage_of_charge(draft, name, before, after, in_event and not told_after)
            draft.givens.append(replace(given, stage=stage))
            draft.places.append(index)


def _next_of_group(draft: Draft, piece: str, match: re.Match[str]) -> tuple[str, ...]:
    """ "Three charges lie on a line: +2 nC at ..., -3 nC at ...": the next one without a charge."""
    if not re.search(r"(?:^|[:;,] |\band (?:an? )?|^an? )$", piece[: match.start()]):
        return ()
    if re.search(r"⟨b\d+⟩", piece):
        return ()
    free = [n for n in draft.bodies if not _charge_given(draft, n)]
    coming = 1 + len(re.findall(r"⟨C\d+⟩", piece[match.end() :]))
    return (free[0],) if free and len(free) == coming else ()


_ONE_OF_THEM = re.compile(
    r"\b(?:one|the other|another)(?: of (?:them|these|the \w+|⟨g\d+⟩))?(?: \w+)?"
    r" (?:has|had|carries|carried|is|was|bears|holds|gets|received|receives|with|carrying|having)"
    r"(?: been)?(?: given| charged(?: to| with)?)?(?: an?| the)?(?: \w+)?(?: charge)?(?: of)? ?$"
)


def _fallback_owner(draft: Draft, before: str, after: str) -> tuple[str, ...]:
    """Whose an unclaimed charge is: the pronoun's body, the one body without a charge, or new."""
    clause = re.split(r"[.;?!]", before)[-1]
    pronoun = re.search(r"\b(?:it|its|which|that|her|his)\b[^⟨]*$", clause)
    last = last_body(draft, before)
    if pronoun and last and not _charge_given(draft, last):
        return (last,)
    mentioned = [n for n in dict.fromkeys(bodies_in(draft, clause)) if not _charge_given(draft, n)]
    if len(mentioned) == 1:
        return (mentioned[0],)
    free = [
        n for n in draft.bodies if not _charge_given(draft, n) and n not in draft.owner_of.values()
    ]
    if free and len(draft.bodies) >= 2 and _ONE_OF_THEM.search(clause):
        return (free[0],)
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


def _charge_given(draft: Draft, name: str) -> bool:
    return any(g.kind == "charge" and g.of == name and g.stage == draft.stage for g in draft.givens)


def _owner_of_charge(draft: Draft, piece: str, match: re.Match[str]) -> tuple[str, ...]:
    before, after = piece[: match.start()], piece[match.end() :]
    named = re.match(rf"(?: charges?)? ?\({B}\)", after)
    if named:
        return (draft.name(int(named.group(1))),)
    placed = re.match(
        rf"(?: charges?| of charge| of excess charge| of positive charge)?(?: is| was"
        rf"| are)?(?: placed| put| transferred| given| located| situated| fixed"
        rf"| held)?,? (?:on|onto|to|in|for|at) {B}",
        after,
    )
    own = re.search(rf"{B}{PROPERTY}$", before)
    if placed and own and re.search(r" at ⟨b", placed.group()):
        where, who = draft.name(int(placed.group(1))), draft.name(int(own.group(1)))
        if re.fullmatch(r"[A-Z]'?", where) and re.match(r"charge|point charge", who):
            draft.alias[who] = where
            return (where,)
    if placed and not (own and re.search(r"⟨b\d+⟩ (?:of|=|\() ?$", before)):
        return (draft.name(int(placed.group(1))),)
    each = EACH.search(before[-70:]) or re.match(r"\)?(?: charges?)? (?:each|on each)\b", after)
    listed = re.search(rf"({LIST}{{2,}}){PROPERTY}$", before)
    group = re.search(rf"⟨g(\d+)⟩{PROPERTY}$", before)
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


def read_particles(draft: Draft, sentence: str) -> None:
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
            add_once(draft, Fact("particle", (name,), (("particle", "ion"), ("multiple", 1.0))))
        elif re.search(
            r"\bdoubly(?:-| )charged\b|\bdoubly ionised\b|\bdoubly ionized\b", name + " " + sentence
        ) and re.search(r"ion|nucleus|atom", name):
            add_once(draft, Fact("particle", (name,), (("particle", "ion"), ("multiple", 2.0))))
    missing = re.search(rf"⟨b{index}⟩ with (?:(one|an?)|⟨X(\d+)⟩) missing electrons?", sentence)
    if missing and names:
        given = missing.group(2)
        count = draft.tagger.quantities[int(given)].quantity.value if given else 1.0
        if count:
            add_once(
                draft,
                Fact("particle", (names[0],), (("particle", "ion"), ("multiple", float(count)))),
            )
