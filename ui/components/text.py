"""Readings and sentences as Markdown that shows them as they stand."""

from __future__ import annotations

import re

from solver.findings import Verdict
from ui import pretty, words
from ui.settings import DecimalMark
from ui.verdict_looks import LOOKS

_POINT = re.compile(r"(?<![\d.])(\d+)\.(?=\d)(?!\d+\.\d)")
_NUMBER_OF = re.compile(r"\b(?:[Qq]uestion|[Pp]art|[Ll]ine)s? $")


def sentence(text: str) -> str:
    """``text`` with a capital and a full stop."""
    text = text.strip()
    if not text:
        return text
    return text[0].upper() + text[1:] + ("" if text[-1] in ".?!" else ".")


def shown(reading: str) -> str:
    """A reading as Markdown: a formula, or running text where it is one or is not well formed."""
    if pretty.is_formula(reading):
        return rf"$\displaystyle {pretty.latex(reading)}$"
    return escaped(pretty.plain(reading))


def escaped(text: str) -> str:
    """``text`` for Markdown, shown as it stands: no markup, no HTML, no links, no formulas."""
    return "".join(f"&#{ord(c)};" if c in r"\`*_{}[]()<>#+!|$~:&@^=" else c for c in text)


def with_decimal_mark(text: str, mark: DecimalMark, latex: bool = False) -> str:
    """Numbers of our own in the user's style; the numbers of questions stay as they are."""
    if mark == ".":
        return text
    comma = "{,}" if latex else ","

    def in_style(found: re.Match[str]) -> str:
        is_name = _NUMBER_OF.search(text[: found.start()]) is not None
        return found.group() if is_name else found.group(1) + comma

    return _POINT.sub(in_style, text)


def badge(verdict: Verdict) -> str:
    """A verdict as Markdown: shape and word on the verdict's colour."""
    look = LOOKS[verdict]
    return f":{look.theme_colour}-badge[{look.sign} {words.VERDICT[verdict]}]"
