"""Statements of a question turned into givens and facts.

Works on tagged sentences (see ``tagging``). Each reader takes one thing from a sentence into
the draft: constants, events, charges, lengths, other amounts, places, worded facts, changes.
"""

from __future__ import annotations

import re

from parser.question_text.amounts import read_amounts, read_forces
from parser.question_text.changes import read_changes
from parser.question_text.charges import read_charges, read_particles
from parser.question_text.coordinates import read_coordinates
from parser.question_text.draft import B, Draft
from parser.question_text.events import at_contacts, read_contact, read_replacement
from parser.question_text.lengths import read_lengths
from parser.question_text.places import read_places
from parser.question_text.stated_constants import read_constants
from parser.question_text.worded import read_mentions, read_symbols, read_worded_facts


def read_statement(draft: Draft, sentence: str) -> None:
    """Take the givens and facts of one tagged sentence into ``draft``."""
    sentence = _resolve_groups(draft, sentence)
    draft.previous = draft.history
    draft.history += " " + sentence
    told = _told(draft)
    read_particles(draft, sentence)
    used: set[int] = set()
    read_mentions(draft, sentence)
    read_replacement(draft, sentence)
    read_constants(draft, sentence, used)
    head = ""
    for piece, stage_up in at_contacts(draft, sentence):
        if stage_up:
            read_contact(draft, piece, head)
        read_charges(draft, piece, sentence, used, head, stage_up)
        head += piece
    read_coordinates(draft, sentence, used)
    read_lengths(draft, sentence, used)
    read_forces(draft, sentence, used)
    read_amounts(draft, sentence, used)
    read_places(draft, sentence)
    read_worded_facts(draft, sentence)
    read_changes(draft, sentence, _told(draft) - told)
    read_symbols(draft, sentence)


def _told(draft: Draft) -> int:
    """How many givens, replacements and particles are known."""
    stated = sum(1 for g in draft.givens if g.kind not in ("number", "factor"))
    return stated + sum(1 for f in draft.facts if f.name in ("replaced", "particle"))


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
