"""How bodies are arranged: between, midway, on a line, at corners, at coordinates."""

from __future__ import annotations

import re

from parser.question_text.draft import (
    DIR,
    TAG,
    B,
    Draft,
    add_point,
    placed_at,
    side_named,
    two_ends,
)


def read_places(draft: Draft, sentence: str) -> None:
    x = r"⟨([bp])(\d+)⟩"
    for spot in re.finditer(
        rf"{B}(?: of ⟨C\d+⟩)? (?:is|are) (?:fixed|placed|located|situated|held|kept)? ?at ⟨p(\d+)⟩",
        sentence,
    ):
        body, place = (draft.name(int(i)) for i in spot.groups())
        if re.fullmatch(r"[A-Z]", place):
            draft.alias[place] = body
    middle = re.search(
        rf"\b(?:mid-?way|half[- ]?way|exactly in the middle|in the middle|at the centre"
        rf"|at the center)(?: point)?(?: on the line)?(?: between| of| joining"
        rf"| from)? (?:{x},? (?:and|to) {x}|them|⟨g(\d+)⟩|the two|these|the line)",
        sentence,
    )
    point = re.search(
        rf"⟨p(\d+)⟩(?: of| between| on)?(?: the line| the segment| line)?(?: joining"
        rf"| between| connecting| segment)? (?:{x},? (?:and|to) {x}|them|⟨g(\d+)⟩"
        rf"|the (?:line|two))",
        sentence,
    )
    if point and "midpoint" in draft.names(int(point.group(1))):
        ends = two_ends(draft, point.groups()[1:], "midpoint")
        if ends:
            before = sentence[: point.start()]
            apart = re.search(r"\b(?:from|above|below|of|beyond) (?:the )?$", before)
            subject = "midpoint" if apart else placed_at(draft, before) or "midpoint"
            draft.add_fact("midpoint", (subject, *ends))
            if subject != "midpoint":
                draft.add_fact("midpoint", ("midpoint", *ends))
    elif middle:
        subject = placed_at(draft, sentence[: middle.start()]) or "midpoint"
        ends = two_ends(draft, middle.groups(), subject)
        if ends:
            draft.add_fact("midpoint", (subject, *ends))
            add_point(draft, subject)
    elif re.search(r"⟨p(\d+)⟩", sentence):
        for index in re.findall(r"⟨p(\d+)⟩", sentence):
            if draft.name(int(index)) == "midpoint" and len(draft.bodies) >= 2:
                draft.add_fact("midpoint", ("midpoint", draft.bodies[0], draft.bodies[1]))
    fraction = re.search(
        rf"\b(one[- ](?:fourth|quarter|third)|a (?:quarter|third)) of the way (?:from"
        rf"|between) {x} (?:to|and) {x}",
        sentence,
    )
    if fraction:
        value = {"fourth": 0.25, "quarter": 0.25, "third": 1 / 3}[
            re.split(r"[- ]", fraction.group(1))[-1]
        ]
        draft.add_fact(
            "part-way",
            (draft.name(int(fraction.group(3))), draft.name(int(fraction.group(5)))),
            fraction=value,
        )
    _order(draft, sentence)
    _shapes(draft, sentence)
    _bisector(draft, sentence)


def _order(draft: Draft, sentence: str) -> None:
    x = r"⟨([bp])(\d+)⟩"
    for match in re.finditer(rf"{x}(?: \w+){{0,6}}? {DIR} {x}", sentence):
        if (
            TAG.search(sentence[match.start() + 4 : match.start(3)].replace("⟨L", ""))
            and "⟨L" not in match.group()
        ):
            continue
        first, other = draft.name(int(match.group(2))), draft.name(int(match.group(5)))
        if first != other and not any(
            f.name == "direction" and f.bodies == (first, other) for f in draft.facts
        ):
            draft.add_fact("direction", (first, other), direction=side_named(match.group(3)))
    for match in re.finditer(
        rf"{x}(?: is| lies| are| placed| located| situated| fixed| which| that|,|\)"
        rf"| held| put| positioned| somewhere| in| on the line| directly| of ⟨C\d+⟩"
        rf"| ⟨C\d+⟩| with| a| charge)* between (?:{x} and {x}|them|⟨g(\d+)⟩|the (?:two"
        rf"|other))",
        sentence,
    ):
        subject = draft.name(int(match.group(2)))
        if re.search(r"\bfrom $", sentence[: match.start()]):
            leading = re.search(r"⟨[bp](\d+)⟩", sentence[: match.start()])
            subject = draft.name(int(leading.group(1))) if leading else subject
        ends = two_ends(draft, match.groups()[2:], subject)
        if ends and subject not in ends:
            draft.add_fact("between", (subject, *ends))
    joining = re.search(
        rf"{x}[^.;]*\bon the line (?:joining|between|that joins) (?:the )?{x} (?:and|to) {x}",
        sentence,
    )
    if joining and not re.search(r"beyond|extend|produced|outside", sentence):
        names = [draft.name(int(i)) for i in joining.groups()[1::2]]
        if len(set(names)) == 3:
            draft.add_fact("between", names)
    line = re.search(
        r"straight line|\bin (?:(?:a|one) (?:line|row)\b|line\b(?! with))|\bcollinear\b|on (?:a"
        r"|the same) (?:horizontal |vertical )?(?:straight )?line|along (?:a|the same"
        r"|the) (?:horizontal |straight )*line|x-axis|along the same|horizontal line",
        sentence,
    )
    if line:
        named = [draft.name(int(m.group(2))) for m in re.finditer(x, sentence)]
        groups = [draft.names(int(i)) for i in re.findall(r"⟨g(\d+)⟩", sentence)]
        order = list(dict.fromkeys(n for n in named if n))
        if len(order) < 3 and groups and len(groups[-1]) >= 3:
            order = list(groups[-1])
        if len(order) < 3:
            order = list(draft.bodies)
        draft.add_fact("on-line", order)
    if re.search(r"\bvertical(?:ly)? (?:line|above)|vertical line", sentence):
        draft.add_fact("vertical")


def _shapes(draft: Draft, sentence: str) -> None:
    right = re.search(
        r"right[- ]angled? (?:triangle )?(?:at"
        r"|with (?:the )?right[- ]angle at) ⟨[bp](\d+)⟩"
        r"|right[- ]angle (?:is )?at ⟨[bp](\d+)⟩|⟨[bp](\d+)⟩ is at the right[- ]angle"
        r"|perpendicular(?! bisector)|right[- ]angles?\b|right[- ]angled",
        sentence,
    )
    if right:
        corner = right.group(1) or right.group(2) or right.group(3)
        draft.add_fact("right-angle", (draft.name(int(corner)),) if corner else ())
    if re.search(r"equilateral triangle", sentence):
        draft.add_fact("equilateral")
    if re.search(
        r"\bsquare\b(?! (?:of|the))|corners of a square|square of side", sentence
    ) and re.search(r"corner|vert", sentence):
        draft.add_fact("square")
    if re.search(r"centre of the (?:square|triangle)|center of the (?:square|triangle)", sentence):
        draft.add_fact("at-centre")


_HEIGHT = re.compile(
    r"⟨L(\d+)⟩(?: away)?(?: directly| vertically)? (?:from|above|below) "
    r"(?:the |that |this |their )?"
    r"(?:line|mid-?point|centre|center|middle|⟨p\d+⟩|⟨b\d+⟩⟨b\d+⟩)"
)


def bisector_height(sentence: str) -> int | None:
    """The tag of the height of a point on the perpendicular bisector, above the line."""
    if "perpendicular bisector" not in sentence:
        return None
    height = _HEIGHT.search(sentence)
    return int(height.group(1)) if height else None


def _bisector(draft: Draft, sentence: str) -> None:
    """ "X lies on the perpendicular bisector of the line joining them, 3 cm from that line"."""
    height = bisector_height(sentence)
    if height is None:
        return
    place = sentence.index("perpendicular bisector")
    named = re.findall(r"⟨([bp])(\d+)⟩", sentence[:place])
    subject = draft.name(int(named[-1][1])) if named else ""
    if not subject or subject == "midpoint":
        subject = "point"
    add_point(draft, subject)
    ends = [n for n in draft.bodies if n != subject]
    joined = re.search(r"joining ⟨b(\d+)⟩ (?:and|to) ⟨b(\d+)⟩", sentence)
    if joined:
        ends = [draft.name(int(i)) for i in joined.groups()]
    if len(ends) == 2:
        value = draft.tagger.quantities[height].quantity.value
        draft.add_fact("bisector", (subject, *ends), height=value)
