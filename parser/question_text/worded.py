"""What words say without a number: neutral, attracted, at rest, in series."""

from __future__ import annotations

import re

from parser.question_text.cues import FACT_TABLE
from parser.question_text.draft import LIST, B, Draft, bodies_in


def read_mentions(draft: Draft, sentence: str) -> None:
    """ "two neutral spheres", "an uncharged ball": no charge at the start."""
    for index in re.findall(r"⟨[bg](\d+)⟩", sentence):
        mention = draft.tagger.mentions[int(index)]
        met = draft.names(int(index))
        if len(met) == 1 and {"negative", "negatively", "positive", "positively"} & set(
            mention.words
        ):
            negative = bool({"negative", "negatively"} & set(mention.words))
            draft.add_fact("sign", met, negative="yes" if negative else "no")
        if "charged" in mention.words:
            draft.add_fact("electric")
        if "equally" in mention.words or {"equal", "charges"} <= {
            *mention.words,
            mention.noun + "s",
        }:
            draft.add_fact("equal-charges")
        if {"neutral", "uncharged"} & set(mention.words):
            for name in draft.names(int(index)):
                if name and not any(g.of == name and g.kind == "charge" for g in draft.givens):
                    draft.add_fact("uncharged", (name,))
    for match in re.finditer(
        rf"{B} is (positive|negative)(?:ly charged)?\b(?! or)(?![^.?]*\?)", sentence
    ):
        draft.add_fact(
            "sign",
            (draft.name(int(match.group(1))),),
            negative="yes" if match.group(2) == "negative" else "no",
        )
    for match in re.finditer(
        rf"unknown charge (?:is |was )?(?:given|placed|put|transferred|added) (?:to|on) {B}",
        sentence,
    ):
        name = draft.name(int(match.group(1)))
        draft.facts = [
            f for f in draft.facts if not (f.name == "uncharged" and f.bodies == (name,))
        ]


def read_worded_facts(draft: Draft, sentence: str) -> None:
    for pattern, name in FACT_TABLE:
        if name == "contact":
            continue
        if pattern.search(sentence):
            draft.add_fact(name)
    _worded_facts(draft, sentence)
    if re.search(r"parallel[- ]plate|parallel (?:\w+ )?plates|plates", sentence):
        draft.add_fact("plates")
    if re.search(r"\buncharged\b|\bneutral\b|\bno (?:net )?charge\b", sentence):
        owner = re.search(
            rf"{B}(?:, | (?:is|was|are|which is|initially"
            rf"|that is))*[^⟨.]{{0,25}}\b(?:uncharged|neutral)",
            sentence,
        )
        for name in draft.bodies:
            if re.search(r"\b(?:uncharged|neutral)\b", name):
                draft.add_fact("uncharged", (name,))
        index = _worded_neutral(draft, sentence)
        rest = re.search(
            r"\b(?:others?|other (?:two|three|one|\w+s)|rest|remaining \w+)\b[^.⟨]{0,20}"
            r"\b(?:uncharged|neutral|no (?:net )?charge)",
            sentence,
        )
        alike = re.match(
            rf"({LIST}{{1,}}) ?(?:are|is|were|was) (?:both |all )?(?:\w+ ){{0,2}}?"
            rf"(?:identical|similar|equal)(?: in size)? (?:to|with) {B}[^⟨.]{{0,12}}"
            rf"\b(?:uncharged|neutral)",
            sentence,
        )
        if rest:
            charged = {g.of for g in draft.givens if g.kind == "charge"}
            for name in draft.bodies:
                if name not in charged:
                    draft.add_fact("uncharged", (name,))
        elif alike:
            for name in bodies_in(draft, alike.group(1)):
                draft.add_fact("uncharged", (name,))
        elif index:
            draft.add_fact("uncharged", (index,))
        elif listed := re.search(
            rf"({LIST}{{2,}})(?:,? ?(?:are|were|is|both|initially|all|which"
            rf"|that))*[^⟨.]{{0,20}}\b(?:uncharged|neutral)",
            sentence,
        ):
            for name in bodies_in(draft, listed.group(1)):
                draft.add_fact("uncharged", (name,))
        elif owner:
            draft.add_fact("uncharged", (draft.name(int(owner.group(1))),))
        else:
            draft.add_fact("uncharged")


_WORDED_FACTS: tuple[tuple[str, str], ...] = (
    (r"left to right|from the left", "left-to-right"),
    (
        r"equal (?:positive |negative |point )?charges|equally charged"
        r"|charges? of (?:the same|equal) (?:size|magnitude)|identical(?:ly)? charge"
        r"|same charge|equal charge|each (?:carry|carrying|carries|having|has|with"
        r"|of) (?:a |the same |an equal "
        r"|an unknown )?charge(?: of)?(?: magnitude)? ?(?:⟨b\d+⟩|q\b)",
        "equal-charges",
    ),
    (
        r"\b(?:unknown|different|unequal) sizes?\b|not identical|different radi"
        r"|twice the (?:radius|size)",
        "unlike-sizes",
    ),
    (r"closer together|brought closer|nearer", "closer"),
    (r"charge|electrostatic|coulomb|electric f", "electric"),
    (
        r"(?:electric |net |resultant |total )*field(?: strength)?[^.,;]{0,80}?\b(?:is"
        r"|be|equal to|equals|becomes|are) (?:zero|nil|⟨X\d+⟩\b)|zero (?:net "
        r"|resultant |electric )*field|field[^.;]{0,20}\b(?:vanish|cancel)|no (?:net "
        r"|resultant |electric )*field\b|\b(?:neutral|null) point"
        r"|field(?: strength)? (?:zero|nil)\b",
        "zero-field",
    ),
    (r"on the side away|beyond", "beyond"),
    (
        r"half[- ]?way|mid-?way|midpoint|mid-point|quarter of the way|third of the way",
        "part-of-way",
    ),
    (
        r"\b(?:insulating|plastic|non-?conducting) (?:\w+ )?"
        r"(?:spheres?|balls?|beads?|bodies|objects?)\b"
        r"|\binsulators\b|\bmade of (?:plastic|glass|rubber)\b",
        "insulating",
    ),
    (r"\bhangs?\b|suspended (?:from|by)|\bpendulum\b|\bthread\b", "hangs"),
    (r"\bpan\b|\bbalance pan\b|\bscale\b", "scale-pan"),
    (
        r"can you make|possible (?:total |combined )?(?:capacitances|resistances)|can be made",
        "either-way",
    ),
    (r"\blight\b(?! (?:insulat|string|thread|pan|rope|cord))", "light"),
)


_WORDED_FACT_TABLE = tuple((re.compile(p), n) for p, n in _WORDED_FACTS)


_ZERO_FORCE = re.compile(
    r"(?:no|zero|a zero)(?: net| resultant| total)?(?: electrostatic"
    r"| electric)? force|(?:net|resultant"
    r"|total)(?: \w+){0,2} force[^.;?]{0,60}?\b(?:is|be|equal to|equals"
    r"|becomes) (?:zero|nil)|\bequilibrium\b"
)


_TIMES_OTHER = re.compile(
    r"\bone(?: of (?:which|them|⟨g\d+⟩))?(?: charge)? (?:is|has|being|carries"
    r"|carrying)[^.;⟨]{0,20}?(twice|three|four|five|nine"
    r"|⟨X(\d+)⟩)(?: times)?[^.;]{0,30}\bother\b"
)


def _worded_facts(draft: Draft, sentence: str) -> None:
    for word, name in (("attract", "attraction"), ("repel", "repulsion"), ("repuls", "repulsion")):
        if (
            word in sentence
            and len(draft.bodies) == 2
            and not re.search(rf"(?:\?|whether|or) [^.]*{word}|{word}\w* or", sentence)
        ):
            draft.add_fact(name, tuple(draft.bodies))
    if "⟨C" in sentence or "charge" in draft.tagger.bodies.nouns.values():
        draft.add_fact("electric")
    for pattern, name in _WORDED_FACT_TABLE:
        if pattern.search(sentence):
            draft.add_fact(name)
    zero = _ZERO_FORCE.search(sentence)
    if zero:
        on = re.search(rf"force (?:acting |exerted )?(?:on|experienced by) {B}", zero.group())
        draft.add_fact("zero-force", (draft.name(int(on.group(1))),) if on else ())
    for match in re.finditer(rf"{B}(?: is| being| lies| placed)? on the (left|right)\b", sentence):
        draft.add_fact(f"on-{match.group(2)}", (draft.name(int(match.group(1))),))
    measured = re.search(
        rf"(?:measured? |distance |far )(?:is ⟨b\d+⟩ )?(?:away )?from (?:the )?{B}", sentence
    )
    if measured:
        draft.add_fact("measured-from", (draft.name(int(measured.group(1))),))
    times = _TIMES_OTHER.search(sentence)
    if times:
        factor = (
            draft.tagger.quantities[int(times.group(2))].quantity.value
            if times.group(2)
            else {"twice": 2.0, "three": 3.0, "four": 4.0, "five": 5.0, "nine": 9.0}[times.group(1)]
        )
        draft.add_fact("charge-ratio", (), factor=factor)


def _worded_neutral(draft: Draft, sentence: str) -> str | None:
    """The body met as "an identical uncharged sphere B" in the text itself."""
    noted = re.search(rf"{B} ?\((?:initially )?(?:uncharged|neutral)\)", sentence)
    if noted:
        return draft.name(int(noted.group(1)))
    match = re.search(r"\b(?:uncharged|neutral)\b[^⟨.]{0,12}⟨b(\d+)⟩", sentence) or re.search(
        rf"{B},? (?:which|that)? ?(?:has|have|had|having|carries|with) no (?:net "
        rf"|electric )?charge",
        sentence,
    )
    return draft.name(int(match.group(1))) if match else None


def read_symbols(draft: Draft, sentence: str) -> None:
    """ "exert a force f on each other": the force is a symbol, so the answer is a ratio to it."""
    if re.search(
        r"\b(?:force|field)(?: of)?(?: magnitude| strength)?(?: (?:between \w+"
        r"|on each other|at [^.]*|is|of|equal to|=))* ?\b([fe])\b(?! ?=)",
        sentence,
    ):
        draft.add_fact("symbolic-force")
