"""A reading laid on a line that was cut at its fraction bars: which text is which piece's."""

from __future__ import annotations

from scanner.reader.fractions import Parts, Piece, Stack
from scanner.reader.notation import CLOSE, FRACTION, FRACTION_BAR, OPENERS, TOKENS, tokenise

LabelTree = list["str | tuple[LabelTree, LabelTree]"]


def label_tree(label: str) -> LabelTree | None:
    """Plain texts and (above, below) pairs; None when a fraction stands inside a group."""
    tokens = [TOKENS[index] for index in tokenise(label)]
    position = 0

    def sequence(stop: str) -> LabelTree | None:
        nonlocal position
        parts: LabelTree = []
        text: list[str] = []
        open_groups = 0
        while position < len(tokens):
            token = tokens[position]
            if token == FRACTION:
                if open_groups:
                    return None
                if text:
                    parts.append("".join(text))
                    text = []
                position += 1
                above = sequence(FRACTION_BAR)
                position += 1
                below = sequence(CLOSE)
                position += 1
                if above is None or below is None:
                    return None
                parts.append((above, below))
                continue
            if token == stop and not open_groups:
                break
            open_groups += (token in OPENERS) - (token == CLOSE)
            text.append(token)
            position += 1
        if text:
            parts.append("".join(text))
        return parts

    return sequence("")


def paired(parts: Parts, tree: LabelTree) -> list[tuple[Piece, str]] | None:
    """Pieces with their labels; None when the cut and the label differ in shape."""
    if len(parts) != len(tree):
        return None
    pairs: list[tuple[Piece, str]] = []
    for part, label in zip(parts, tree, strict=True):
        if isinstance(part, Piece) and isinstance(label, str):
            pairs.append((part, label.strip()))
        elif isinstance(part, Stack) and isinstance(label, tuple):
            above, below = paired(part.above, label[0]), paired(part.below, label[1])
            if above is None or below is None:
                return None
            pairs += above + below
        else:
            return None
    return pairs
