"""Vectors written by components: "(3.0î - 4.0ĵ) × 10^{3} N/C", "(200 N/C) î"."""

from __future__ import annotations

import math
import re
from dataclasses import replace

from parser.quantity import DecimalMark, Found, find_quantities, parse_quantity

_NUMBER = r"\d[\d.,]*(?: ?[×x] ?10\^\{?[+-]?\d+\}?)?"
_UNIT = r"[A-Za-zµ][A-Za-zµ/·^{}\d-]*"
# a letter with a hat, as one character or with a combining one
_I = r"(?:î|[ix]\u0302|i\^)"
_J = r"(?:ĵ|ŷ|[jy]\u0302|j\^)"
_TWO = re.compile(
    rf"\(? ?(?P<s1>[+-] ?)?(?P<x>{_NUMBER})? ?{_I} ?(?P<s2>[+-]) ?(?P<y>{_NUMBER})? ?{_J} ?\)?"
    rf"(?: ?[×x] ?10\^\{{?(?P<power>[+-]?\d+)\}}?)? ?(?P<unit>{_UNIT})"
)
_ONE = re.compile(
    rf"(?P<s>[+-] ?)?\(? ?(?P<s1>[+-] ?)?(?P<n>{_NUMBER}) ?(?P<u1>{_UNIT})? ?\)? ?"
    rf"(?:(?P<i>{_I})|(?P<j>{_J}))(?: ?(?P<unit>{_UNIT}))?"
)
# a place or a displacement by components is no size with a direction
_FIT = frozenset({"N", "N/C", "V/m", "m/s", "m/s**2"})


def find_with_vectors(text: str, mark: DecimalMark | None) -> list[Found]:
    """``find_quantities``, with a vector of components as one size and its direction."""
    if not re.search(rf"{_I}|{_J}", text):
        return find_quantities(text, mark)
    vectors: list[Found] = []
    for pattern in (_TWO, _ONE):
        for match in pattern.finditer(text):
            if any(v.start < match.end() and match.start() < v.end for v in vectors):
                continue
            vector = _vector(match, mark)
            if vector is not None:
                vectors.append(vector)
    blank = text
    for vector in vectors:
        gap = " " * (vector.end - vector.start)
        blank = blank[: vector.start] + gap + blank[vector.end :]
    return sorted([*vectors, *find_quantities(blank, mark)], key=lambda f: f.start)


def _vector(match: re.Match[str], mark: DecimalMark | None) -> Found | None:
    part = match.groupdict()
    if "power" in part:
        x = _signed(part["s1"], part["x"], mark)
        y = _signed(part["s2"], part["y"], mark)
        unit, scale = part["unit"], 10.0 ** int(part["power"] or 0)
    else:
        size = _signed(part["s1"], part["n"], mark) * (-1 if "-" in (part["s"] or "") else 1)
        x, y = (size, 0.0) if part["i"] else (0.0, size)
        unit, scale = part["u1"] or part["unit"], 1.0
    size = scale * math.hypot(x, y)
    quantity = parse_quantity(f"{size:.12g} {unit}".replace("e", "×10^"), ".") if unit else None
    if quantity is None or quantity.unit not in _FIT or not size:
        return None
    text = match.group().strip()
    found = replace(quantity, text=text, direction=_direction(x, y), significant_figures=3)
    end = match.start() + len(match.group().rstrip())
    return Found(match.start(), end, found, end)


def _signed(sign: str | None, number: str | None, mark: DecimalMark | None) -> float:
    if number is None:
        value = 1.0
    else:
        found = parse_quantity(number, mark)
        value = found.value if found is not None else 0.0
    return -value if sign and "-" in sign else value


def _direction(x: float, y: float) -> str:
    if not y:
        return "right" if x > 0 else "left"
    if not x:
        return "up" if y > 0 else "down"
    angle = math.degrees(math.atan2(y, x)) % 360
    return f"{angle:.1f} deg anticlockwise from right"
