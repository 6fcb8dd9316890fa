"""What a topic answers an ask with."""

from __future__ import annotations

from dataclasses import dataclass

from solver.derive.engine import Known


@dataclass(frozen=True)
class Result:
    """One result of an ask: whose it is, its value and its direction."""

    of: str | None
    known: Known
    direction: str | None = None


Answer = list[Result]


def opposite(direction: str) -> str | None:
    """The opposite of a direction word."""
    pairs = {
        "left": "right",
        "up": "down",
        "north": "south",
        "east": "west",
        "north-east": "south-west",
        "north-west": "south-east",
    }
    both = pairs | {b: a for a, b in pairs.items()}
    if direction in both:
        return both[direction]
    if direction.startswith("towards "):
        return "away from " + direction[8:]
    if direction.startswith("away from "):
        return "towards " + direction[10:]
    if direction.endswith("deg anticlockwise from right"):
        return f"{(float(direction.split()[0]) + 180) % 360:g} deg anticlockwise from right"
    return None
