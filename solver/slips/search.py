"""The search for slips that explain a value: fewest and likeliest first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

from solver.slips.catalogue import all_changes
from solver.slips.changes import NOTHING_OWN, Case, Change, Own, run

TWO_SLIP_PENALTY = 0.05  # two slips at once are rarer than any single one; our judgement


MOST_IN_PAIRS = 60


# Slips a learner makes twice on one line as easily as once.
REPEATED = frozenset({"prefix-left-unconverted", "sign-dropped", "prefix-mistaken"})


@dataclass(frozen=True)
class Explanation:
    """Slips that together reproduce a value; a higher score is likelier."""

    changes: tuple[Change, ...]
    score: float


def search(
    case: Case,
    value: float,
    tolerance: float,
    signed: bool,
    own: Own = NOTHING_OWN,
    most_slips: int = 1,
    fixed: Sequence[Change] = (),
    changes: Sequence[Change] | None = None,
) -> tuple[Explanation, ...]:
    """Slips that turn the derivation's result into ``value``, best first.

    Args:
        tolerance: absolute, in the unit of ``value``.
        signed: compare signs too (a charge), or sizes only (a force).
        most_slips: try pairs when no single slip fits.
        fixed: changes already known from the working; they are part of every trial.
    """
    candidates = all_changes(case) if changes is None else tuple(changes)
    found = []
    for change in candidates:
        if any(change.touches(f) for f in fixed):
            continue
        score = _fit(case, value, tolerance, signed, own, (*fixed, change))
        if score:
            found.append(Explanation((change,), change.prior * score))
    if not found and most_slips > 1:
        likely = [c for c in candidates if c.prior >= 0.15][:MOST_IN_PAIRS]
        for first, second in combinations(likely, 2):
            again = first.slip == second.slip and first.slip not in REPEATED
            if first.touches(second) or (again and first.law is None):
                continue
            score = _fit(case, value, tolerance, signed, own, (*fixed, first, second))
            if score:
                prior = first.prior * second.prior * TWO_SLIP_PENALTY
                found.append(Explanation((first, second), prior * score))
    return tuple(sorted(found, key=lambda e: -e.score))


def _fit(
    case: Case,
    value: float,
    tolerance: float,
    signed: bool,
    own: Own,
    changes: Sequence[Change],
) -> float:
    """0 when the changed derivation misses ``value``, else 0.5 ... 1 by how closely it hits."""
    results = run(case, changes, own)
    if results is None:
        return 0.0
    result = results[-1]
    off = abs(result - value) if signed else abs(abs(result) - abs(value))
    if off > tolerance:
        return 0.0
    return 1.0 - 0.5 * off / tolerance if tolerance else 1.0
