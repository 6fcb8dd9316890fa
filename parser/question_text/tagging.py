"""Running text with its quantities, bodies and points replaced by short tags.

A tag names what stands there: ``⟨C0⟩`` the first quantity, a charge; ``⟨b1⟩`` a mention of a
body; ``⟨g2⟩`` a mention of several bodies ("both spheres"); ``⟨p3⟩`` a point in space. The
phrase tables then match short, plain sentences: "⟨b0⟩ of ⟨C0⟩ is ⟨L1⟩ from ⟨b1⟩".
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field

from parser.quantity import DecimalMark, Found, canonical
from parser.question_text.vectors import find_with_vectors
from parser.worksheet import Quantity

LETTER_OF_UNIT = {
    "C": "C",
    "m": "L",
    "N": "N",
    "N/C": "E",
    "V/m": "E",
    "V": "V",
    "kg": "K",
    "s": "T",
    "m/s": "S",
    "m/s**2": "A",
    "N/kg": "A",
    "J": "J",
    "W": "W",
    "A": "I",
    "ohm": "R",
    "F": "F",
    "Hz": "H",
    "kg*m/s": "P",
    "N*s": "P",
    "rad": "G",
    "dimensionless": "X",
    "C/m": "D",
    "C/m**2": "Y",
    "m**2": "B",
    "m**3": "O",
    "K": "Z",
    "kg/m**3": "M",
    "N*m**2/C**2": "k",
    "J*s": "h",
    "N/m": "U",
}

NOUNS = (
    "alpha particle|spheres?|balls?|beads?|charges?|particles?|objects?|bod(?:y|ies)|rods?|cloths?"
    "|droplets?|drops?|balloons?|domes?|electrons?|protons?|neutrons?|ions?|nucle(?:us|i)|atoms?"
    "|bobs?|specks?|grains?|combs?|rulers?|discs?|disks?|fragments?|molecules?|pellets?|marbles?"
    "|bubbles?|positrons?|deuterons?|muons?|strips?|puck|stones?|knobs?|shells?"
    "|coins?|domes?|studs?"
    "|blobs?|pearls?|cubes?"
)
_STOP = (
    "of|is|are|was|were|on|in|at|and|with|from|to|by|for|has|have|had|carries|carry|carrying|be"
    "|that|which|who|when|where|if|it|they|them|then|as|so|or|what|how|does|do|exert|exerts|exerted"
    "|experience|experiences|between|due|placed|fixed|held|apart|separated|given|containing|having"
    "|find|calculate|determine|net|total|same|excess|than|per|after|before|near|through|into|its"
    "|the|an|each|every|both|these|those|all|this|magnitude|number|many|much|opposite|away|towards"
    "|must|can|will|would|could|should|there|electric|electrostatic|touches|touch|moves?|charge"
    "|moving|lies|carried|gains?|loses?|lost|gained|experienced|feels?|felt|whose"
    "|till|until|over|under|shows?"
    "|while|about|only|around|after|afterwards|whereas|since|because|every|any|some|no|more|fewer"
    "|holds?|bears?|touching|touched|repels?|attracts?|acts?|acting|causes?|gives?|hits?|strikes?"
    "|makes?|leaves?|left|reaches|collides|produces|creates|extra|surplus|missing"
    "|across|against|transfers?"
)
_ADJECTIVE = rf"(?!(?i:{_STOP})\b)[A-Za-z][a-z]+(?:-[a-z]+)*"
_ORDINALS = {"first": 0, "second": 1, "third": 2, "fourth": 3}
_NUMBER_WORDS = {"two": 2, "three": 3, "four": 4, "2": 2, "3": 3, "4": 4, "both": 2, "five": 5}
PARTICLES = {
    "electron": ("e", -1.0),
    "proton": ("p", 1.0),
    "neutron": ("n", 0.0),
    "positron": ("e", 1.0),
    "alpha particle": ("alpha", 2.0),
    "alpha-particle": ("alpha", 2.0),
    "deuteron": ("d", 1.0),
    "helium nucleus": ("alpha", 2.0),
    "α-particle": ("alpha", 2.0),
}
_CARRY = re.compile(
    r"\b(?:has|have|had|having|carry|carries|carrying|carried|with|bears?|bearing"
    r"|given|acquires?|gains?|holds?|holding"
    r"|possess(?:es)?|a total|the total|net|excess|initial|final|new|of|receives?"
    r"|picks? up|same|and(?=\s+charge))"
    r"(?: an?| the| its| their)?(?: (?:net|total|excess|initial|final|new|static"
    r"|electric|equal|identical|opposite))*\s*$",
    re.I,
)
_TAG = re.compile(r"⟨([A-Za-z])(\d+)⟩")
_EQUATION_NOTE = re.compile(r"⟨[A-Z]\d+⟩ ?= ?⟨[A-Z]\d+⟩")


@dataclass
class Mention:
    """One mention of a body, a point or several bodies; ``names`` are resolved names."""

    kind: str
    names: tuple[str, ...]
    new: bool = False
    plural_count: int | None = None
    noun: str = ""
    words: tuple[str, ...] = ()


@dataclass
class Bodies:
    """The bodies met so far in one question, in order of appearance."""

    names: list[str] = field(default_factory=list)
    nouns: dict[str, str] = field(default_factory=dict)
    points: list[str] = field(default_factory=list)
    last: str | None = None

    def add(self, name: str, noun: str = "") -> str:
        if name not in self.names:
            self.names.append(name)
            self.nouns[name] = noun
        self.last = name
        return name

    def fresh(self, noun: str) -> str:
        """A name for an unnamed body: its noun phrase, counted when there are several."""
        taken = [n for n in self.names if n == noun or n.startswith(noun + " ")]
        return noun if not taken else f"{noun} {len(taken) + 1}"


def letter_of(quantity: Quantity) -> str:
    """The tag letter of a quantity's dimension ("C" charge, "L" length ..., "u" unknown)."""
    return LETTER_OF_UNIT.get(quantity.unit, "u")


# --- quantities ------------------------------------------------------------------------

_LABEL_BEFORE = re.compile(
    r"(?:\b(?:fig(?:ure)?|example|table|equation|eq|question|problem|part|chapter"
    r"|section|page|step)\.?|"
    rf"\b(?:{NOUNS}|plate|resistor|capacitor|cell|trial|object|car|block|team"
    rf"|trolley)(?: (?:no|number)\.?)?)\s$",
    re.I,
)
_YEAR = re.compile(
    r"(?:\b(?:in|during|of|since|may|june|july|the|january|march|april|august) |, )$", re.I
)
_DATE = re.compile(
    r"\b(?:january|february|march|april|may|june|july|august|september|october"
    r"|november|december) $",
    re.I,
)
_JOIN = re.compile(r"^(?:, and |, | and | to | or |,)$")


def _is_label(text: str, found: Found) -> bool:
    quantity = found.quantity
    if quantity.unit != "dimensionless" or quantity.sign:
        return False
    before = text[: found.start]
    after = text[found.end :]
    if re.fullmatch(r"\d{4}", quantity.text) and 1500 < quantity.value < 2100:
        return bool(_YEAR.search(before))
    if _DATE.search(before) and quantity.value <= 31:
        return True
    if _LABEL_BEFORE.search(before) and float(quantity.value).is_integer() and quantity.value < 100:
        return not re.match(rf" (?:{NOUNS}|excess|electrons)", after)
    if re.search(r"\b(?:figure|fig\.|example|table) $", before, re.I):
        return True
    return bool(re.match(r"\s?(?:st|nd|rd|th)\b", after))


def _share_units(text: str, found: list[Found]) -> list[Found]:
    """ "20 and 20,000 Hz", "1.0, 5.0 and 8.0 µF": the unit belongs to every number."""
    shared = list(found)
    for index in range(len(shared) - 2, -1, -1):
        one, following = shared[index], shared[index + 1]
        if one.quantity.written_unit or not following.quantity.written_unit:
            continue
        if following.quantity.written_unit in ("percent",):
            continue
        if not _JOIN.match(text[one.end : following.start]):
            continue
        if re.search(r"= ?$", text[: one.start]) and one.quantity.value == 0:
            continue
        donor = following.quantity
        ratio = donor.value / donor.written_value if donor.written_value else 1.0
        quantity = Quantity(
            text=one.quantity.text,
            value=float(f"{one.quantity.written_value * ratio:.15g}"),
            unit=donor.unit,
            written_value=one.quantity.written_value,
            written_unit=donor.written_unit,
            sign=one.quantity.sign,
            mantissa=one.quantity.mantissa,
            exponent=one.quantity.exponent,
            prefix=donor.prefix,
            significant_figures=one.quantity.significant_figures,
            comma_unsettled=one.quantity.comma_unsettled,
        )
        shared[index] = Found(one.start, one.end, quantity, one.number_end)
    return shared


_NOTE_AFTER_NUMBER = re.compile(r"^ \($")


def _drop_repeats(text: str, found: list[Found]) -> list[Found]:
    """ "4.0 km/h (1.12 m/s)" is one quantity written twice; "1 hp = 746 W" is a conversion."""
    kept: list[Found] = []
    for one in found:
        last = kept[-1] if kept else None
        if last is not None and last.quantity.unit == one.quantity.unit != "dimensionless":
            between = text[last.end : one.start]
            close = abs(last.quantity.value - one.quantity.value) <= 0.02 * abs(one.quantity.value)
            other_unit = last.quantity.written_unit != one.quantity.written_unit
            if close and other_unit and between.strip() in ("(", "=", "(or", "or"):
                if between.strip() == "=" and last.quantity.written_value == 1:
                    kept.pop()
                continue
        kept.append(one)
    return kept


_UNIT_NOUNS = (
    r"(?:micro|nano|pico|milli|centi|kilo|mega)?(?:coulombs?|met(?:re|er)s?"
    r"|newtons?|volts?|seconds?|minutes?|hours?"
    r"|kilograms?|grams?|joules?|watts?|amperes?|amps?|ohms?|farads?)"
)
_WORD_NUMBERS = {
    "one": "1",
    "two": "2",
    "three": "3",
    "four": "4",
    "five": "5",
    "six": "6",
    "seven": "7",
    "eight": "8",
    "nine": "9",
    "ten": "10",
    "twelve": "12",
    "fifteen": "15",
    "twenty": "20",
    "thirty": "30",
    "forty": "40",
    "fifty": "50",
    "sixty": "60",
    "a hundred": "100",
    "half a": "0.5",
    "half an": "0.5",
    "a": "1",
    "an": "1",
    "a quarter of an": "0.25",
    "a quarter of a": "0.25",
}
_SPELT = re.compile(
    r"\b("
    + "|".join(sorted(_WORD_NUMBERS, key=len, reverse=True))
    + rf")[ -]({_UNIT_NOUNS})\b(?! (?:per|of charge))",
    re.I,
)
_LARGE = re.compile(r"(?<=\d) (thousand|million|billion)\b")
_POWERS = {"thousand": "×10^{3}", "million": "×10^{6}", "billion": "×10^{9}"}
_COUNT_WORDS = re.compile(
    r"(?:(?<=lost )|(?<=loses )|(?<=lose )|(?<=gained )|(?<=gains )|(?<=gain )"
    r"|(?<=missing )|(?<=removed )|(?<=has )|(?<=had )"
    r"|(?<=added )|(?<=carrying )|(?<=carries )|(?<=with ))"
    r"\b(two|three|four|five|six|eight|nine|ten|twelve|twenty)(?= (?:excess |extra "
    r"|surplus |missing |more |fewer )?(?:electrons?|protons?)\b)"
    r"|\b(two|three|four|five|six|eight|nine|ten|twelve|fifteen|eighteen|twenty"
    r"|thirty)(?= (?:complete |full |whole )?(?:waves|ripples|oscillations"
    r"|vibrations|cycles|crests)\b)",
    re.I,
)
_SPELT_COUNTS = _WORD_NUMBERS | {"eighteen": "18"}


_FEW_WORDS = {"2": "two", "3": "three", "4": "four", "5": "five"}
_FEW = re.compile(
    r"(?<![\d.,^{/×-])\b([2-5])(?= (?:(?:identical|equal|point|small|similar|metal|like|positive"
    r"|negative|conducting|charged) )*(?:charges|spheres|balls|beads|bodies|objects|particles"
    r"|resistors|capacitors|cells|lamps|bulbs)\b)"
)
_ABBREVIATIONS = re.compile(r"\b(?:e\.m\.f\.?|p\.d\.|i\.e\.|e\.g\.)(?= |,)")


# short forms that learners and teachers type
_SHORT_FORMS: tuple[tuple[re.Pattern[str], str], ...] = (
    (re.compile(r"\b[Cc]alc\b\.?"), "calculate"),
    (re.compile(r"\b[Dd]et\. "), "determine "),
    (re.compile(r"\b[Mm]ag\. "), "magnitude "),
    (re.compile(r"\bbtw\b"), "between"),
    (re.compile(r"\bresp\b\.?"), "respectively"),
    (re.compile(r" & "), " and "),
    (re.compile(r"\b([Ww]hat|[Ww]here)'s\b"), r"\1 is"),
    (re.compile(r"\bmicro-?C\b"), "µC"),
    (re.compile(r"\b(?:elementary|electronic|fundamental) charges\b"), "excess electrons"),
    (re.compile(r"(?<=[a-z])\.(?=[A-Z][a-z])"), ". "),
    (
        re.compile(
            r"\b([Tt]he) (positive|negative|smaller|larger|bigger|greater|weaker|stronger"
            r"|first|second|third|other) one\b(?! of)"
        ),
        r"\1 \2 charge",
    ),
    (
        re.compile(
            r"\b([Aa]|[Aa]nother) (second|third|further|smaller|larger|bigger) one\b(?! of)"
        ),
        r"\1 \2 charge",
    ),
    (re.compile(r"\b([Tt]he) [+] ?ve (charge)"), r"\1 positive \2"),
    (re.compile(r"\b([Tt]he) [-] ?ve (charge)"), r"\1 negative \2"),
)


def _numbers_in_words(text: str) -> str:
    """ "five microcoulombs", "250 million electrons", "half a minute" in figures."""
    for pattern, spelt in _SHORT_FORMS:
        text = pattern.sub(spelt, text)
    text = _ABBREVIATIONS.sub(lambda m: m.group().replace(".", ""), text)
    text = re.sub(r"1 ?/ ?\(? ?4 ?πε_\{0\} ?\)?", "k", text)
    text = re.sub(r"([x×] ?10)(\d{1,2})(?= ?N[ ·.]?m)", r"\1^{\2}", text)
    text = _LARGE.sub(lambda m: _POWERS[m.group(1)], text)
    text = _SPELT.sub(_spelt_number, text)
    text = re.sub(r"\b(?:every|each) (second|minute|hour)\b(?!')", r"in 1 \1", text)
    text = _FEW.sub(lambda m: _FEW_WORDS[m.group(1)], text)
    text = _COUNT_WORDS.sub(lambda m: _SPELT_COUNTS[(m.group(1) or m.group(2)).lower()], text)
    return text


def _spelt_number(match: re.Match[str]) -> str:
    word, unit = match.group(1).lower(), match.group(2)
    if word in ("a", "an", "one") and not re.search(
        r"\b(?:in|for|by|every|over|than|lasts?) $", match.string[: match.start()]
    ):
        return match.group()
    return f"{_WORD_NUMBERS[word]} {unit}"


def quantities_of(text: str, mark: DecimalMark | None) -> list[Found]:
    """The quantities of canonical question text: labels left out, shared units handed round."""
    found = [f for f in find_with_vectors(text, mark) if not _is_label(text, f)]
    return _drop_repeats(text, _share_units(text, found))


# --- names -----------------------------------------------------------------------------

_SUBSCRIPTED = r"(?<![A-Za-z])(?P<sub>[Qq]_?\{?(?:[0-9]{1,2}|[A-Za-z])\}?)(?![A-Za-z0-9])"
_NP = re.compile(
    rf"""
      (?P<det>\b(?i:an?|the|this|that|another|one|its|each|every)\s)?
      (?<![A-Za-z_{{^\\])
      (?P<adj>(?:(?:{_ADJECTIVE},?|⟨[A-Z]\d+⟩(?:[ -](?:diameter|radius|wide|long))?)\s){{0,5}}?)
      (?<![A-Za-z])(?P<noun>(?i:{NOUNS}))\b(?![- ](?:density|densities|distribution|carriers?)\b)
      (?:[,]?\s(?P<name>(?:[Qq]_\{{?\w+\}}?|[Qq]\d
        |[A-Z](?![A-Za-z]|\.[A-Za-z\d])|[xyzq](?=[ ,.;?(=]))(?:_?\{{?\d\}}?|'+)?))?
      (?:\s(?P<label>\d{{1,2}})(?!\d|[.,]\d|⟨))?
    | {_SUBSCRIPTED}
    | \b(?P<capital>(?<!⟨)[A-Z])(?P<cindex>_\{{?\d\}}?|\d|')?(?![A-Za-z⟩_'])
    | (?P<point>\b(?i:the\s|a\s|this\s|that\s)?(?i:mid-?\s?point|origin
        |cent(?:re|er)\sof\sthe\s(?:square|triangle|line|rectangle)
        |(?:fourth|third|remaining|empty|vacant|right-angled|top|last)\s(?:corner|vertex)
        |point(?!s|\s(?:charges?|particles?|objects?)))(?![a-z])(?:\s(?P<pname>[A-Z])\b)?
        |\bposition\s(?P<pname2>[A-Z])\b)
    """,
    re.X,
)
_VERB_AFTER = re.compile(
    r"\s(?:is|has|carries|and|exerts?|on|are|attracts?|repels?|with|from|to|due|at"
    r"|,|experiences?|bears|touches|will|after|lies|was)\b|\s?[,.;:?)(=]"
)


_RIGHT_ANGLE = re.compile(r"\bangle ([A-Z]|[A-Z]{3})(?: is| =| of|,)+ ?⟨G(\d+)⟩")


class Tagger:
    """Tags the segments of one question in order, remembering the bodies it has met."""

    def __init__(self, mark: DecimalMark | None, whole_text: str) -> None:
        self.mark = mark
        self.bodies = Bodies()
        self.quantities: list[Found] = []
        self.mentions: list[Mention] = []
        self.dropped: set[int] = set()
        self.declared = _declared_capitals(canonical(whole_text))
        self.subscripted = set(re.findall(r"\b[Qq]_?\{?\d\}?", canonical(whole_text)))
        self.strangers: list[str] = []
        self._starts: list[int] = []

    def tag(self, text: str, offset: int = 0) -> str:
        """The tagged, lower-case form of one stretch of canonical text."""
        text = _numbers_in_words(text)
        found = quantities_of(text, self.mark)
        pieces, at = [], 0
        for one in found:
            index = len(self.quantities)
            quantity = one.quantity
            self.quantities.append(
                Found(one.start + offset, one.end + offset, quantity, one.number_end + offset)
            )
            pieces += [text[at : one.start], f"⟨{letter_of(quantity)}{index}⟩"]
            at = one.end
        pieces.append(text[at:])
        flat = "".join(pieces)
        flat = re.sub(r"\s+", " ", flat)
        flat = _EQUATION_NOTE.sub("", flat) if "hp" in flat else flat
        flat = self._split_pairs(flat)
        flat = _RIGHT_ANGLE.sub(self._right_angle, flat)
        flat = _SHARED_NOUN.sub(r"\2 of \1", flat)
        flat = _TWO_OF_A_NOUN.sub(r"a \3 of \1 and a \3 of \2", flat)
        flat = _SETTING.sub(lambda m: m.group().replace(" ", "_"), flat)
        self._starts = []
        flat = _NP.sub(self._replace, flat)
        return _lower(flat)

    def _split_pairs(self, text: str) -> str:
        """ "AB = ⟨L0⟩" -> "distance A to B = ⟨L0⟩" for declared names."""

        def spread(match: re.Match[str]) -> str:
            first, second = match.group(1), match.group(2)
            if first in self.declared and second in self.declared:
                return f"length {first} to {second}"
            return match.group()

        return re.sub(r"\b([A-Z])([A-Z])\b(?= ?(?:=|is|and|⟨L|\)|,|\.| ))", spread, text)

    def _right_angle(self, match: re.Match[str]) -> str:
        """ "angle APB = 90°" -> "right angle at P"."""
        value = self.quantities[int(match.group(2))].quantity.value
        corner = match.group(1)
        middle = corner[len(corner) // 2]
        if abs(value - math.pi / 2) > 1e-3 or middle not in self.declared:
            return match.group()
        return f"right angle at {middle}"

    def _replace(self, match: re.Match[str]) -> str:
        before = len(self.mentions)
        replaced = self._mention(match)
        if len(self.mentions) > before and self.mentions[before].kind != "p":
            self._starts.append(match.start())
        if len(self.mentions) > before:
            words = tuple((match.groupdict().get("adj") or "").lower().replace(",", "").split())
            for mention in self.mentions[before:]:
                mention.words = words
        return replaced

    def _body_before(self, text: str) -> bool:
        """Whether the sentence that ``text`` ends in has named a body already."""
        start = max((m.end() for m in re.finditer(r"[.?!;](?:\s|$)", text)), default=0)
        return any(start <= s < len(text) for s in self._starts)

    def _mention(self, match: re.Match[str]) -> str:
        part = match.groupdict()
        if part["point"]:
            name = part["pname"] or part["pname2"]
            word = match.group().strip()
            resolved = name or re.sub(
                r"^(?:the|a|this|that) ", "", word.lower().replace("\u00a0", " ")
            )
            resolved = "midpoint" if "mid" in resolved else resolved
            resolved = "centre" if resolved.startswith("cent") else resolved
            resolved = "corner" if re.search("corner|vertex", resolved) else resolved
            if name and name in self.bodies.names:
                return self._put(Mention("b", (name,)))
            if resolved not in self.bodies.points:
                self.bodies.points.append(resolved)
            return self._put(Mention("p", (resolved,)))
        if part["sub"]:
            return self._put(Mention("b", (self.bodies.add(_tidy(part["sub"]), "charge"),)))
        if part["capital"]:
            return self._capital(match, part["capital"] + (part["cindex"] or ""))
        return self._noun_phrase(match)

    def _capital(self, match: re.Match[str], name: str) -> str:
        letter = match.group("capital")
        text = match.string
        if name not in self.declared and letter not in self.declared:
            return match.group()
        starts_sentence = re.search(r"(?:^|[.?!:]\s|\n)$", text[: match.start()]) is not None
        if letter in "AI" and starts_sentence and not _VERB_AFTER.match(text, match.end()):
            return match.group()
        name = _tidy(name)
        if name in self.bodies.points:
            return self._put(Mention("p", (name,)))
        return self._put(Mention("b", (self.bodies.add(name),)))

    def _noun_phrase(self, match: re.Match[str]) -> str:
        part = match.groupdict()
        text = match.string
        noun = part["noun"].lower()
        det = (part["det"] or "").strip().lower()
        adjectives = part["adj"] or ""
        name = part["name"]
        before, after = text[: match.start()], text[match.end() :]
        if (
            name
            and name == name.lower()
            and name[0] in "xyz"
            and not after.startswith((" of", " (", " =", " is", " and", ",", "."))
        ):
            name = None
        head = _singular(noun)
        plural = noun in ("bodies", "nuclei") or (noun.endswith("s") and noun != "nucleus")
        tags = [f"⟨{m.group(1)}{m.group(2)}⟩" for m in _TAG.finditer(adjectives)]
        words = re.sub(r"⟨[A-Z]\d+⟩(?:[ -](?:diameter|radius|wide|long))?", "", adjectives).split()
        words = [w.strip(",").lower() for w in words]
        if (
            head == "charge"
            and not name
            and not part["label"]
            and self._is_amount(before, after, det, words, tags, plural)
        ):
            return match.group()
        if head == "bob" and not det and not words:
            return match.group()
        if head in ("electron", "proton", "neutron") and any(t[1] == "X" for t in tags):
            return match.group()
        if (
            head in ("electron", "proton", "neutron")
            and plural
            and not name
            and not _counted(words, before)
            and not re.match(r"[^.?]{0,40}⟨L\d+⟩ apart", after)
        ):
            return match.group()
        embedded = "".join(" of " + self._labelled(t, adjectives) for t in tags)
        if plural:
            return self._group(head, words, embedded, before, name, part["label"], match)
        return self._single(
            head, det, words, tags, embedded, name, part["label"], after, match.group()
        )

    def _labelled(self, tag: str, adjectives: str) -> str:
        after = adjectives.split(tag, 1)[1]
        word = re.match(r"[ -](diameter|radius)", after)
        return f"{word.group(1)} {tag}" if word else tag

    def _is_amount(
        self, before: str, after: str, det: str, words: list[str], tags: list[str], plural: bool
    ) -> bool:
        """Whether "charge" is an amount here and not a body."""
        if (
            det in ("a", "an", "another")
            and re.match(r" of ⟨C", after)
            and re.search(
                r"\b(?:of|from|to|near|above|below|beside|on|by) (?:an?|another) $",
                before + det + " ",
            )
        ):
            return False
        if (
            det in ("a", "an")
            and re.search(
                r"(?:\b[A-Z]|\}|\b(?:sphere|ball|bead|one|other|particle)(?: [A-Z\d])?) $", before
            )
            and self._body_before(before)
        ):
            return True
        if re.search(
            r"\b(?:giv(?:e|es|en|ing)|leav(?:e|es|ing)) (?:it|them|each)(?: with)? (?:an? )?$",
            before + (det + " " if det else ""),
        ):
            return True
        if re.match(
            r" (?:is|was) (?:given|transferred|added|put on|placed on|passed|moved) ", after
        ):
            return True
        if "point" in words or "test" in words:
            return False
        if any(t[1] == "C" for t in tags):
            return (
                bool(_CARRY.search(before + (det + " " if det else "")) or _CARRY.search(before))
                and not re.search(
                    r"\b(?:to|of|from)(?: an?| the)? $", before + (det + " " if det else "")
                )
                and self._body_before(before)
            )
        if re.match(
            r"(?: (?:on|stored|carried|density|transferred|of each|is transferred|flows"
            r"|passes|moves|at)\b)",
            after,
        ):
            return not (det in ("a", "an", "another", "third") and re.match(r" at\b", after))
        if _CARRY.search(before + (det + " " if det else "")):
            return True
        if (
            det in ("a", "an", "another", "one", "each", "this")
            or _ordinal(words) is not None
            or "other" in words
        ):
            return bool(det == "each" and re.match(r" (?:on|of)\b", after))
        if plural:
            return (
                bool(re.match(r" of ⟨C", after))
                and self._body_before(before)
                or bool(re.match(r" (?:on|are equal)", after))
            )
        if det == "the":
            pair = len(self.bodies.names) >= 2
            chosen = {"positive", "negative"} & set(words) or set(words) & _COMPARED.keys()
            if pair and chosen and not re.match(r" (?:on|of|carried|stored|that)\b", after):
                return False
            if re.match(r" of(?: the| each| an?)? (?!⟨)", after):
                return True
            if {"net", "total", "new", "final", "initial", "unknown", "magnitude", "stored"} & set(
                words
            ):
                return True
            return not any(self.bodies.nouns.get(n) in ("charge", "") for n in self.bodies.names)
        if re.match(r" ?(?:=|of ⟨C|is ⟨C|⟨C|\()", after) and not words:
            return self._body_before(before)
        return (
            not words
            or bool({"positive", "negative"} & set(words))
            and not re.match(r" of ⟨C", after)
        )

    def _single(
        self,
        head: str,
        det: str,
        words: list[str],
        tags: list[str],
        embedded: str,
        name: str | None,
        label: str | None,
        after: str,
        raw: str,
    ) -> str:
        if det in ("each", "every") and not name:
            return self._put(Mention("g", tuple(self.bodies.names), noun=head))
        alike = [n for n in self.bodies.names if self.bodies.nouns.get(n) == head]
        if det == "one" and not name and not tags and len(alike) >= 2:
            return raw
        if name:
            return self._put(Mention("b", (self.bodies.add(_tidy(name), head),))) + embedded
        if label:
            return self._put(Mention("b", (self.bodies.add(f"{head} {label}", head),))) + embedded
        if det == "the" and set(words) & _POSITIONAL:
            return raw
        if (
            det in ("the", "each", "")
            and set(words) & _COMPARED.keys()
            and len(self.bodies.names) >= 2
        ):
            which = next(_COMPARED[w] for w in words if w in _COMPARED)
            return self._put(Mention("b", (f"@{which}",))) + embedded
        if det in ("the", "this", "that", "its", ""):
            known = self._known(head, words, tags)
            fresh = [n for n in self.bodies.names if self.bodies.nouns.get(n) == head]
            if det in ("this", "that") and fresh and not words and not tags:
                known = fresh[-1]
            signed = _SIGNED.keys() & set(words)
            if det == "the" and signed and len(self.bodies.names) >= 2 and not tags:
                return self._put(Mention("b", (_SIGNED[signed.pop()],))) + embedded
            if known is not None:
                self.bodies.last = known
                if any(t[1] == "C" for t in tags):
                    self.dropped.update(int(t[2:-1]) for t in tags if t[1] == "C")
                    embedded = "".join(f" of {t}" for t in tags if t[1] != "C")
                return self._put(Mention("b", (known,))) + embedded
        if not self.bodies.names and (
            {"second", "third", "other"} & set(words) or det == "another"
        ):
            self.strangers.append(head)
        phrase = " ".join([*(w for w in words if w not in _PLAIN), head])
        return (
            self._put(Mention("b", (self.bodies.add(self.bodies.fresh(phrase), head),), new=True))
            + embedded
        )

    def _known(self, head: str, words: list[str], tags: list[str]) -> str | None:
        """The body that "the smaller sphere", "the second charge", "the -2 nC charge" means."""
        names = self.bodies.names
        for tag in tags:
            if tag[1] != "C":
                continue
            value = self.quantities[int(tag[2:-1])].quantity.value
            for index, earlier in enumerate(self.quantities[: int(tag[2:-1])]):
                if (
                    index not in self.dropped
                    and earlier.quantity.unit == "C"
                    and abs(earlier.quantity.value - value) <= 1e-9 * abs(value)
                ):
                    return f"@{index}"
            return None
        same = [n for n in names if self.bodies.nouns.get(n) == head]
        ordinal = _ordinal(words)
        if ordinal is not None:
            pool = same or names
            return pool[ordinal] if ordinal < len(pool) else None
        if "other" in words and len(names) == 2 and self.bodies.last in names:
            return names[1 - names.index(self.bodies.last)]
        described = [
            n for n in same if words and all(w in n.split() for w in words if w not in _PLAIN)
        ]
        exact = " ".join([*(w for w in words if w not in _PLAIN), head])
        if exact in names:
            return exact
        if described and [w for w in words if w not in _PLAIN]:
            return described[0]
        if [w for w in words if w not in _PLAIN and w not in _PASSING]:
            return None
        if same:
            return self.bodies.last if self.bodies.last in same else same[-1]
        return None

    def _group(
        self,
        head: str,
        words: list[str],
        embedded: str,
        before: str,
        name: str | None,
        label: str | None,
        match: re.Match[str],
    ) -> str:
        count = next((_NUMBER_WORDS[w] for w in words if w in _NUMBER_WORDS), None)
        if count is None:
            word = re.search(r"\b(two|three|four|both)\b[^.⟨]{0,30}$", before.lower())
            count = _NUMBER_WORDS[word.group(1)] if word else None
        if count is None:
            count = _corners(match.string[match.end() :])
        noun = " ".join([*(w for w in words if w not in _PLAIN and w not in _NUMBER_WORDS), head])
        if name or label:
            first = _tidy(name) if name else f"{head} {label}"
            tail = " " + self._put(Mention("b", (self.bodies.add(first, head),)))
            if label:
                self._expect_labels(head, match.string[match.end() :])
            return self._put(Mention("g", (), plural_count=count, noun=head)) + embedded + tail
        after = match.string[match.end() :]
        if _LIST_FOLLOWS.match(after) or re.match(
            rf"^[^.;?]{{0,40}}?[,(:] ?(?:{head}|charge) (?:[A-Z]|\d)\b", after
        ):
            return self._put(Mention("g", (), plural_count=count, noun=head)) + embedded
        listed = re.match(r"(?: of|:)? ?((?:⟨C\d+⟩(?:,? and |, )?){2,})", after)
        if listed and not [n for n in self.bodies.names if self.bodies.nouns.get(n) == head]:
            count = len(_TAG.findall(listed.group(1)))
            if re.match(
                r"[^.⟨]{0,40}\b(?:at|on) (?:the )?(?:points?|positions?|corners?|vertices"
                r"|spheres?)? ?[A-Z]\b",
                after[listed.end() :],
            ):
                return self._put(Mention("g", (), plural_count=count, noun=head)) + embedded
        definite = re.match(r"(?:the|these|those)\b", match.group(), re.I) or re.search(
            r"\b(?:the|these|those) $", before, re.I
        )
        if {"neutral", "uncharged"} & set(words) and definite and len(self.bodies.names) >= 3:
            neutrals = Mention("g", ("@neutrals",), plural_count=count, noun=head)
            return self._put(neutrals) + embedded
        names = self._members(head, noun, count, after)
        return self._put(Mention("g", names, plural_count=count, noun=head)) + embedded

    def _members(self, head: str, noun: str, count: int | None, after: str) -> tuple[str, ...]:
        """The bodies a plural means: those met before, or as many new ones as it counts."""
        known = [n for n in self.bodies.names if self.bodies.nouns.get(n) == head]
        if len(known) < 2:
            known = list(self.bodies.names)
        if len(known) >= 2 and (count is None or len(known) >= count):
            return tuple(known if count is None else known[:count])
        if known and count is None:
            return tuple(known)
        if count is None and head == "charge" and not re.match(r" (?:of )?⟨C", after):
            return ()
        wanted = count or 2
        if not known and max(len(self.subscripted), len(self.declared)) >= wanted:
            return ()
        return tuple(self.bodies.add(f"{noun} {index + 1}", head) for index in range(wanted))

    def _expect_labels(self, head: str, after: str) -> None:
        """ "spheres 1 and 2": the second number is a name too."""
        for label in re.findall(r"^(?:,? ?(?:and|,) ?(\d)(?![\d.⟨]))", after):
            self.bodies.add(f"{head} {label}", head)

    def _put(self, mention: Mention) -> str:
        self.mentions.append(mention)
        return f"⟨{mention.kind}{len(self.mentions) - 1}⟩"


_LIST_FOLLOWS = re.compile(
    r"^[ ,(:]*(?:(?:called|named|labell?ed|marked|that is|carrying charges"
    r"|with charges|of charges?|having charges"
    r"|have charges|namely) )?(?:[Qq]_?\{?\d|[Qq]_\{|[A-Z](?:_\{?\d\}?)?\b(?! [a-z]+ [a-z]+ is))"
)
_PLAIN = frozenset(
    [
        "small",
        "tiny",
        "identical",
        "similar",
        "equal",
        "conducting",
        "metal",
        "metallic",
        "insulated",
        "insulating",
        "light",
        "two",
        "three",
        "four",
        "charged",
        "uncharged",
        "neutral",
        "point",
        "positive",
        "negative",
        "fixed",
        "free",
        "isolated",
        "single",
        "same",
        "the",
        "both",
        "these",
        "those",
        "positively",
        "negatively",
        "electric",
        "unknown",
        "spherical",
        "stationary",
        "second",
        "third",
        "first",
        "fourth",
        "other",
        "test",
        "little",
        "typical",
        "very",
        "initially",
        "oppositely",
        "a",
        "an",
        "and",
        "given",
        "only",
        "of",
        "its",
        "like",
    ]
)
_PASSING = frozenset(
    [
        "positive",
        "negative",
        "charged",
        "moving",
        "falling",
        "suspended",
        "resulting",
        "new",
        "whole",
        "whole",
    ]
)


_POSITIONAL = frozenset(
    [
        "middle",
        "central",
        "centre",
        "center",
        "end",
        "outer",
        "left",
        "right",
        "leftmost",
        "rightmost",
        "last",
        "remaining",
    ]
)
_SIGNED = {
    "positive": "@positive",
    "negative": "@negative",
    "positively": "@positive",
    "negatively": "@negative",
    "charged": "@charged",
    "neutral": "@neutral",
    "uncharged": "@neutral",
}
_COMPARED = {
    "smaller": "smaller",
    "larger": "larger",
    "bigger": "larger",
    "greater": "larger",
    "weaker": "smaller",
    "stronger": "larger",
}


def _corners(after: str) -> int | None:
    """How many bodies "at three corners of", "at the corners of a square" means."""
    named = re.match(
        r"[^.;]{0,60}?\bat (?:each of )?(?:the )?(two|three|four) (?:corners|vertices|points)\b",
        after,
    )
    if named:
        return _NUMBER_WORDS[named.group(1)]
    shape = re.match(
        r"[^.;]{0,60}?\b(?:corners|vertices) of an? (square|rectangle|equilateral|triangle|right)",
        after,
    )
    if shape:
        return 4 if shape.group(1) in ("square", "rectangle") else 3
    return None


def _singular(noun: str) -> str:
    odd = {"bodies": "body", "nuclei": "nucleus", "nucleus": "nucleus"}
    return odd.get(noun, noun.removesuffix("s"))


def _ordinal(words: list[str]) -> int | None:
    return next((_ORDINALS[w] for w in words if w in _ORDINALS), None)


def _counted(words: list[str], before: str) -> bool:
    """ "two electrons" (few, as bodies) against "250 electrons" (an amount)."""
    return (
        bool({"two", "three", "both", "four"} & set(words))
        and "missing" not in words
        and "excess" not in words
        and "extra" not in words
    )


def _tidy(name: str) -> str:
    """ "Q1", "Q_1", "Q_{1}" are one name."""
    match = re.fullmatch(r"([A-Za-z])_?\{?(\w+)\}?", name)
    return f"{match.group(1)}_{{{match.group(2)}}}" if match else name


def _lower(tagged: str) -> str:
    """Lower case outside the tags."""
    parts = re.split(r"(⟨[A-Za-z]\d+⟩)", tagged)
    return "".join(p if i % 2 else p.lower() for i, p in enumerate(parts))


# "in a hydrogen atom", "of a gold atom": the setting, no body that acts
_SETTING = re.compile(
    r"\b(?:in|of|inside) (?:an?|the) (?:[a-z]+ )?(?:atom|nucleus"
    r"|molecule)\b(?! (?:of|with|is|at)\b)"
)
_SHARED_NOUN = re.compile(
    r"((?:⟨C\d+⟩, )*⟨C\d+⟩,? and (?:an? )?⟨C\d+⟩) ((?:point )?(?:charges|spheres"
    r"|particles|beads|balls))\b"
)


_TWO_OF_A_NOUN = re.compile(
    r"\ban? (⟨C\d+⟩),? and (?:an? )?(⟨C\d+⟩) ((?:point )?(?:charge|sphere|particle|bead|ball))\b"
)


def _declared_capitals(text: str) -> set[str]:
    """Capital letters that the text uses as names of bodies or points."""
    declared: set[str] = set()
    plain = re.sub(r"\d[\d.,]*\s?[pnµmkM]?[A-Z](?![a-z])", "", text)
    for match in re.finditer(
        rf"\b(?:{NOUNS}|[Pp]oints?|[Cc]orners?|[Pp]lates?|[Ll]abell?ed|[Pp]osition"
        rf"|called|named|[Bb]locks?|[Cc]arts?|[Tt]rolleys?|[Cc]ars?)\s([A-Z])(?![a-z])",
        plain,
        re.I,
    ):
        if match.group(1).isupper():
            declared.add(match.group(1))
    for match in re.finditer(
        r"(?<![A-Za-z⟨])([A-Z](?:, ?[A-Z])*,? (?:and|to|or) [A-Z])(?![A-Za-z])", plain
    ):
        letters = re.findall(r"\b[A-Z]\b", match.group(1))
        if len(set(letters)) == len(letters):
            declared.update(letters)
    for match in re.finditer(
        r"(?:^|[.?!;]\s)([A-Z]),? (?:with a|which|carrying|having|carries a|has a)\b", plain
    ):
        declared.add(match.group(1))
    for match in re.finditer(r"(?<![A-Za-z])([A-Z]) ?\((?:[+-]|\d|charge)", plain):
        declared.add(match.group(1))
    for match in re.finditer(r"\b(?:triangle|square|line|rectangle) ([A-Z]{2,4})\b", plain):
        declared.update(match.group(1))
    for match in re.finditer(
        r"\b(?:on|from|of|to|by|than|at) ([B-HJ-Z])(?=[\s,.;?)])(?! ?[=⟨])", plain
    ):
        declared.add(match.group(1))
    for match in re.finditer(
        r"(?<![A-Za-z])([A-Z]) ?= ?[+-]? ?\d[\d.,]*(?: ?[×x] ?10\^?\{?-?\d+\}?)? ?[pnµm]?C\b", text
    ):
        declared.add(match.group(1))
    units = {"N", "J", "W", "V", "F", "C", "T", "K"}
    firm = {
        c
        for c in declared & units
        if re.search(
            rf"(?:{NOUNS}|point|corner|block|plate)s?,? {c}\b|\b[A-Z],? and {c}\b"
            rf"|\b{c}(?:, [A-Z])*,? and [A-Z]\b|\b{c} ?\(",
            plain,
            re.I,
        )
    }
    return declared - {"I"} - (units - firm - {"C", "T", "K"})
