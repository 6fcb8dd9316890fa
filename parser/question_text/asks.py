"""What a question wants: asks found in tagged sentences."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import replace

from parser.question_text.cues import (
    ASK_STARTS,
    ASK_TABLE,
    FOLLOW_UP,
    NOT_NUMERIC,
    NOT_NUMERIC_ANYWHERE,
    STATEMENT_OF_STATE,
    UNIT_WORDS,
)
from parser.question_text.draft import Draft
from parser.worksheet import Asked, Wants

_SENTENCE_END = re.compile(r"(?<=[.?!;:])(?<!e\.g\.)(?<!i\.e\.)(?<!\be\.)\s+|\n+")
_UNIT = re.compile(
    r"\bin ("
    + "|".join(sorted(map(re.escape, UNIT_WORDS), key=len, reverse=True))
    + r")(?:\s+and (?:in )?("
    + "|".join(sorted(map(re.escape, UNIT_WORDS), key=len, reverse=True))
    + r"))?(?![a-z/])"
)
_CONDITION = re.compile(
    r"\b(?:what|how|calculate|find|determine|compute|by what|at what|where|in what"
    r"|with what|over what|to what|hence)\b"
)
_RATIO = re.compile(
    r"by what factor|\bcompare\b|what factor|factor by which|\bratio\b"
    r"|how many times|in terms of|percentage change"
    r"|what happens to the (?:magnitude of the )?(?:\w+ ){0,2}(?:force|field)"
    r"|how does the (?:\w+ )?(?:force|field)[^.?]*change|how will (?:the"
    r"|this) (?:\w+ )?(?:force|field) change|by what percentage"
    r"|how much (?:stronger|weaker|larger|smaller|greater)|compare\b"
    r"|times (?:stronger|larger|greater|weaker)|multiple of|as a fraction"
    r"|what fraction"
)


def sentences(tags: str) -> Iterator[str]:
    """The sentences of a tagged text."""
    for piece in _SENTENCE_END.split(tags):
        if piece and piece.strip(" .;:"):
            yield piece.strip()


def split_sentence(sentence: str) -> tuple[str, str]:
    """(statement, ask): the condition or story of a sentence, and what it asks ("" when none)."""
    starts = list(ASK_STARTS.finditer(sentence))
    plain = re.search(r"\b(?:you|we) can (calculate|find|determine) the\b", sentence)
    if plain:
        return "", sentence[plain.start(1) :]
    for match in starts:
        before = sentence[: match.start()].rstrip()
        if match.group().startswith("show") and re.search(r"\bto$", before):
            continue
        if (
            not before
            or before.endswith(
                (
                    ",",
                    ":",
                    ";",
                    ")",
                    "-",
                    "/",
                    "and",
                    "then",
                    "hence",
                    "now",
                    "so",
                    "to",
                    "is",
                    "this",
                    "from",
                    "part",
                )
            )
            or re.fullmatch(
                r"(?:\(?[a-h1-9]+[).] ?|also|hence|now|then|so|therefore|using [^,]*|by [^,]*"
                r"|and|thus|next|finally|again|please|first|suppose|in|for|with|through|over|at"
                r"|to|on|hence or otherwise)+(?:[ ,])*",
                before,
            )
        ):
            if (
                match.group() == "how"
                and re.match(r"how (?:they|the|it|you) ", sentence[match.start() :])
                and before
            ):
                continue
            if (
                match.group() in ("what", "where", "how")
                and before
                and re.search(r"\b(?:is|this|from|so)$", before)
                and not before.endswith(",")
            ) and not re.search(r"\b(?:at|in|on|over|to|with|through|by|from|is)$", before):
                continue
            if (
                match.group() == "where"
                and before
                and not re.match(
                    r"where (?:must|can|should|is|will|on|along|would|could|between|does|do)\b",
                    sentence[match.start() :],
                )
            ):
                continue
            lead = re.search(r"(?:\b(?:at|in|on|over|to|with|through|by|from)\s*)$", before)
            cut = lead.start() if lead else match.start()
            return sentence[:cut].strip(), sentence[cut:].strip()
    if starts and sentence.endswith("?"):
        match = starts[0]
        return sentence[: match.start()].strip(), sentence[match.start() :].strip()
    plain = re.search(
        r"\b(?:can (?:calculate|find)|to (?:calculate|find|determine)) the\b", sentence
    )
    if plain and not starts:
        return "", sentence[plain.start() :]
    return sentence, ""


def is_numeric(ask: str) -> bool:
    """False for explain, define, draw, state and yes-no parts."""
    if STATEMENT_OF_STATE.match(ask) and not NOT_NUMERIC_ANYWHERE.search(ask):
        return True
    return not (NOT_NUMERIC.match(ask) or NOT_NUMERIC_ANYWHERE.search(ask))


def follows_up(sentence: str) -> Wants | None:
    """What "Give its direction too" or "Give only the magnitude" adds to the ask before it."""
    if not FOLLOW_UP.match(sentence):
        return None
    return "vector" if "direction" in sentence else "magnitude"


def non_numeric_request(sentence: str) -> bool:
    """A sentence that asks for words, a drawing or a yes or no."""
    return bool(NOT_NUMERIC.match(sentence)) and not STATEMENT_OF_STATE.match(sentence)


_AND_ASKS = re.compile(
    r"(?:,|;)? (?:and|and also|as well as) (?:also |hence |then |thus )*"
    r"(?=(?:(?:in|at|by|with|over|to|through) )?(?:what|how|which|where)\b|calculate\b|find\b"
    r"|determine\b|compute\b|work out\b|state (?:the|its)\b|give (?:the|its)\b)"
)
_WAY_ASKED = re.compile(
    r"^(?:(?:in|to|towards) )?(?:what|which) (?:direction|way|side)\b|^(?:state|give|find"
    r"|calculate|determine|what is) (?:the |its |their )?directions?\b|^(?:in )?which direction"
)


def read_asks(draft: Draft, ask: str, plain: Callable[[str], str]) -> list[Asked]:
    """The asks of one sentence: every request that "and" joins is read by itself.

    A request that is not understood stands as an ask of kind "unknown", so that it can be
    told apart from those that are.
    """
    found: list[Asked] = []
    for request in _AND_ASKS.split(ask):
        if found and _WAY_ASKED.match(request):
            found[-1] = replace(found[-1], wants="vector")
            continue
        if found and not is_numeric(request):
            continue
        one = _read_request(draft, request, plain(request))
        if not one and found:
            one = [Asked("unknown", stage=draft.stage, text=plain(request))]
        found += one
    return found


def _read_request(draft: Draft, ask: str, text: str) -> list[Asked]:
    """The asks of one request; empty when its words were not understood."""
    ratio = _RATIO.search(ask)
    kinds = _kinds(ask, ratio) or _kind_of_it(draft, ask)
    found: list[Asked] = []
    for kind, _place, end in kinds:
        rest = ask[end:]
        of, due_to = _bodies(draft, ask, rest, kind)
        wants = _wants(ask)
        if wants == "count" and not kind.endswith("count"):
            wants = "value"
        at = _where(draft, ask)
        unit = _unit(ask)
        stage = (
            0
            if re.search(r"\b(?:before|initial(?:ly)?|originally)\b", ask[: end + 60])
            and draft.stage
            and not re.search(r"final|after|new", ask)
            else draft.stage
        )
        one = Asked(kind, of, due_to, wants, unit[0] if unit else None, at, stage, text)
        if ratio and wants != "show":
            one = Asked(kind, of, due_to, "ratio", None, at, stage, text)
        found += _spread(draft, one, ask)
        if unit and len(unit) > 1:
            found.append(Asked(kind, of, due_to, wants, unit[1], at, stage, text))
    return found


_IT = re.compile(
    r"\bwhat (?:would|will|does|is|was) (?:it|this|that)\b(?: now)? ?"
    r"(?:be\b|become\b|now\b|[?.]|$)"
    r"|\bwhat it (?:becomes|is now|will be|would be)\b"
)
_NAMED_BY_IT = frozenset(
    ["force", "field", "capacitance", "potential", "kinetic_energy", "acceleration", "current"]
)


def _kind_of_it(draft: Draft, ask: str) -> list[tuple[str, int, int]]:
    """ "What would it be if ...?": the quantity that was given last, when it can be told."""
    it = _IT.search(ask)
    named = [g.kind for g in draft.givens if g.kind in _NAMED_BY_IT]
    return [(named[-1], it.start(), it.end())] if it and len(set(named)) == 1 else []


def _wants(ask: str) -> Wants:
    if re.match(r"(?:hence,? )?show\b", ask):
        return "show"
    if re.search(
        r"\b(?:magnitude|strength|size|how strong|how large"
        r"|value) and (?:the )?(?:\w+ )?direction|direction and (?:the )?(?:magnitude"
        r"|strength)|in (?:what|which) direction|(?:state|give|include|and"
        r"|indicate) (?:its |the |a )?direction",
        ask,
    ):
        return "vector"
    if re.search(r"how many|number of", ask):
        return "count"
    if re.match(r"(?:hence,? )?where\b|position\b", ask) or re.search(
        r"at (?:what|which) (?:point|position|distance)[^.]*(?:zero|vanish)", ask
    ):
        return "position"
    if re.search(r"sign (?:of|and)|nature of the charge", ask) and not re.search(r"magnitude", ask):
        return "sign"
    if re.search(r"\bmagnitudes?\b|\bstrength\b|how strong|how large|\bsize\b", ask):
        return "magnitude"
    return "value"


_SYMBOL_KINDS = {
    "f": "force",
    "e": "field",
    "r": "distance",
    "q": "charge",
    "a": "acceleration",
    "v": "voltage",
    "d": "distance",
    "i": "current",
    "p": "power",
    "w": "work",
    "t": "time",
    "n": "electron_count",
    "m": "mass",
    "s": "distance",
}
_JOINED = re.compile(
    r"^(?:,? in \w+(?: \w+)?,?|[^.?,;]{0,60}?)?,? (?:and|and also|as well as)(?: \w+){0,4} ?$"
)


def _kinds(ask: str, ratio: re.Match[str] | None) -> list[tuple[str, int, int]]:
    """(kind, start, end) of each thing wanted, in order."""
    if re.search(r"kinetic and (?:gravitational )?potential energ", ask):
        place = ask.index("kinetic and")
        return [("kinetic_energy", place, place + 7), ("potential_energy", place, place + 30)]
    if re.search(r"charge and (?:the )?energy stored", ask):
        place = ask.index("charge and")
        return [("charge", place, place + 6), ("energy", place, place + 24)]
    if re.match(
        r"what can (?:you|be) sa(?:y|id) about (?:the (?:two )?)?(?:charges|⟨[bg]\d+⟩)", ask
    ):
        return [("charge", 0, 0)]
    hits: list[tuple[int, int, str]] = []
    taken: list[tuple[int, int]] = []
    for pattern, kind in ASK_TABLE:
        for match in pattern.finditer(ask):
            if all(match.end() <= a or match.start() >= b for a, b in taken):
                hits.append((match.start(), match.end(), kind))
                taken.append((match.start(), match.end()))
    hits.sort()
    first = re.match(
        r"(?:\(?[a-h]\) )?(?:hence,? )?what (?:magnitude |size |positive |negative "
        r"|excess |net |single |point |test )*(⟨b\d+⟩|charge)(?!\w)",
        ask,
    )
    if first and not re.search(r"charge (?:is |must be )?(?:transferred|passes|flows)", ask):
        return [("charge", 0, first.end())]
    hits = [h for h in hits if not _is_modifier(ask, h)] or (hits if ratio else [])
    if re.match(r"(?:what|how) (?:far apart)", ask):
        hits = [h for h in hits if h[2] in ("separation", "distance")] or hits
    if not hits:
        if re.search(
            r"how (?:big|large|great|strong) (?:is|are|was|were) (?:each|both|they)\b", ask
        ):
            return [("charge", 0, len(ask))]
        if re.search(r"\bthe other(?: charge| one)?(?:\?|\.|$)", ask) or re.search(
            r"(?:magnitude|size|value) of (?:the )?(?:charge on )?⟨g\d+⟩", ask
        ):
            return [("charge", 0, len(ask))]
        named = re.match(
            r"(?:what is |find |calculate |determine |the |value of "
            r"|magnitude of )*(⟨b\d+⟩) ?[.?,]?",
            ask,
        )
        if named:
            return [("charge", 0, named.start(1))]
        how_big = re.search(r"how (?:big|large|small|much) (?:is|are) (⟨b\d+⟩)", ask)
        if how_big:
            return [("charge", 0, how_big.start(1))]
        letter = re.match(
            r"(?:hence |then )?(?:calculate|find|determine|what is|evaluate"
            r"|work out) (?:the (?:value|magnitude"
            r"|size) of )?([a-z])\b(?:_\{\w+\})?\s*[.?]?$",
            ask,
        )
        if letter and letter.group(1) in _SYMBOL_KINDS:
            return [(_SYMBOL_KINDS[letter.group(1)], 0, letter.end(1))]
        if re.search(r"what can you say about ⟨g\d+⟩", ask) or re.search(r"what can you say", ask):
            return [("charge", 0, 0)]
        return []
    out = [(hits[0][2], hits[0][0], hits[0][1])]
    for previous, hit in zip(hits, hits[1:], strict=False):
        between = ask[previous[1] : hit[0]]
        if re.search(
            r"\b(?:and) (?:hence |then )?(?:calculate|find|determine|what)\b", between
        ) or (
            _JOINED.match(between)
            and not re.search(
                r"\b(?:if|when|between|from|given|using|because|ratio|sum|product|difference)\b",
                between,
            )
        ):
            out.append((hit[2], hit[0], hit[1]))
        else:
            break
    return out


def _is_modifier(ask: str, hit: tuple[int, int, str]) -> bool:
    """Words such as "the force on the charge": the charge is not what is asked."""
    before = ask[: hit[0]]
    if re.search(
        r"\b(?:on|by|from|due to|between|of|in|to|with|through|at|if|when|using|for"
        r"|against|reach|same|has|under|into) (?:(?:a|an|the|this|that|each|its|these"
        r"|two|both|such|uniform|point|test|unknown|electric|given|\w+) ){0,3}$",
        before,
    ) and re.search(
        r"\b(?:force|field|charge|electrons?|energy|potential|voltage|work|acceleration"
        r"|speed|velocity|distance|far|mass|time|long|current|power|frequency"
        r"|wavelength|ratio|factor|magnitude|momentum|resistance|capacitance"
        r"|temperature|impulse|period|strong|number|density|separation|how fast|height"
        r"|weight|tension)\b",
        before,
    ):
        return not re.search(
            r"\b(?:magnitude|value|size|strength|direction|sign|ratio|amount|change|number"
            r"|how much|increase|factor|maximum|minimum|component|sum)s? (?:(?:and"
            r"|or) \w+ )?(?:of|in)(?: (?:the|this|each|its|a|an|\w+)){0,4} $",
            before,
        ) or bool(
            re.search(
                r"\b(?:force|field|energy|potential|speed|acceleration|work|mass|distance"
                r"|charge)\b[^.]*\b(?:on|by|from|due to|between|against|in|at|through|if|when"
                r"|has)\b[^.]*$",
                before,
            )
        )
    return False


def _bodies(draft: Draft, ask: str, rest: str, kind: str) -> tuple[str | None, tuple[str, ...]]:
    """(of, due to): "on A due to B", "that B exerts on A", "between A and B"."""
    one, many = r"⟨b(\d+)⟩", r"((?:⟨[bg]\d+⟩(?:,? and |, )?)+)"

    def names(tags: str) -> tuple[str, ...]:
        found: list[str] = []
        for letter, index in re.findall(r"⟨([bg])(\d+)⟩", tags):
            found += draft.names(int(index)) if letter == "g" else [draft.name(int(index))]
        return tuple(dict.fromkeys(n for n in found if n))

    of: str | None = None
    due: tuple[str, ...] = ()
    match = re.search(
        rf"{one} exerts? (?:an? \w+ force )?on {one}|(?:does|do|that"
        rf"|which) (?:the )?{one} exerts? (?:an? \w+ force )?on {one}",
        ask,
    )
    if match:
        pair = [g for g in match.groups() if g]
        return draft.name(int(pair[1])), (draft.name(int(pair[0])),)
    match = re.search(rf"do(?:es)? {many}(?:together )?exert(?:s)? on {one}", ask)
    if match:
        return draft.name(int(match.group(2))), names(match.group(1))
    match = re.search(rf"(?:of|by|from) {many}(?:acting )?on {one}", ask)
    if match:
        return draft.name(int(match.group(2))), names(match.group(1))
    match = re.search(rf"between (?:the )?{many}", ask)
    on = re.search(r"\bon ⟨b", ask)
    if match and on and on.start() < match.start():
        match = None
    if match and kind in (
        "force",
        "separation",
        "distance",
        "potential_energy",
        "voltage",
        "energy",
    ):
        pair_names = names(match.group(1))
        if len(pair_names) >= 2:
            return None, pair_names[:2]
    match = re.search(
        rf"(?:due to|caused by|created by|produced by|exerted by|from the|because of"
        rf"|set up by|as a result of|by) (?:only |the charges? |both )*{many}",
        ask,
    )
    if match:
        due = names(match.group(1))
    match = (
        re.search(
            rf"(?:exerted |acting |acts |experienced |felt )?(?:on|experienced by"
            rf"|felt by) (?:each of )?(?:the )?(?:charges? )?{one}",
            rest,
        )
        or re.search(rf"(?:experienced|felt) by {one}", ask)
        or re.search(rf"(?:will|does|would|that) {one} (?:experience|feel)", ask)
    )
    if match:
        of = draft.name(int(match.group(1)))
    else:
        match = re.match(
            rf"(?: [a-z]+){{0,5}}? (?:of|for|has|on|does|must|will|would|is"
            rf"|to) (?:the )?(?:\w+ )?{one}",
            rest,
        ) or re.match(rf" ?{one}", rest)
        if match and draft.name(int(match.group(1))) not in due:
            of = draft.name(int(match.group(1)))
        else:
            match = re.search(
                rf"(?:far|long|fast|charge|speed|what) (?:\w+ )?(?:does|will|must|is|should"
                rf"|would|did|do|has) {one}",
                ask,
            )
            if match:
                of = draft.name(int(match.group(1)))
    placed = re.search(r"charge (?:placed |located |situated )?at (?:the )?⟨[bp](\d+)⟩", ask)
    if placed and kind in ("force", "net_force"):
        of = _standing_at(draft, draft.name(int(placed.group(1))))
    if of is None and kind == "charge":
        inside = re.search(r"⟨b(\d+)⟩", ask)
        if inside and draft.name(int(inside.group(1))) not in due:
            of = draft.name(int(inside.group(1)))
    if of in due:
        due = tuple(n for n in due if n != of)
    return of, due


def _standing_at(draft: Draft, place: str) -> str | None:
    """The body that stands at a named place."""
    if place in draft.bodies:
        return place
    if place == "origin":
        return next(
            (f.bodies[0] for f in draft.facts if f.name == "at" and f.get("x") == 0 == f.get("y")),
            None,
        )
    return None


def _where(draft: Draft, ask: str) -> str | None:
    found = re.findall(r"⟨p(\d+)⟩", ask)
    if found:
        names = [draft.name(int(i)) for i in found]
        spot = re.search(r"\bat ⟨p(\d+)⟩(?! of)", ask)
        if spot:
            return draft.name(int(spot.group(1)))
        return next((n for n in names if n != "point"), names[0])
    if re.search(r"mid-?way|half[- ]?way", ask):
        return "midpoint"
    at = re.search(r"\bat (?:the (?:position|location|place) of )?⟨b(\d+)⟩", ask)
    if at is None and re.search(r"\bthere\b|at (?:this|that) (?:point|place|position)", ask):
        return "there"
    return draft.name(int(at.group(1))) if at else None


def _unit(ask: str) -> tuple[str, ...]:
    match = _UNIT.search(ask)
    if match is None:
        how_many = re.search(
            r"how many (coulombs|joules|volts|newtons|metres|seconds|minutes|hours)\b", ask
        )
        return (
            (UNIT_WORDS[how_many.group(1)],) if how_many and how_many.group(1) in UNIT_WORDS else ()
        )
    return tuple(UNIT_WORDS[g] for g in match.groups() if g)


def _spread(draft: Draft, one: Asked, ask: str) -> list[Asked]:
    """ "the charge on each sphere" is one ask; "the charges on A, B and C" are three."""
    listed = re.search(
        r"\b(?:on|of|for|carried by|does|do) (?:each of )?(?:⟨g\d+⟩ )?"
        r"((?:⟨b\d+⟩(?:,? and |, ?)?){2,})",
        ask,
    )
    if one.kind in ("charge", "electron_count") and one.wants != "ratio" and listed:
        names = [draft.name(int(i)) for i in re.findall(r"⟨b(\d+)⟩", listed.group(1))]
        names = [n for n in dict.fromkeys(names) if n]
        if len(names) >= 2 and one.of in (None, *names):
            return [replace(one, of=name) for name in names]
    each = re.search(r"\beach\b|\bboth\b", ask) or re.search(r"⟨g(\d+)⟩", ask)
    if (
        one.kind == "charge"
        and one.of is None
        and each
        and len(draft.bodies) >= 2
        and one.wants != "ratio"
    ):
        return [Asked(one.kind, None, one.due_to, one.wants, one.unit, one.at, one.stage, one.text)]
    return [one]
