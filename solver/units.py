"""Dimensions of units, through the one shared pint registry."""

from __future__ import annotations

from functools import lru_cache

import pint

REGISTRY: pint.UnitRegistry = pint.get_application_registry()


@lru_cache(maxsize=1024)
def dimension(unit: str) -> tuple[tuple[str, float], ...]:
    """Powers of the base dimensions of a pint unit; empty for a pure number or an angle."""
    if unit in ("", "dimensionless"):
        return ()
    powers = REGISTRY.Unit(unit).dimensionality
    return tuple(sorted((str(name), float(str(power))) for name, power in powers.items() if power))


def same_dimension(first: str, second: str) -> bool:
    """Whether two pint units measure the same kind of thing (N/C and V/m do)."""
    return dimension(first) == dimension(second)
