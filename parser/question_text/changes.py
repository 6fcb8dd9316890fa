"""What a text says to change: "the distance is halved", "three times its charge"."""

from __future__ import annotations

import re

from parser.question_text.draft import Draft

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


def read_changes(draft: Draft, sentence: str) -> None:
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
