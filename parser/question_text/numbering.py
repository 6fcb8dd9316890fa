"""Where questions and their parts start: numbers, letters, marks, stems.

The rule: a part that starts its own line is a question of its own and shares the stem above
it; parts "(a) ... (b) ..." inside running text stay together as asks of one question.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

NUMBER = re.compile(
    r"""^\s*(?:
        (?:question|problem|exercise)\s*\.?\s*(?P<word>\d{1,3}(?:\.\d{1,2})*)\s*(?:[.:)]|(?=\s|$))
      | q\.?\s?(?P<short>\d{1,3}(?:\.\d{1,2})*)\s*[.:)](?=\s|$)
      | (?P<parts>\d{1,2}(?:\.\d{1,2}){1,2})\s*[.:)]?(?=\s)
      | (?P<plain>\d{1,3})\s*[.:)](?=\s|\(|$)
      | (?P<joined>\d{1,2}\s?\(?[a-h]\)|\d{1,2}\s?\([a-h]\)?)(?=\s)
      | (?P<bare>\d{1,2})(?=\s+[A-Z"'(\[])
      | (?P<glued>\d{1,2}(?:\.\d{1,2}){0,2})[.:)]?(?-i:(?=[A-Z][a-z]|A\s))
      | \(?(?P<letter>[a-hA-H])[).](?=\s)
      | \((?P<roman>i{1,3}|iv|v|vi{1,3}|ix|x)\)(?=\s)
    )\s*""",
    re.I | re.X,
)
_MARKS = re.compile(
    r"\s*(?:\(\s*(\d{1,2})\s*(?:marks?|mks?|points?|pts?)?\s*\)|\[\s*(\d{1,2})\s*(?:marks?|mks?)?\s*\]"
    r"|\b(\d{1,2})\s+marks?)\s*[.]?\s*$",
    re.I,
)
_INLINE_MARKS = re.compile(
    r"\s*(?:\(\s*\d{1,2}\s*m(?:ar)?ks?\s*\)|\[\s*\d{1,2}\s*(?:marks?|mks?)?\s*\])", re.I
)
_INLINE_PART = re.compile(r"(?<![\w)])\((?P<letter>[a-h])\)\s+(?=[^\s])")


# what a number in front makes an amount ("3.0 kJ", "3.2 × 10", "5 + 2", "2,5"), no question
_AMOUNT = re.compile(
    r"^\s*[-+]?\d+(?:\.\d+)?(?:\s?[×x*·/=^%°+,]|\s?-\s?\d"
    r"|\s?(?:[pnµumkMGc]?(?:[CNVJWFAmgsKTΩ]|Hz|eV|Pa)|ohms?|kg|min|h|cm|of)(?![\w.)])"
    r"|\s(?:nano|micro|milli|kilo|mega|pico|centi)?(?:coulomb|newton|volt|joule|met(?:re|er)"
    r"|second|amp|gram|watt|times|degree|electron|percent))"
)
# a unit that may be a word or a name: "2 A charged bead", "1.1 V is placed"
_UNIT_OR_NAME = re.compile(r"^\s*\d+(?:\.\d+)*\s[A-Z]\s[a-z]")
_DANGLING = re.compile(
    r"(?:[,=+×-]|\b(?:of|is|are|was|a|an|the|and|or|from|at|to|with|by|than|in|for|has|have|on"
    r"|carry|carries|be|between|only|about|approximately|exactly|through|[A-Z] ?=))$"
)


@dataclass(frozen=True)
class Part:
    """One numbered piece of the sheet; ``first`` and ``last`` are its line indices."""

    number: str
    text: str
    marks: int | None
    parent: str | None
    stem: str
    first: int
    last: int
    has_parts: bool = False


@dataclass
class _Draft:
    number: str
    level: int
    lines: list[str]
    first: int
    last: int
    parent: _Draft | None = None
    has_parts: bool = False


def split_parts(lines: list[str]) -> list[Part]:
    """The numbered parts of a sheet, in order; unnumbered text is one part with number ""."""
    drafts: list[_Draft] = []
    for index, line in enumerate(lines):
        start = _start_of(line, drafts)
        if start is None:
            if not drafts:
                if not line.strip():
                    continue
                drafts.append(_Draft("", 0, [], index, index))
            drafts[-1].lines.append(line.strip())
            if line.strip():
                drafts[-1].last = index
            continue
        number, level, rest, parent = start
        draft = _Draft(number, level, [rest], index, index, parent)
        if parent is not None:
            parent.has_parts = True
        drafts.append(draft)
        nested = _start_of(rest, drafts) if rest else None
        if nested is not None and nested[1] > level:
            draft.lines = []
            draft.has_parts = True
            drafts.append(_Draft(nested[0], nested[1], [nested[2]], index, index, draft))
    return [_finish(d) for d in drafts]


def _start_of(line: str, drafts: list[_Draft]) -> tuple[str, int, str, _Draft | None] | None:
    match = NUMBER.match(line)
    if match is None:
        return None
    rest = line[match.end() :].strip()
    part = match.groupdict()
    free = part["plain"] or part["bare"] or part["parts"] or part["glued"]
    if free and not _is_number(match, line, drafts):
        return None
    whole = part["word"] or part["short"] or free
    if whole:
        return (whole, whole.count("."), rest, _holder(whole, drafts))
    if part["joined"]:
        digits, letter = re.match(r"(\d+)\D*([a-h])", part["joined"]).groups()  # type: ignore[union-attr]
        return (f"{digits}({letter})", 1, rest, _holder(digits + ".", drafts))
    letter = (part["letter"] or part["roman"]).lower()
    if part["letter"] and re.search(rf"(?<![\w)])\({chr(ord(letter) + 1)}\)\s", rest):
        return None
    dotted = part["letter"] and not match.group().strip().endswith(")")
    if part["letter"] and (part["letter"].isupper() or (dotted and not drafts)):
        return None
    if part["letter"] and letter > "a" and drafts and not _sentence_before(drafts):
        above = " ".join(drafts[-1].lines)
        if re.search(rf"(?<![\w)])\({chr(ord(letter) - 1)}\)\s", above):
            return None
    roman = part["letter"] is None
    base = _letter_holder(letter, roman, drafts)
    if base is None:
        if drafts and drafts[0].number == "":
            return (f"({letter})", 1, rest, drafts[0])
        beside = re.match(r"\d+(?=\([a-h]\)$)", drafts[-1].number) if drafts else None
        if beside:
            return (f"{beside.group()}({letter})", 1, rest, drafts[-1].parent)
        return (f"({letter})", 1, rest, None)
    return (f"{base.number}({letter})", base.level + 1, rest, base)


def _is_number(match: re.Match[str], line: str, drafts: list[_Draft]) -> bool:
    """Whether digits at the start of a line number a part, and are no amount in a sentence."""
    part = match.groupdict()
    number = part["plain"] or part["bare"] or part["parts"] or part["glued"]
    steps = tuple(int(n) for n in number.split("."))
    if 0 in steps[1:] or re.search(r"\.0", number):
        return False
    fits = _fit(steps, drafts)
    sentence_before = _sentence_before(drafts)
    if _AMOUNT.match(line) and not part["plain"]:
        named = _UNIT_OR_NAME.match(line) or part["glued"]
        return bool(named) and fits == "next" and (sentence_before or not _dangling(drafts))
    if part["bare"] or part["glued"]:
        return fits == "next" and (sentence_before or line[match.end() :][:1].isupper())
    if not sentence_before:
        return fits == "next" and line[match.end() :].lstrip()[:1].isupper()
    return part["plain"] is None or fits != "back"


def _fit(steps: tuple[int, ...], drafts: list[_Draft]) -> str:
    """ "next" in the order of the sheet's numbers, "later" or "back"."""
    seen = [
        tuple(int(n) for n in d.number.split("."))
        for d in drafts
        if re.match(r"\d+[.\d]*$", d.number)
    ]
    if not seen:
        return "next" if set(steps) == {1} else "later"
    last = seen[-1]
    follows = {(*last, 1), (last[0] + 1, 1)}
    for depth in range(len(last)):
        higher = (*last[:depth], last[depth] + 1)
        follows |= {higher, (*higher, 1)}
    if steps in follows:
        return "next"
    wholes = [s for s in seen if len(s) == 1]
    if len(steps) == 1:
        return "later" if not wholes or steps > wholes[-1] else "back"
    return "later" if steps > last else "back"


def _sentence_before(drafts: list[_Draft]) -> bool:
    """Whether the text above is complete: a full stop, marks, a blank line, a title."""
    lines = [text for draft in drafts for text in draft.lines]
    if not lines or not lines[-1]:
        return True
    titled = not any(d.number for d in drafts) and len(lines[-1].split()) <= 6
    return lines[-1].endswith((".", "?", "!", ":", ";", ")", "]")) or (
        titled and not _DANGLING.search(lines[-1])
    )


def _holder(number: str, drafts: list[_Draft]) -> _Draft | None:
    if "." not in number:
        return None
    prefix = number.rsplit(".", 1)[0]
    named = next((d for d in reversed(drafts) if d.number == prefix), None)
    if named is not None or not drafts or drafts[0].number:
        return named
    wholes = any("." not in d.number for d in drafts[1:])
    return None if wholes else drafts[0]


def _letter_holder(letter: str, roman: bool, drafts: list[_Draft]) -> _Draft | None:
    for draft in reversed(drafts):
        is_letter = re.search(r"\([a-h]\)$", draft.number) is not None
        is_roman = re.search(r"\((?:i{1,3}|iv|v|vi{1,3}|ix|x)\)$", draft.number) is not None
        if roman:
            if not is_roman and draft.number:
                return draft
            continue
        if not is_letter and not is_roman and draft.number:
            return draft
    return None


def _dangling(drafts: list[_Draft]) -> bool:
    last = next((text for d in reversed(drafts) for text in reversed(d.lines) if text), "")
    return bool(_DANGLING.search(last))


def _unfolded(lines: list[str]) -> str:
    """The lines as one text; a line that goes on with the sentence above is joined to it."""
    text = ""
    for line in lines:
        stopped = text[-1:] in ".?!:;)]" and not re.search(r"\b[a-z]\.[a-z]\.$", text)
        goes_on = text and not stopped and re.match(r"[a-z\d(+µ-]", line)
        between_amount = re.search(r"\d\}?$", text) and re.match(
            r"(?:[B-ZΩ°%]|[A-Z][A-Za-z]|A(?=[ ]?[.,;)]))(?![a-z])", line
        )
        glue = " " if goes_on or between_amount or (text and _DANGLING.search(text)) else "\n"
        text = f"{text}{glue}{line}" if text else line
    return text.strip()


def _finish(draft: _Draft) -> Part:
    text = _unfolded(draft.lines)
    text, marks = strip_marks(text)
    stems: list[str] = []
    parent = draft.parent
    while parent is not None:
        stem, _ = strip_marks(_unfolded(parent.lines))
        stems.insert(0, stem)
        parent = parent.parent
    return Part(
        draft.number,
        text,
        marks,
        draft.parent.number if draft.parent else None,
        "\n".join(s for s in stems if s),
        draft.first,
        draft.last,
        draft.has_parts,
    )


def strip_marks(text: str) -> tuple[str, int | None]:
    """``text`` without the marks at its end (and marks inside lines), and their number."""
    match = _MARKS.search(text)
    marks = None
    if match and match.start() > 0:
        marks = int(next(g for g in match.groups() if g))
        text = text[: match.start()].rstrip()
    return _INLINE_MARKS.sub("", text), marks


def inline_parts(text: str) -> tuple[str, list[str]]:
    """The stem and the texts of "(a) ... (b) ..." parts inside running text."""
    found: list[re.Match[str]] = []
    for match in _INLINE_PART.finditer(text):
        if match.group("letter") == "abcdefgh"[len(found)]:
            found.append(match)
    if not found or (len(found) == 1 and found[0].start() > 0):
        return text, []
    stem = text[: found[0].start()]
    ends = [m.start() for m in found[1:]] + [len(text)]
    return stem, [text[m.end() : end].strip() for m, end in zip(found, ends, strict=True)]
