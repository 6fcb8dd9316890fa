"""The law book: every law the solver may use, a module a topic.

A topic is a module with a tuple ``ALL`` of ``book.Law``; adding one here is all it takes for
the chaining search to use it.
"""

from __future__ import annotations

from solver.laws import circuits, electrostatics, mechanics, waves
from solver.laws.book import Law

LAWS: tuple[Law, ...] = (*electrostatics.ALL, *mechanics.ALL, *circuits.ALL, *waves.ALL)
