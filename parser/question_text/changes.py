"""What a text says to change, and how many times one thing is another.

Every phrase with a factor ("halved", "three times its charge", "a third of the original
distance") is either taken as a change, as a comparison of two charges, or as a place on a
line. One that is none of these leaves the fact ``unread-change``: the question is then not
solved, since the words would have changed the result.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from parser.question_text.draft import B, Draft, bodies_in

_VERBS = {
    "halv": 0.5,
    "doubl": 2.0,
    "trebl": 3.0,
    "tripl": 3.0,
    "quadrupl": 4.0,
    "quarter": 0.25,
    "twice": 2.0,
    "thrice": 3.0,
}
_CARDINALS = {
    "one": 1.0,
    "a": 1.0,
    "two": 2.0,
    "three": 3.0,
    "four": 4.0,
    "five": 5.0,
    "six": 6.0,
    "seven": 7.0,
    "eight": 8.0,
    "nine": 9.0,
    "ten": 10.0,
    "twelve": 12.0,
    "sixteen": 16.0,
    "twenty": 20.0,
    "hundred": 100.0,
    "a hundred": 100.0,
}
_PARTS = {
    "half": 2.0,
    "halve": 2.0,
    "third": 3.0,
    "quarter": 4.0,
    "fourth": 4.0,
    "fifth": 5.0,
    "sixth": 6.0,
    "eighth": 8.0,
    "ninth": 9.0,
    "tenth": 10.0,
}
_NUMBER = (
    r"⟨X\d+⟩|\b(?:two|three|four|five|six|seven|eight|nine|ten|twelve|sixteen|twenty|a hundred)\b"
)
_PHRASE = re.compile(
    rf"(?P<verb>\b(?:halved?|halves|halving|doubl(?:e[sd]?|ing)|trebl(?:e[sd]?|ing)"
    rf"|tripl(?:e[sd]?|ing)|quadrupl(?:e[sd]?|ing)|quartered|twice|thrice)\b)"
    rf"|(?P<fold>\b(?:two|three|four|five|six|eight|nine|ten)-?fold\b)"
    rf"|(?P<times>{_NUMBER})[ -]times\b"
    rf"|\bfactor of (?P<factor>{_NUMBER})"
    rf"|\b(?:(?P<count>one|a|two|three)[- ])?(?P<part>half|third|quarter|fourth|fifth|sixth|eighth"
    rf"|ninth|tenth)s?\b"
    rf"|(?P<fraction>\\frac\{{\d+\}}\{{\d+\}})"
    rf"|\bby (?P<percent>⟨X\d+⟩)"
)
# a part is a number only where "of", "the", "its" or the end of a change follows
_PART_AFTER = re.compile(
    r" (?:of|the|its|their|that|this|what|as|their|original)\b|[ ,]*[.,;?!]|$|,| and\b"
)
_NOT_A_FACTOR = re.compile(r"(?:number of|how many|what|at all|at other|rubbed|several|many) $")
_ON_THE_WAY = re.compile(r"^[- ]?(?:of the )?(?:way|distance (?:from|between)|line|path|road|time)")
_STEPS = re.compile(r"(?:rubbed|struck|wiped|stroked|passed|repeated)\b[^.⟨]{0,12}$")
_SYMBOL_CHANGE = re.compile(
    r"(?:becomes?|changed to|increased? to|reduced? to|decreased? to|is now|are now"
    r"|moved to|to|now) (?:a distance (?:of )?)?(?:⟨X(\d+)⟩ ?"
    r"|\\frac\{(\d)\}\{(\d)\} ?)([drx])\b|(?:becomes?|to|now) ([drx]) ?/ ?⟨X(\d+)⟩"
)
# the question itself asks for the factor, or compares it
_FACTOR_ASKED = re.compile(
    r"by what (?:factor|number)|what factor|factor by which|what happens to|how many times"
    r"|what multiple|what fraction"
)


@dataclass(frozen=True)
class _Phrase:
    start: int
    end: int
    value: float
    kind: str


_EXCHANGE = re.compile(r"\b(?:replaced|swapped|interchanged|exchanged|reversed|instead)\b(?! of)")


def read_changes(draft: Draft, sentence: str, news: int) -> None:
    """ "the distance is halved and one charge doubled", "increased by a factor of three".

    ``news`` is how many givens, replacements and particles the sentence has brought already.
    """
    scaled = sum(1 for f in draft.facts if f.name in ("scaled", "times-charge"))
    _read_phrases(draft, sentence)
    changes = sum(1 for f in draft.facts if f.name in ("scaled", "times-charge")) - scaled
    exchange = _EXCHANGE.search(sentence)
    if exchange and not news and not (changes and exchange.group() == "instead"):
        draft.add_fact("unread-change", (), words=exchange.group())


def _read_phrases(draft: Draft, sentence: str) -> None:
    taken: list[tuple[int, int]] = []
    for match in _SYMBOL_CHANGE.finditer(sentence):
        whole, top, bottom, _, _, part = match.groups()
        if whole or part:
            value = draft.tagger.quantities[int(whole or part)].quantity.value
            factor = value if whole else 1 / value
        else:
            factor = int(top) / int(bottom)
        draft.add_fact("scaled", (), thing="distance", factor=factor)
        taken.append(match.span())
    for phrase in _phrases(draft, sentence):
        if any(a < phrase.end and phrase.start < b for a, b in taken):
            continue
        if not _is_read(draft, sentence, phrase):
            draft.add_fact("unread-change", (), words=sentence[phrase.start : phrase.end])


def _phrases(draft: Draft, sentence: str) -> list[_Phrase]:
    found: list[_Phrase] = []
    for match in _PHRASE.finditer(sentence):
        before, after = sentence[: match.start()], sentence[match.end() :]
        part = match.groupdict()
        kind = match.lastgroup or ""
        if _NOT_A_FACTOR.search(before) and kind in ("part", "times"):
            continue
        value = 0.0
        if part["verb"]:
            word = part["verb"]
            value = next(v for stem, v in _VERBS.items() if word.startswith(stem))
            kind = "verb"
            if word in ("double", "triple", "quadruple", "twice", "thrice"):
                kind = "times"
        elif part["fold"]:
            value = _CARDINALS[part["fold"].removesuffix("fold").rstrip("-")]
            kind = "factor"
        elif part["times"]:
            value = _number(draft, part["times"])
            kind = "times"
            if _STEPS.search(before) or re.match(r" (?:with|on|against|per|a)\b", after):
                continue
        elif part["factor"]:
            value = _number(draft, part["factor"])
            kind = "factor"
        elif part["percent"]:
            if not _is_percent(draft, part["percent"]):
                continue
            value, kind = _number(draft, part["percent"]), "percent"
        elif part["part"]:
            if not part["count"] and part["part"] != "half":
                continue
            if re.match(rf" (?:⟨|(?:\w+ )?{B})", after) and not re.match(r" (?:of|the|its)", after):
                continue
            if not _PART_AFTER.match(after) and not re.match(r"[- ]?way", after):
                continue
            value = _CARDINALS[part["count"] or "one"] / _PARTS[part["part"]]
            kind = "part"
        else:
            numbers = re.findall(r"\d+", part["fraction"] or "")
            value = int(numbers[0]) / int(numbers[1])
            kind = "part"
            if not re.match(r" (?:of|the|its)\b", after):
                continue
        found.append(_Phrase(match.start(), match.end(), value, kind))
    return found


def _number(draft: Draft, words: str) -> float:
    tag = re.match(r"⟨X(\d+)⟩", words)
    return draft.tagger.quantities[int(tag.group(1))].quantity.value if tag else _CARDINALS[words]


def _is_percent(draft: Draft, words: str) -> bool:
    tag = re.match(r"⟨X(\d+)⟩", words)
    assert tag is not None
    return draft.tagger.quantities[int(tag.group(1))].quantity.written_unit == "percent"


def _is_read(draft: Draft, sentence: str, phrase: _Phrase) -> bool:
    """Take a phrase as a place, a comparison or a change; False when it is none."""
    before, after = sentence[: phrase.start], sentence[phrase.end :]
    if re.match(r"[- ]?way\b", after) or _ON_THE_WAY.match(after.lstrip()):
        return True
    if re.search(r"\b(?:radius|size|diameter)\b", after[:25]):
        return True  # the fact ``unlike-sizes`` stands for it
    if _compares_charges(draft, before, after, phrase):
        return True
    factor = _factor(before, after, phrase)
    if factor is None:
        return False
    thing, bodies = _thing(draft, sentence, phrase)
    if thing is None or (thing.endswith("charge") and _PASSED_ON.search(after)):
        return False
    if phrase.kind == "times" and not _is_change(before, after):
        return False
    draft.add_fact("scaled", bodies, thing=thing, factor=factor)
    if phrase.kind == "percent":
        tag = re.search(r"⟨X(\d+)⟩", sentence[phrase.start : phrase.end])
        assert tag is not None
        text = draft.tagger.quantities[int(tag.group(1))].quantity.text
        draft.add_fact("scaled-given", (), text=text)
    return True


# "half of its charge is moved to the other": a transfer, not a change of scale
_PASSED_ON = re.compile(
    r"\b(?:moved|transferred|passed|given|removed|taken|flows?|passes)\b[^.;]*\b(?:to|from|onto)\b"
)
_LESS = re.compile(r"\b(?:decreas|reduc|lessen|lower|shrink|shrunk|cut|divid|diminish|weaken)\w*")
_SMALLER = re.compile(r"^ (?:smaller|closer|nearer|less|lower|shorter|weaker)\b")


def _factor(before: str, after: str, phrase: _Phrase) -> float | None:
    """What a phrase multiplies by: "reduced by a factor of 3", "by a third", "3 times less"."""
    clause = re.split(r"[.;,]|\band (?!⟨)|\bwhile\b", before)[-1]
    less = bool(_LESS.search(clause))
    if phrase.kind == "percent":
        if re.search(r"increas|grow|rais", clause):
            return 1 + phrase.value
        return 1 - phrase.value if less else None
    if phrase.kind == "factor":
        return 1 / phrase.value if less and phrase.value > 1 else phrase.value
    if phrase.kind == "times":
        return 1 / phrase.value if _SMALLER.match(after) or less else phrase.value
    if phrase.kind == "part" and re.search(r"\bby $", before):
        if less:
            return 1 - phrase.value
        return 1 + phrase.value if re.search(r"increas|grow|rais", clause) else None
    return phrase.value


_CHANGING = re.compile(
    r"\b(?:increas|decreas|reduc|enlarg|multipl|chang|ma[dk]e|becom|becam|mov|grow|rais|cut|drop"
    r"|fall|fell|brought|bring|shr[iu]nk|adjust|set|widen|stretch|lower|discharg|charged|scal|put"
    r"|plac|taken|pulled|push|new|now|instead|would|were|if|replac|has its|have their|"
    r"separated|transferr)\w*\b"
)


def _is_change(before: str, after: str) -> bool:
    clause = re.split(r"[.;]", before)[-1]
    return bool(
        _CHANGING.search(clause)
        or re.match(
            r" (?:(?:as (?:great|large|far|big|strong)|its|their|the|this|that|larger|bigger"
            r"|greater|smaller|further|farther|closer|of)\b[^.;]{0,30})?"
            r"\b(?:original|initial|previous|former|first|before|old|earlier|was)\b",
            after,
        )
    )


_THINGS: tuple[tuple[re.Pattern[str], str], ...] = tuple(
    (re.compile(words), name)
    for words, name in (
        (r"\b(?:distance|separation|gap|spacing|apart|distances)\b", "distance"),
        (r"\bforce\b", "force"),
        (r"\bfield\b", "field"),
        (r"potential difference|\bvoltage\b|\bp\.?d\b", "voltage"),
        (r"\bspeed\b|\bvelocity\b", "speed"),
        (r"\bmass\b", "mass"),
        (r"\barea\b", "area"),
        (r"\bcapacitance\b", "capacitance"),
        (r"\bfrequency\b", "frequency"),
        (r"\bwavelength\b", "wavelength"),
        (r"\bresistance\b", "resistance"),
        (r"\bcurrent\b", "current"),
        (r"\b(?:both|each)\b|\bcharges are\b|⟨g\d+⟩", "both-charges"),
        (r"\bcharge\b|⟨b\d+⟩|\bone of\b", "one-charge"),
    )
)
_NOUN_AFTER = re.compile(
    r"^(?: (?:as|of|the|their|its|this|that|each|original|initial|previous|former|first|old|new"
    r"|earlier|large|great|present|much|big|plate))*"
    r" (?P<noun>distance|separation|gap|spacing|charges?|force|field|voltage|potential difference"
    r"|mass|speed|velocity|area|capacitance|far apart|apart|far|frequency|wavelength|value|amount"
    r"|current|resistance)\b"
)
_OF_NOUN = {
    "distance": "distance",
    "separation": "distance",
    "gap": "distance",
    "spacing": "distance",
    "far apart": "distance",
    "apart": "distance",
    "far": "distance",
    "charge": "one-charge",
    "charges": "both-charges",
    "potential difference": "voltage",
    "velocity": "speed",
}


def _thing(draft: Draft, sentence: str, phrase: _Phrase) -> tuple[str | None, tuple[str, ...]]:
    """What a change is about: the noun right after it, else the first one in its clause."""
    before, after = sentence[: phrase.start], sentence[phrase.end :]
    noun = _NOUN_AFTER.match(after)
    clause = re.split(r"[.;,]|\band (?!⟨)|\bif\b|\bwhile\b|\bwith\b", before)[-1]
    thing: str | None = None
    if noun and noun.group("noun") not in ("value", "amount"):
        thing = _OF_NOUN.get(noun.group("noun"), noun.group("noun"))
        if thing == "one-charge" and re.search(
            r"\b(?:both|each|their)\b|⟨g\d+⟩", clause + after[:20]
        ):
            thing = "both-charges"
    if thing is None:
        thing = _first_thing(clause, before)
    if thing == "one-charge" and re.search(r"⟨b\d+⟩,? and (?:the )?⟨b\d+⟩", clause):
        thing = "both-charges"
    bodies: tuple[str, ...] = ()
    if thing == "one-charge":
        bodies = tuple(bodies_in(draft, clause)[-1:])
    return thing, bodies


def _first_thing(clause: str, before: str) -> str | None:
    if re.search(r"\bone (?:of the |of )?(?:charge|⟨[bg]\d+⟩)", clause):
        return "one-charge"
    found = [(m.start(), name) for pattern, name in _THINGS for m in pattern.finditer(clause)]
    if not found and re.search(r"\b(?:both|each)\b", before):
        return "both-charges"
    both = any(name == "both-charges" for _, name in found)
    nearest = min(found, default=(0, ""))[1]
    if nearest == "one-charge" and both:
        return "both-charges"
    if not nearest:
        earlier = re.split(r"[.;]", before)[-1]
        names = [(m.start(), n) for p, n in _THINGS[:-2] for m in p.finditer(earlier)]
        nearest = max(names, default=(0, ""))[1] if re.search(r"\bit\b", clause) else ""
    return nearest or None


# --- one charge against another ------------------------------------------------------------

_RELATIVE_SUBJECT = re.compile(
    rf"(?:{B}|(?P<other>\bthe other\b|\banother\b|\bone\b))"
    r"(?: of (?:charge|them|which|these|⟨g\d+⟩)| that| which|,)*"
    r"(?: is| has| carries| carrying| having| with| bears| holds| of| was| charged to| a| charge"
    r"| charge of| an| whose charge is| being| the charge on it is)* $"
)
_THAT_OF = (
    r"^ (?:(?:as|the|that|this|its|size|of|great|large|strong|big|much|magnitude|value|charge"
    r"|charged|greater|larger|bigger|than|on|more|amount|same|sign|\(|but|and|with|opposite"
    r"|one|smaller)\b ?)*"
)
_RELATIVE_NAMED = re.compile(rf"{_THAT_OF}?(?P<what>{B}|the first|the other|the second)")
_RELATIVE_OBJECT = re.compile(rf"{_THAT_OF}(?P<what>{B})?")


def _compares_charges(draft: Draft, before: str, after: str, phrase: _Phrase) -> bool:
    """ "B carries three times as much charge as A": one charge by another."""
    if phrase.kind not in ("times", "part"):
        return False
    clause = re.split(r"[.;]", before)[-1]
    subject = _RELATIVE_SUBJECT.search(clause)
    found = _RELATIVE_NAMED.match(after) or _RELATIVE_OBJECT.match(after)
    if subject is None or found is None:
        return False
    about_charge = "charge" in found.group() or "charge" in subject.group() or found.group("what")
    if re.search(r"\b(?:original|initial|previous|its|their)\b", after[:28]) or not about_charge:
        return False
    names = draft.bodies
    body = draft.name(int(subject.group(1))) if subject.group(1) else ""
    what = re.match(B, found.group("what") or "")
    other = draft.name(int(what.group(1))) if what else ""
    if other.startswith("@") or body.startswith("@"):
        return False
    if body and not other:
        rest = [n for n in names if n != body]
        other = rest[0] if len(rest) == 1 else ""
    if not body and not other:
        return bool(re.search(r"\bother\b", after[:40]))  # the fact ``charge-ratio``
    if not body:
        rest = [n for n in names if n != other]
        body = rest[0] if len(rest) == 1 else ""
    if not body or not other or body == other:
        return False
    near = after[:60]
    factor = 1 / phrase.value if re.match(r" (?:smaller|less)", after) else phrase.value
    if re.search(r"opposite|unlike|negative of", near):
        factor = -factor
    draft.add_fact("times-charge", (body, other), factor=factor)
    return True
