"""Charge, force, field, potential and plates.

Sources: OpenStax, College Physics 2e, chapters 18 and 19 (CC BY 4.0, openstax.org), for
every law here unless its entry names another.
"""

from __future__ import annotations

from solver.laws.book import Law

_CP18 = "OpenStax, College Physics 2e, chapter 18"
_CP19 = "OpenStax, College Physics 2e, chapter 19"
_UP2 = "OpenStax, University Physics Volume 2"

COULOMB = Law(
    "Coulomb's law",
    "F = k*Q_1*Q_2/r**2",
    {"F": "force", "Q_1": "charge", "Q_2": "charge", "r": "distance"},
    _CP18 + ", section 3",
    "point charges, or spheres taken from their centres",
    {"k": "k"},
    frozenset({"F", "Q_1", "Q_2", "r"}),
)
EQUAL_COULOMB = Law(
    "Coulomb's law, equal charges",
    "F = k*Q**2/r**2",
    {"F": "force", "Q": "charge_size", "r": "distance"},
    _CP18 + ", section 3",
    "two charges of the same size",
    {"k": "k"},
    frozenset({"F", "Q", "r"}),
    needs=frozenset({"equal-charges"}),
)
POINT_FIELD = Law(
    "field of a point charge",
    "E = k*Q/r**2",
    {"E": "field", "Q": "charge", "r": "distance"},
    _CP18 + ", section 4",
    "point charge, or outside a charged sphere",
    {"k": "k"},
    frozenset({"E", "Q", "r"}),
    needs=frozenset({"point-charge"}),
)
FORCE_IN_FIELD = Law(
    "force in a field",
    "F = Q*E",
    {"F": "force", "Q": "charge", "E": "field"},
    _CP18 + ", section 4",
    "",
    {},
    frozenset({"F", "Q", "E"}),
)
POINT_POTENTIAL = Law(
    "potential of a point charge",
    "V = k*Q/r",
    {"V": "potential", "Q": "charge", "r": "distance"},
    _CP19 + ", section 3",
    "zero at infinity",
    {"k": "k"},
    frozenset({"r"}),
    needs=frozenset({"point-charge"}),
)
PAIR_ENERGY = Law(
    "potential energy of two charges",
    "U = k*Q_1*Q_2/r",
    {"U": "potential_energy", "Q_1": "charge", "Q_2": "charge", "r": "distance"},
    _UP2 + ", section 7.1",
    "zero at infinity",
    {"k": "k"},
    frozenset({"r"}),
)
CHARGE_COUNT = Law(
    "charge is a whole number of electrons",
    "Q = n*e",
    {"Q": "charge_size", "n": "electron_count"},
    _CP18 + ", section 1",
    "",
    {"e": "e"},
    frozenset({"Q", "n"}),
)
ELECTRONS_MOVED = Law(
    "charge of a number of electrons",
    "Q = n*e",
    {"Q": "charge", "n": "electron_count"},
    _CP18 + ", section 1",
    "",
    {"e": "e"},
    frozenset({"Q", "n"}),
)
UNIFORM_FIELD = Law(
    "uniform field between plates",
    "E = V/d",
    {"E": "field", "V": "voltage", "d": "plate_separation"},
    _CP19 + ", section 2",
    "between parallel plates, away from the edges",
    {},
    frozenset({"E", "V", "d"}),
)
WORK_OF_VOLTAGE = Law(
    "work through a potential difference",
    "W = Q*V",
    {"W": "work", "Q": "charge", "V": "voltage"},
    _CP19 + ", section 1",
    "",
    {},
    frozenset({"W", "Q", "V"}),
    unless=frozenset({"capacitor"}),
)
GAIN_FROM_VOLTAGE = Law(
    "energy gained through a potential difference",
    "W = Q*V",
    {"W": "net_work", "Q": "charge", "V": "voltage"},
    _CP19 + ", section 1",
    "no other work is done",
    {},
    frozenset({"W", "Q", "V"}),
    needs=frozenset({"through-voltage"}),
)
KINETIC_FROM_VOLTAGE = Law(
    "kinetic energy from rest through a potential difference",
    "E_k = Q*V",
    {"E_k": "kinetic_energy", "Q": "charge", "V": "voltage"},
    _CP19 + ", section 1",
    "from rest",
    {},
    frozenset({"E_k", "Q", "V"}),
    needs=frozenset({"through-voltage"}),
    unless=frozenset({"initial-speed"}),
)
PLATE_FIELD = Law(
    "field between charged plates",
    "E = sigma/eps0",
    {"E": "field", "sigma": "surface_density"},
    _UP2 + ", section 6.4",
    "opposite charges on two plates",
    {"eps0": "eps0"},
    frozenset({"E", "sigma"}),
)
SURFACE_DENSITY = Law(
    "charge per area",
    "sigma = Q/A",
    {"sigma": "surface_density", "Q": "charge", "A": "area"},
    _UP2 + ", section 5.5",
    "",
    {},
    frozenset({"sigma", "Q"}),
)
LINE_FIELD = Law(
    "field of a long line of charge",
    "E = 2*k*lambda_/r",
    {"E": "field", "lambda_": "line_density", "r": "distance"},
    _UP2 + ", section 5.5",
    "near a long straight wire",
    {"k": "k"},
    frozenset({"E", "lambda_", "r"}),
    needs=frozenset({"long-line"}),
)
ALL = (
    COULOMB,
    EQUAL_COULOMB,
    POINT_FIELD,
    FORCE_IN_FIELD,
    POINT_POTENTIAL,
    PAIR_ENERGY,
    CHARGE_COUNT,
    ELECTRONS_MOVED,
    UNIFORM_FIELD,
    WORK_OF_VOLTAGE,
    GAIN_FROM_VOLTAGE,
    KINETIC_FROM_VOLTAGE,
    PLATE_FIELD,
    SURFACE_DENSITY,
    LINE_FIELD,
)
