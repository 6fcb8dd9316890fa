"""Whose script is whose: names and numbers on the sheets held against a class list.

The list is CSV with a column ``name`` (or ``givenName`` and ``familyName``, as in OneRoster's
users.csv) and, where known, ``number`` (or ``identifier``) and ``sourcedId``. A script is given to
a learner only where one stands out and no other script claims the same; else a person says.
"""

from __future__ import annotations

import csv
import re
import unicodedata
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from difflib import SequenceMatcher
from pathlib import Path

from scanner.errors import BadFile
from scanner.page import Box, Line, Page
from ui.batch import page_from_json
from ui.check import text_of
from ui.decisions import NO_QUESTION
from ui.headings import heading_boxes, is_behind
from ui.records import Decision, Records, Script, Stack
from ui.records import Page as PageRow

# On 60 names in the hands of the test sheets, two lists, these settle 84 % of what is read and
# none of it wrongly; a learner who is not on the list is taken for another only where the names
# differ by a letter or two, and a second script of that learner then shows it.
_ALIKE = 0.8  # of a reading and a name, 0 to 1, to be taken for it
_AHEAD = 0.2  # of the next learner's likeness
_NUMBER_SURE = 0.9  # probability of a reading that is taken for a learner's number
_NAME = re.compile(r"^\W*(?:(?:sur|first |last )?name|learner|student|number|no)\b", re.I)
_HEAD = 0.3  # of the page's height: further down "No" is a word of a question
_MOST_SUGGESTED = 9


@dataclass(frozen=True)
class Learner:
    """One line of a class list."""

    name: str
    number: str = ""
    sourced_id: str = ""


@dataclass(frozen=True)
class Whose:
    """Whose a script is: ``learner``, or None with ``suggested`` names, the likeliest first.

    ``settled`` is True where a person, a file's name, a printed copy or the writing settled it
    (a person may settle that it is nobody's on the list). ``box`` is where the name stands.
    """

    learner: Learner | None = None
    settled: bool = False
    suggested: tuple[str, ...] = ()
    box: Box | None = None


def read_class_list(path: Path) -> str:
    """The text of a class list's file.

    Raises:
        BadFile: it is no class list.
    """
    text = text_of(path)
    if not class_list(text):
        raise BadFile(f"{path.name} names no learner; it needs a column headed name.")
    return text


def class_list(text: str | None) -> tuple[Learner, ...]:
    """The learners of a class list, each name once.

    Raises:
        BadFile: a name stands twice, so that nobody could tell whose script is whose.
    """
    found = []
    for row in csv.DictReader((text or "").splitlines()):
        cells = {
            (key or "").strip().casefold(): (value or "").strip()
            for key, value in row.items()
            if isinstance(value, str)
        }
        name = cells.get("name") or f"{cells.get('givenname', '')} {cells.get('familyname', '')}"
        if name.strip():
            number = cells.get("number") or cells.get("identifier", "")
            found.append(Learner(" ".join(name.split()), number, cells.get("sourcedid", "")))
    twice = [name for name, count in Counter(one.name for one in found).items() if count > 1]
    if twice:
        raise BadFile(f"The class list names “{twice[0]}” twice; tell the two apart in the list.")
    return tuple(found)


def whose_scripts(records: Records, stack: Stack) -> dict[int, Whose]:
    """Whose each script is, by the script's number; nothing without a class list."""
    learners = class_list(stack.class_list)
    if not learners:
        return {}
    decided = {d.script: d for d in records.decisions(stack) if d.kind == "learner"}
    pages = records.pages(stack)
    scripts = records.scripts(stack)
    found = {
        script.id: _whose(script, [p for p in pages if p.script == script.id], learners)
        for script in scripts
    }
    for script, decision in decided.items():
        found[script] = _decided(found[script], decision, learners)
    return _free_first(_nobody_twice(found, decided))


def without_script(records: Records, stack: Stack) -> list[str]:
    """Learners of the class list of whom no script is known."""
    known = {who.learner for who in whose_scripts(records, stack).values()}
    return [one.name for one in class_list(stack.class_list) if one not in known]


def _decided(who: Whose, decision: Decision, learners: Sequence[Learner]) -> Whose:
    chosen = next((one for one in learners if one.name == decision.text), None)
    return replace(who, learner=chosen, settled=chosen is not None or not decision.text)


def _nobody_twice(found: dict[int, Whose], decided: Mapping[int, Decision]) -> dict[int, Whose]:
    """Scripts that claim one learner go to a person, but for those that a person settled."""
    claims = Counter(who.learner for who in found.values() if who.learner is not None)
    return {
        script: replace(who, learner=None, settled=False)
        if who.learner is not None and claims[who.learner] > 1 and script not in decided
        else who
        for script, who in found.items()
    }


def _free_first(found: dict[int, Whose]) -> dict[int, Whose]:
    """Suggested are a few names, those first whose script is not known yet."""
    known = {who.learner.name for who in found.values() if who.learner is not None}
    return {
        script: replace(
            who,
            suggested=tuple(sorted(who.suggested, key=lambda name: name in known))[
                :_MOST_SUGGESTED
            ],
        )
        for script, who in found.items()
    }


# --- one script -------------------------------------------------------------------------------


def _whose(script: Script, pages: Sequence[PageRow], learners: Sequence[Learner]) -> Whose:
    named = [one for one in learners if _words(one.name) == _words(script.name)]
    first = next((page for page in pages if page.scanned is not None), None)
    scanned = None if first is None or first.scanned is None else page_from_json(first.scanned)
    lines = [] if scanned is None else name_lines(scanned)
    box = _place(scanned, lines)
    if len(named) == 1:
        return Whose(named[0], True, box=box)
    numbered = _by_number(lines, learners)
    if numbered is not None:
        return Whose(numbered, True, box=box)
    ranked = sorted(((_likeness(lines, one), one) for one in learners), key=lambda r: -r[0])
    likely = sorted(ranked, key=lambda r: -max(r[0], likeness(script.name, r[1].name)))
    suggested = tuple(one.name for _, one in likely)
    best, second = ranked[0][0], ranked[1][0] if len(ranked) > 1 else 0.0
    if best >= _ALIKE and best - second >= _AHEAD:
        return Whose(ranked[0][1], True, suggested, box)
    return Whose(None, False, suggested, box)


def name_lines(page: Page) -> list[Line]:
    """Pen lines behind a printed "Name:" or "No." in the head of the page, up to the next heading.

    What is written behind "Class:" or "Date:" on the same row is no name.
    """
    head = page.size[1] * _HEAD
    names = [
        word.box
        for line in page.print_lines
        for word in line.words
        if _NAME.search(word.reading.text) and word.box.bottom < head
    ]
    others = [box for box in heading_boxes([page]) if box not in names]
    return [
        line
        for line in page.pen_lines
        if not line.struck
        and (before := [box for box in (*names, *others) if is_behind(line.box, [box])])
        and max(before, key=lambda box: box.x) in names
    ]


def _place(page: Page | None, lines: Sequence[Line]) -> Box | None:
    """Where the name stands, else the head of the page."""
    if page is None:
        return None
    if not lines:
        return Box(0, 0, page.size[0], page.size[1] // 6)
    box = lines[0].box
    for line in lines[1:]:
        box = box.union(line.box)
    return box


def _by_number(lines: Sequence[Line], learners: Sequence[Learner]) -> Learner | None:
    """The one learner whose number was surely read."""
    read = {line.text.strip(" .") for line in lines if line.reading.confidence >= _NUMBER_SURE}
    found = [one for one in learners if one.number and one.number in read]
    return found[0] if len(found) == 1 else None


def _likeness(lines: Sequence[Line], learner: Learner) -> float:
    """How alike what was read is to a name, 0 to 1: the best line, and all lines together."""
    texts = [line.text for line in lines]
    return max(
        (likeness(text, learner.name) for text in (*texts, " ".join(texts)) if text), default=0.0
    )


def likeness(text: str, name: str) -> float:
    """Share of letters in common, in order, of a reading and a name written either way round."""
    read = _plain(text)
    words = _plain(name).split()
    if not words:
        return 0.0
    ways = {" ".join(words), " ".join([*words[1:], *words[:1]]), " ".join([words[-1], *words[:-1]])}
    return max(
        SequenceMatcher(None, read.replace(" ", ""), way.replace(" ", ""), autojunk=False).ratio()
        for way in ways
    )


def _plain(text: str) -> str:
    """Lower-case letters, figures and single spaces; marks over letters are left out."""
    apart = unicodedata.normalize("NFKD", text.casefold())
    kept = (c if c.isalnum() else "" if unicodedata.combining(c) else " " for c in apart)
    return " ".join("".join(kept).split())


def _words(name: str) -> frozenset[str]:
    return frozenset(_plain(name).split())


# --- deciding ---------------------------------------------------------------------------------


def decide_learner(records: Records, script: int, name: str) -> None:
    """The script is this learner's; an empty name: of nobody on the list."""
    records.decide(script, "learner", NO_QUESTION, name)
