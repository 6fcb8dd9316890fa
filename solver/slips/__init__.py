"""The catalogue of slips, and the search for those that explain what a learner wrote.

A slip transforms a derivation: a leaf (a given, a constant), a law (one step's expression) or the
written answer. ``catalogue`` is the table, one entry a slip; ``leaves`` and ``laws`` hold the
functions that list what each could do to a derivation; ``changes`` runs a derivation with slips
in it; ``search`` tries them, fewest and likeliest first. A new slip is one entry and one function.
"""

from solver.slips.catalogue import CATALOGUE, COMMON, Slip, all_changes
from solver.slips.changes import (
    NOTHING_OWN,
    Case,
    Change,
    Own,
    equal_ways,
    has_root,
    input_value,
    run,
    twins,
)
from solver.slips.search import Explanation, search

__all__ = [
    "CATALOGUE",
    "COMMON",
    "NOTHING_OWN",
    "Case",
    "Change",
    "Explanation",
    "Own",
    "Slip",
    "all_changes",
    "equal_ways",
    "has_root",
    "input_value",
    "run",
    "search",
    "twins",
]
