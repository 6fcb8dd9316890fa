"""Sentences that say how to write an answer down, and the unit they want it in."""

from __future__ import annotations

import re
from typing import NamedTuple

from parser.question_text.cues import UNIT_WORDS

_BOUNDARY = re.compile(r"(?<=[?!:;)\]])\s+|(?<=\.)\s+(?=[^a-z]|(?:show|give|express|round)\b)|\n+")
_VERBS = (
    r"(?:show|give|giving|express|write|state|leave|round|quote|present|report|record|include"
    r"|provide|answer|set out|specify|do not|don't|make sure|ensure|indicate)"
)
_COUNTED = (
    r"(?:significant|sig\.? ?figs?|s\. ?f\b|sf\b|decimal (?:place|digit)|d\. ?p\b|dp\b"
    r"|scientific notation|standard (?:form|notation)|nearest)"
)
_ABOUT = (
    rf"(?:{_COUNTED}|answers?\b|workings?\b|steps\b|calculations\b|formula|substitution"
    r"|reasoning|units?\b|questions\b|figures\b)"
)
_LEAD = (
    r"^\s*[(*]?\s*(?:(?:please|also|and|then|always|remember to|be sure to|you (?:must|should)"
    r"|in (?:each|all|every) (?:case|question|calculation)s?,?) )*"
)
_INSTRUCTION = re.compile(
    rf"{_LEAD}(?:{_VERBS}\b.*?{_ABOUT}"
    r"|(?:all |your )*(?:final )?(?:answers?|workings?) (?:must|should|are to|to|in)\b"
    r"|(?:show|clearly show) (?:all |your |how you )+(?:work|got|obtained|arrived)"
    r"|(?:give|express|write|state|answer|round) (?:(?:it|this|them|these|off) )*(?:in|to)\b)",
    re.I,
)
_TAIL = re.compile(
    rf",?;? (?:and |then |also |please )*(?:{_VERBS}|expressing|showing|rounding|leaving|rounded)"
    r" (?:off )?(?:all |your |the |final |it )*"
    rf"(?=(?:answers?|workings?|{_COUNTED}|calculations?)\b)[^.?!]*",
    re.I,
)
_ROUNDING = re.compile(
    r",? ?\(?(?:(?:correct|rounded(?: off)?|accurate|off) )?to (?:at least )?(?:\d|[a-z]+)"
    r" ?(?:significant (?:figures?|digits?)|sig\.? ?figs?\.?|s\. ?f\.?(?![a-z])|sf\b"
    r"|decimal (?:places?|digits?)|d\. ?p\.?(?![a-z])|dp\b)\)?"
    r"|,? ?\(\d ?(?:s\. ?f\.?|d\. ?p\.?|sf|dp|sig\.? ?figs?\.?|significant figures)\)",
    re.I,
)
_ASKS_MORE = re.compile(
    r"\b(?:calculate|find|determine|compute|what|why|where|explain|estimate|predict|sign"
    r"|directions?|in terms of|as an? (?!decimal|number|whole)|show (?:that|by)|reason for"
    r"|definition|law)\b|=|\bhow\b(?! you)|percentage|fraction\b|ratio\b",
    re.I,
)
_UNIT = re.compile(r"\b(?:in|to the nearest)\s+([A-Za-zµ/]+(?: volts)?)")


class Instruction(NamedTuple):
    """The unit that an instruction wants, for every answer or for one."""

    unit: str
    every: bool


def without_instructions(text: str) -> tuple[str, tuple[Instruction, ...]]:
    """``text`` less its instruction sentences, and the units that these request.

    "Give your answer in mN." goes; "Express the force in terms of F." asks something and
    stays, and so does "Use k = 9 × 10^9", which states a constant.
    """
    units: list[Instruction] = []

    def note(piece: str) -> str:
        match = _UNIT.search(piece)
        unit = _unit_named(match.group(1)) if match else None
        if unit:
            every = re.search(r"\b(?:answers|all|these|them)\b", piece, re.I)
            units.append(Instruction(unit, every is not None))
        return ""

    def tail(match: re.Match[str]) -> str:
        return match.group() if _ASKS_MORE.search(match.group()) else note(match.group())

    kept, at = [], 0
    for start, end in _sentences(text):
        piece = text[start:end]
        kept.append(text[at:start])
        at = end
        if _INSTRUCTION.match(piece) and not _ASKS_MORE.search(piece):
            note(piece)
            continue
        ended = piece.rstrip().endswith(".")
        piece = _TAIL.sub(tail, _ROUNDING.sub("", piece))
        kept.append(piece if not ended or piece.rstrip().endswith(".") else f"{piece}.")
    kept.append(text[at:])
    return "".join(kept), tuple(units)


def _sentences(text: str) -> list[tuple[int, int]]:
    cuts = [(m.start(), m.end()) for m in _BOUNDARY.finditer(text)]
    starts = [0, *(end for _, end in cuts)]
    ends = [*(start for start, _ in cuts), len(text)]
    return list(zip(starts, ends, strict=True))


def _unit_named(word: str) -> str | None:
    """A symbol counts as written ("mN", not "MN"), a word in any case."""
    word = word.rstrip(".")
    if word in UNIT_WORDS.values():
        return word
    lower = word.lower()
    return UNIT_WORDS.get(lower) if lower in UNIT_WORDS and len(lower) > 3 else None
