"""How each verdict looks: a shape, a word and a colour; the colour never stands alone.

The colours are of the Okabe-Ito kind (told apart with any usual colour blindness) and dark
enough for white letters: contrast of 4.5 to 1 or more (WCAG 2.2, 1.4.3).
"""

from __future__ import annotations

from dataclasses import dataclass

from solver.findings import Verdict


@dataclass(frozen=True)
class Look:
    """``sign`` is the shape as a character; ``corners`` as points in a unit square.

    ``dark_colour`` is the same hue, light enough to be read on a dark ground.
    """

    sign: str
    corners: tuple[tuple[float, float], ...]
    colour: str
    dark_colour: str
    ansi: str
    theme_colour: str


_CIRCLE = tuple(
    (0.5 + 0.5 * x, 0.5 + 0.5 * y)
    for x, y in (
        (1, 0), (0.92, 0.38), (0.71, 0.71), (0.38, 0.92), (0, 1), (-0.38, 0.92), (-0.71, 0.71),
        (-0.92, 0.38), (-1, 0), (-0.92, -0.38), (-0.71, -0.71), (-0.38, -0.92), (0, -1),
        (0.38, -0.92), (0.71, -0.71), (0.92, -0.38),
    )
)  # fmt: skip
_HALF = tuple(point for point in _CIRCLE if point[0] <= 0.5)
_TRIANGLE = ((0.5, 0.0), (1.0, 0.95), (0.0, 0.95))
_DIAMOND = ((0.5, 0.0), (1.0, 0.5), (0.5, 1.0), (0.0, 0.5))
_SQUARE = ((0.06, 0.06), (0.94, 0.06), (0.94, 0.94), (0.06, 0.94))
_BAR = ((0.0, 0.4), (1.0, 0.4), (1.0, 0.6), (0.0, 0.6))

LOOKS = {
    Verdict.AGREES: Look("●", _CIRCLE, "#00664e", "#5fd3b2", "36", "green"),
    Verdict.INCOMPLETE: Look("◐", _HALF, "#7a5200", "#e8b84a", "33", "yellow"),
    Verdict.DIFFERS: Look("▲", _TRIANGLE, "#a8380a", "#ff9d73", "31", "orange"),
    Verdict.UNREAD: Look("◆", _DIAMOND, "#0b5591", "#7fbdf2", "34", "blue"),
    Verdict.UNSOLVED: Look("■", _SQUARE, "#6a3a8c", "#cfa6ea", "35", "violet"),
    Verdict.BLANK: Look("▬", _BAR, "#4f5963", "#b3bcc4", "90", "gray"),
}
PLAIN = LOOKS[Verdict.BLANK]
