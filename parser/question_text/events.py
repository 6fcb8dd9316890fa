"""What happens in time: bodies touch, one is replaced by another."""

from __future__ import annotations

import re
from collections.abc import Iterator

from parser.question_text.cues import FACT_TABLE
from parser.question_text.draft import B, Draft, bodies_in

_CONTACT = next(p for p, n in FACT_TABLE if n == "contact")


_REPLACED = re.compile(
    rf"{B} (?:is|was|has been|were)(?: now| then)? (?:replaced|exchanged"
    rf"|swapped) (?:by|with|for) {B}"
)


def read_replacement(draft: Draft, sentence: str) -> None:
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
# "touches B and then C": the second contact has no verb of its own
_GOES_ON = re.compile(
    r"(?:,|;)?(?: and)? (?:then|finally|lastly|next|afterwards|after that)"
    r"(?: (?:with|to|by|against|the))* (?=⟨b\d+⟩)(?!⟨b\d+⟩ (?:and|is|are|touch|was|were|made|put))"
)
_NEW_START = re.compile(r"\bthen\b|\bnext\b|\bafter\b|\bfinally\b|\blastly\b|;|, and ⟨b\d+⟩")


def at_contacts(draft: Draft, sentence: str) -> Iterator[tuple[str, bool]]:
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
        if cuts and not _NEW_START.search(sentence[cuts[-1] : start]):
            continue
        cuts.append(start)
    if cuts:
        cuts += [m.start() for m in _GOES_ON.finditer(sentence, cuts[0])]
        cuts.sort()
    bounds = [0, *cuts, len(sentence)]
    for i in range(len(bounds) - 1):
        yield sentence[bounds[i] : bounds[i + 1]], i > 0


_CLAUSE = re.compile(r"[.;]|\bthen\b(?! touch)|\bafter which\b|\bfinally\b|\blastly\b|\bnext,?\b")
_CLAUSE_END = re.compile(
    r"[.;]|,? and then\b|, then\b|\bseparated\b|\bafter which\b|\bwhat\b|\bcalculate\b"
    r"|\bwhich (?:has|carries|have|is)\b|, and\b|,? before\b|\bfinally\b"
)
_IN_TURN = re.compile(
    r"\bin turn\b|\bone (?:after|by) (?:the other|another|one)\b|\bin that order\b"
)
_BY_POSITION = re.compile(
    r"\bthe (?:first|second|third|other|last)(?: one)?\b(?! (?:time|contact|touch))(?! ⟨)"
)


def read_contact(draft: Draft, piece: str, head: str) -> None:
    """A contact: its members are the bodies named around the verb, else all.

    "B, C and D in turn" is one contact after another, each with the same body.
    """
    members = _members(draft, piece, head)
    if _IN_TURN.search(piece):
        _in_turn(draft, members, piece, head)
        return
    draft.stage += 1
    if _BY_POSITION.search(piece) or _names_a_stranger(draft, piece):
        draft.add_fact("unread-event")
    draft.add_fact("contact", members)


def _members(draft: Draft, piece: str, head: str) -> list[str]:
    clause = _CLAUSE.split(head)[-1]
    after_text = _CLAUSE_END.split(piece, maxsplit=1)[0]
    goes_on = _GOES_ON.match(piece)
    if goes_on:
        follower = bodies_in(draft, piece)[:1]
        last = next((f for f in reversed(draft.facts) if f.name == "contact"), None)
        return list(dict.fromkeys([*(last.bodies[:1] if last else ()), *follower]))
    close = bodies_in(draft, clause)
    after = _all_in(draft, after_text)
    members = list(dict.fromkeys([*close[-1:], *after])) if after else list(dict.fromkeys(close))
    if after and len(close) >= 2 and re.search(r"⟨b\d+⟩,? and (?:\w+ )?⟨b\d+⟩[^⟨]*$", clause):
        members = list(dict.fromkeys([*close, *after]))
    if len(members) < 2 and after and re.search(r"\b(?:it|which|this)\b[^⟨]*$", clause):
        last = next((f for f in reversed(draft.facts) if f.name == "contact"), None)
        spoken = bodies_in(draft, draft.previous)
        subject = last.bodies[:1] if last and not spoken else tuple(spoken[:1])
        members = list(dict.fromkeys([*subject, *after]))
    if len(members) < 2:
        members = list(dict.fromkeys([*bodies_in(draft, head), *after]))
    groups = [
        draft.names(int(i))
        for i in re.findall(r"⟨g(\d+)⟩", clause) or re.findall(r"⟨g(\d+)⟩", head)
    ]
    if len(members) < 2 and groups and len(groups[-1]) >= 2:
        members = list(groups[-1])
    return members if len(members) >= 2 else list(draft.bodies)


def _all_in(draft: Draft, text: str) -> list[str]:
    """Every body named in a text, the members of its groups included."""
    found: list[str] = []
    for index in re.findall(r"⟨[bg](\d+)⟩", text):
        names = draft.names(int(index))
        found += names if f"⟨b{index}⟩" in text or len(names) <= 3 else ()
    return [n for n in dict.fromkeys(found) if n]


def _in_turn(draft: Draft, members: list[str], piece: str, head: str) -> None:
    """One body touches several, one after another."""
    subject = members[0]
    before = _all_in(draft, _CLAUSE.split(head)[-1])
    if len(before) > 1:
        draft.stage += 1
        draft.add_fact("unread-event")
        draft.add_fact("contact", members)
        return
    partners = [n for n in _all_in(draft, piece) if n != subject]
    if not partners:
        partners = [n for n in draft.bodies if n != subject]
    for other in partners:
        draft.stage += 1
        draft.add_fact("contact", (subject, other))


def _names_a_stranger(draft: Draft, piece: str) -> bool:
    """ "touched by another sphere" of which nothing is known."""
    return bool(re.search(r"(?<!one )\banother (?!⟨|of\b)\w+", piece))
