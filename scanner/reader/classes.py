"""The recogniser's classes: every character at its level, in the order it is met on the line.

A raised "9" is a class of its own, so a recogniser that reads from left to right needs no tokens
for opening and closing. Only a root and a struck-out piece open and close.
"""

from __future__ import annotations

from collections.abc import Sequence

from scanner.reader.notation import (
    CHARACTERS,
    CLOSE,
    FRACTION,
    FRACTION_BAR,
    LOWERED,
    OPENERS,
    RAISED,
    ROOT,
    STRUCK,
    TOKENS,
    detokenise,
    tokenise,
)

BLANK = 0
_SCRIPT = frozenset(
    "0123456789+-×·/()=.,'*nxyzabcdefghijklmopqrstuvwABCDEFGHIJKLMNOPQRSTUVWXYZµθλΔ"
)
_IN_ORDER = tuple(t for t in TOKENS if t in CHARACTERS)

# (level, character); ids are positions: the shipped weights depend on them. Append only.
CLASSES: tuple[tuple[str, str], ...] = (
    ("", ""),
    *(("", character) for character in _IN_ORDER),
    *(("", mark) for mark in (ROOT, STRUCK, CLOSE)),
    *((RAISED, character) for character in _IN_ORDER if character in _SCRIPT),
    *((LOWERED, character) for character in _IN_ORDER if character in _SCRIPT),
)
CLASS_IDS: dict[tuple[str, str], int] = {key: index for index, key in enumerate(CLASSES)}


def to_classes(label: str) -> list[int] | None:
    """Class ids of a label without stacked fractions; None when it nests deeper than one level."""
    ids: list[int] = []
    groups: list[str] = []
    level = ""
    for index in tokenise(label):
        token = TOKENS[index]
        if token in (FRACTION, FRACTION_BAR):
            return None
        if token in (RAISED, LOWERED):
            if level:
                return None
            level = token
            groups.append(token)
        elif token in OPENERS:
            if level:
                return None
            groups.append(token)
            ids.append(CLASS_IDS["", token])
        elif token == CLOSE:
            if groups.pop() in (RAISED, LOWERED):
                level = ""
            else:
                ids.append(CLASS_IDS["", CLOSE])
        else:
            key = (level, token)
            if key not in CLASS_IDS:
                return None
            ids.append(CLASS_IDS[key])
    return ids


def to_text(ids: Sequence[int]) -> str:
    """The label of class ids; braces that were never opened or closed are mended."""
    pieces: list[str] = []
    level, open_groups = "", 0
    for index in ids:
        if index == BLANK:
            continue
        own_level, character = CLASSES[index]
        if own_level != level:
            if level:
                pieces.append(CLOSE)
            if own_level:
                pieces.append(own_level)
            level = own_level
        if character in (ROOT, STRUCK):
            open_groups += 1
        elif character == CLOSE:
            if not open_groups:
                continue
            open_groups -= 1
        pieces.append(character)
    if level:
        pieces.append(CLOSE)
    return detokenise(tokenise("".join(pieces) + CLOSE * open_groups))
