"""The text of one question turned into givens, facts and asks.

Reading goes in steps, a module each: ``numbering`` cuts a sheet into questions and parts,
``instructions`` takes out how answers are to be written, ``tagging`` replaces quantities and
bodies by tags, ``cues`` holds the cue words as tables, ``statements`` reads what is given and
what happens, ``asks`` what is wanted.

Fact names: ``contact`` (bodies share their charge; starts a new stage), ``identical``,
``uncharged``, ``particle`` (detail particle, multiple), ``direction`` (first body lies in
detail direction from the second), ``between`` and ``midpoint`` (first body or point lies
between the other two), ``part-way``, ``on-line``, ``right-angle``, ``equilateral``,
``square``, ``at-centre``, ``at`` (detail x, y in metres), ``attraction``, ``repulsion``,
``scaled`` (detail thing, factor), ``symbolic-force``, ``plates``, and the plain ones of
``cues.FACT_CUES``.
"""

from __future__ import annotations

import re
from dataclasses import replace
from functools import partial

from parser.quantity import DecimalMark, canonical, settle_decimal_mark
from parser.question_text.asks import (
    follows_up,
    is_numeric,
    non_numeric_request,
    read_asks,
    sentences,
    split_sentence,
)
from parser.question_text.draft import Draft
from parser.question_text.instructions import without_instructions
from parser.question_text.numbering import inline_parts
from parser.question_text.situations import read_situations
from parser.question_text.stated_constants import read_constants
from parser.question_text.statements import read_statement
from parser.question_text.tagging import Tagger
from parser.worksheet import Asked, Given, Question

_FIGURE = re.compile(
    r"\b(?:as shown|shown (?:in|below|above|here)|(?:figure|diagram|sketch|graph"
    r"|table)s? (?:below|above|alongside|opposite|shows?|represents?|illustrates?)"
    r"|(?:in|from|to|see|on) the (?:figure|diagram|sketch|graph|table)|see fig)",
    re.I,
)
_FIGURE_NOTE = re.compile(
    r"\(?(?:see )?(?:fig(?:ure)?|example|table)\.? ?\d+(?:\.\d+)?(?:\([a-z]\))?\)?", re.I
)
_PREVIOUS = re.compile(
    r"\b(?:previous|preceding) (?:example|problem|question|figure)|(?:calculated"
    r"|found|obtained|answer|result) (?:in|to|from) (?:question|part|the previous)",
    re.I,
)


def read_question(
    number: str, text: str, stem: str = "", earlier_text: str = "", mark: DecimalMark | None = None
) -> Question:
    """One question as understood from its text.

    ``stem`` is the text it shares with its sibling parts, ``earlier_text`` the siblings
    before it. Never fails: what was not understood is said in ``problems``.
    """
    own = unglued(canonical(text))
    context = [unglued(canonical(t)) for t in (stem, earlier_text) if t]
    whole = "\n".join([*context, own])
    mark = mark or settle_decimal_mark(whole)
    tagger = Tagger(mark, whole)
    draft = Draft(tagger)
    for piece in context:
        _read_context(draft, piece)
    asks: list[Asked] = []
    problems = list(_lost_words(whole))
    verb = _open_ask_of(stem)
    lead, parts = _shared_ask(*inline_parts(own if verb is None else f"{verb} {own}"))
    wordy = 0
    for scope, piece in enumerate([lead, *parts]):
        wordy += _read_piece(draft, piece, asks, problems, scope, bool(context))
    for noun in tagger.strangers:
        problems.append(f"Another {noun} is mentioned, but not the one it adds to.")
    read_situations(draft)
    _settle_kinds(draft)
    numeric = bool(asks) or not wordy
    if all(a.kind == "unknown" for a in asks):
        problems += [f"What is asked was not understood: {a.text}" for a in asks]
        asks = []
    if numeric and not asks and not problems:
        problems.append("No ask was found in the words of this question.")
    return Question(
        number=number,
        text=own,
        stem="\n".join(context),
        bodies=tuple(dict.fromkeys([*tagger.bodies.names])),
        givens=tuple(draft.givens),
        facts=tuple(draft.facts),
        asked=tuple(asks),
        numeric=numeric,
        needs_figure=bool(_FIGURE.search(whole)) and not _FIGURE_NOTE.search(whole),
        problems=tuple(dict.fromkeys([*problems, *draft.problems])),
    )


_GLUED_NAME = re.compile(
    r"\b(?!(?:Band|Hand|Land|Sand|Rand|Wand|His|This)\b)"
    r"([A-Z])(and|is|are|has|carries|charged?|experiences|exerts)\b"
)
_GLUED_STOP = re.compile(r"(?<=[A-Za-z\d)}])([.?])(?=[A-Z][a-z])")
_LOST_WORD = re.compile(
    r"(?<![\d}⁰¹²³⁴⁵⁶⁷⁸⁹] )\b[A-Z],? and (?:are|were)\b|\b(?:charges?|force|mass"
    r"|distance) (?:on|of|from|between) (?:is|are|was|exerts)\b|\band and\b"
)


def unglued(text: str) -> str:
    """``text`` with a space between words that print or a scan ran together."""
    return _GLUED_STOP.sub(r"\1 ", _GLUED_NAME.sub(r"\1 \2", text))


def _lost_words(text: str) -> tuple[str, ...]:
    """What says that a word is missing ("S and are identical"), in plain words."""
    return tuple(
        f"A word seems to be missing here: {' '.join(match.group().strip(', ').split())}"
        for match in _LOST_WORD.finditer(text)
    )


def stated_constants(text: str, mark: DecimalMark | None = None) -> tuple[Given, ...]:
    """The constants that a sheet's heading or data line states ("g = 9.8 m·s⁻²")."""
    draft = Draft(Tagger(mark, text))
    for sentence in sentences(draft.tagger.tag(canonical(text))):
        read_constants(draft, sentence, set())
    return tuple(draft.givens)


def _read_context(draft: Draft, text: str) -> None:
    lead, parts = inline_parts(text)
    for piece in (lead, *parts):
        for sentence in sentences(draft.tagger.tag(_without_notes(piece))):
            if non_numeric_request(sentence):
                continue
            statement, ask = split_sentence(sentence)
            if statement:
                read_statement(draft, statement)
            if ask and is_numeric(ask):
                read_statement(draft, ask)


def _without_notes(text: str) -> str:
    return _FIGURE_NOTE.sub("", without_instructions(text)[0])


def _read_piece(
    draft: Draft, piece: str, asks: list[Asked], problems: list[str], scope: int, apart: bool
) -> int:
    """Read one stretch of the question; returns how many requests in it are not numeric."""
    wordy = 0
    first_given, first_fact = len(draft.givens), len(draft.facts)
    first_ask = len(asks)
    tags = draft.tagger.tag(_without_notes(piece))
    for sentence in sentences(tags):
        if asks and re.match(
            r"(?:do|repeat|calculate) (?:exactly )?(?:the )?(?:same|this|calculation)", sentence
        ):
            read_statement(draft, sentence)
            asks.extend(asks[_last_part(asks, draft) :])
            continue
        more = follows_up(sentence)
        if more and asks[first_ask:]:
            asks[-1] = replace(asks[-1], wants=more)
            continue
        if non_numeric_request(sentence):
            wordy += 1
            continue
        statement, ask = split_sentence(sentence)
        if not ask and sentence.endswith("?"):
            statement, ask = "", sentence
        if ask and not is_numeric(ask):
            wordy += 1
            if statement:
                read_statement(draft, statement)
            continue
        if statement:
            read_statement(draft, statement)
        if ask:
            read_statement(draft, ask)
            found = read_asks(draft, ask, partial(_plain, draft))
            asks.extend(found or [Asked("unknown", stage=draft.stage, text=_plain(draft, ask))])
    for wanted in without_instructions(piece)[1]:
        for place in range(first_ask if wanted.every else len(asks) - 1, len(asks)):
            if place >= first_ask and asks[place].unit is None:
                asks[place] = replace(asks[place], unit=wanted.unit)
    if scope or apart:
        draft.givens[first_given:] = [replace(g, ask=first_ask) for g in draft.givens[first_given:]]
        draft.facts[first_fact:] = [replace(f, ask=first_ask) for f in draft.facts[first_fact:]]
    return wordy


def _settle_kinds(draft: Draft) -> None:
    """What only the whole text tells: signs in words, a distance with no ends, plates."""
    signs = {f.bodies[0]: f.get("negative") == "yes" for f in draft.facts if f.name == "sign"}
    for place, given in enumerate(draft.givens):
        quantity = given.quantity
        if given.kind == "charge" and given.of in signs and not quantity.sign and given.stage == 0:
            size = -1.0 if signs[given.of] else 1.0
            draft.givens[place] = replace(
                given,
                quantity=replace(
                    quantity,
                    value=size * abs(quantity.value),
                    written_value=size * abs(quantity.written_value),
                    sign="-" if size < 0 else "",
                ),
            )
    loose = [i for i, g in enumerate(draft.givens) if g.kind == "distance" and g.between is None]
    if any(f.name == "plates" for f in draft.facts):
        if len(loose) == 1 and not any(g.kind == "plate_separation" for g in draft.givens):
            draft.givens[loose[0]] = replace(draft.givens[loose[0]], kind="plate_separation")
        return
    if (
        len(loose) == 1
        and len(draft.bodies) == 2
        and not any(g.kind == "distance" and g.between for g in draft.givens)
    ):
        pair = (draft.bodies[0], draft.bodies[1])
        if all(any(g.kind == "charge" and g.of == b for g in draft.givens) for b in pair):
            draft.givens[loose[0]] = replace(draft.givens[loose[0]], between=pair)


_OPEN_ASK = re.compile(
    r"(?:^|(?<=[.?!,;:] )|(?<=\n))(?P<verb>(?:hence,? |and |then )*(?:calculate"
    r"|find|determine|compute|work out|evaluate|state|give|what (?:is|are|was"
    r"|will be)))(?P<more> [^.?]*)?[:,-]?\s*$",
    re.I,
)


def _open_ask_of(stem: str) -> str | None:
    """The verb of a stem that its parts end ("Determine: (i) the charge, (ii) the energy")."""
    match = _OPEN_ASK.search(canonical(stem).rstrip()) if stem else None
    if match is None or (match.group("more") or "").strip():
        return None
    return match.group("verb")


def _shared_ask(lead: str, parts: list[str]) -> tuple[str, list[str]]:
    """ "find (a) the acceleration and (b) the speed": the verb belongs to every part."""
    match = _OPEN_ASK.search(lead) if parts else None
    if match is None:
        return lead, parts
    asking = re.compile(
        r"\b(?:what|how|calculate|find|determine|where|which|explain|discuss)\b", re.I
    )
    if (match.group("more") or "").strip() and any(asking.search(p) for p in parts):
        return lead, parts
    opening = lead[match.start() :].rstrip(" :,-")
    tidy = [re.sub(r"(?:,|;)?\s*(?:and)?\s*$", "", p.strip().rstrip(".")) for p in parts]
    return lead[: match.start()], [f"{p}." if asking.match(p) else f"{opening} {p}." for p in tidy]


def _last_part(asks: list[Asked], draft: Draft) -> int:
    """Where the asks of the part before begin."""
    marks = {g.ask for g in draft.givens if g.ask is not None} | {
        f.ask for f in draft.facts if f.ask is not None
    }
    return max((m for m in marks if m < len(asks)), default=0)


def _plain(draft: Draft, tags: str) -> str:
    """Tagged words back in plain words."""

    def word(match: re.Match[str]) -> str:
        letter, index = match.group(1), int(match.group(2))
        if letter in "bgp":
            return " and ".join(draft.names(index)) or "they"
        return draft.tagger.quantities[index].quantity.text

    return re.sub(r"⟨([A-Za-z])(\d+)⟩", word, tags)
