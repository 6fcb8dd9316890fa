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
        if cuts and not re.search(r"\bthen\b|\bnext\b|\bafter\b|;", sentence[cuts[-1] : start]):
            continue
        cuts.append(start)
    bounds = [0, *cuts, len(sentence)]
    for i in range(len(bounds) - 1):
        yield sentence[bounds[i] : bounds[i + 1]], i > 0


def read_contact(draft: Draft, piece: str, head: str) -> None:
    """A contact: its members are the bodies named around the verb, else all."""
    clause = re.split(r"[.;]|\bthen\b(?! touch)|\bafter which\b", head)[-1]
    after_text = re.split(
        r"[.;]|\band then\b|\bseparated\b|\bafter which\b|\bwhat\b|\bcalculate\b"
        r"|\bwhich (?:has|carries|have|is)\b|, and\b",
        piece,
    )[0]
    close = bodies_in(draft, clause)
    after = bodies_in(draft, after_text)
    members = list(dict.fromkeys([*close[-1:], *after])) if after else list(dict.fromkeys(close))
    if after and len(close) >= 2 and re.search(r"⟨b\d+⟩,? and (?:\w+ )?⟨b\d+⟩[^⟨]*$", clause):
        members = list(dict.fromkeys([*close, *after]))
    if len(members) < 2:
        members = list(dict.fromkeys([*bodies_in(draft, head), *after]))
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
