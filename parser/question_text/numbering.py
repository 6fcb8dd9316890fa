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


# a line that starts with a measured number ("3.0 kJ of energy ...") is no question number
_MEASURE = re.compile(
    r"^\s*\d+(?:\.\d+)?\s?(?:[pnµmk]A|[pnµmkMGc]?(?:[CNVJWFmgsKΩ]|Hz|eV|Pa|kg))(?![\w.)])"
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
    if match is None or (_MEASURE.match(line) and not _after_sentence(match, drafts)):
        return None
    rest = line[match.end() :].strip()
    part = match.groupdict()
    whole = part["word"] or part["short"] or part["plain"] or part["bare"]
    if part["bare"] and not _follows(part["bare"], drafts):
        return None
    if whole:
        if part["plain"] and drafts and not _plausible(whole, drafts):
            return None
        return (whole, whole.count("."), rest, _holder(whole, drafts))
    if part["parts"]:
        return (part["parts"], part["parts"].count("."), rest, _holder(part["parts"], drafts))
    if part["joined"]:
        digits, letter = re.match(r"(\d+)\D*([a-h])", part["joined"]).groups()  # type: ignore[union-attr]
        return (f"{digits}({letter})", 1, rest, _holder(digits + ".", drafts))
    letter = (part["letter"] or part["roman"]).lower()
    if part["letter"] and re.search(rf"(?<![\w)])\({chr(ord(letter) + 1)}\)\s", rest):
        return None
    dotted = part["letter"] and not match.group().strip().endswith(")")
    if part["letter"] and (part["letter"].isupper() or (dotted and not drafts)):
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


def _after_sentence(match: re.Match[str], drafts: list[_Draft]) -> bool:
    """True for "2 A charged bead ..." after a full stop or a title: no two amperes."""
    above = next((t for d in reversed(drafts) for t in reversed(d.lines) if t), "")
    titled = bool(above) and not any(d.number for d in drafts)
    return bool(match["bare"] or match["parts"]) and (
        titled or above.endswith((".", "?", "!", ":", ")", "]"))
    )


def _follows(bare: str, drafts: list[_Draft]) -> bool:
    wholes = [int(d.number) for d in drafts if d.number.isdigit()]
    return int(bare) == (wholes[-1] + 1 if wholes else 1)


def _plausible(whole: str, drafts: list[_Draft]) -> bool:
    wholes = [int(d.number) for d in drafts if d.number.isdigit()]
    return not wholes or int(whole) > wholes[-1]


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


def _finish(draft: _Draft) -> Part:
    text = "\n".join(draft.lines).strip()
    text, marks = strip_marks(text)
    stems: list[str] = []
    parent = draft.parent
    while parent is not None:
        stem, _ = strip_marks("\n".join(parent.lines).strip())
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
