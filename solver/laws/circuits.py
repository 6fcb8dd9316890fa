"""Current, resistance, electrical power and capacitors.

Source of every law: OpenStax, College Physics 2e, chapters 19 to 21 (CC BY 4.0, openstax.org).
"""

from __future__ import annotations

from solver.laws.book import Law

_CH19 = "OpenStax, College Physics 2e, chapter 19"
_CH20 = "OpenStax, College Physics 2e, chapter 20"
_CH21 = "OpenStax, College Physics 2e, chapter 21"
_IDEAL = frozenset({"internal-resistance"})

CURRENT = (
    Law("current", "I = Q/t", {"I": "current", "Q": "charge", "t": "time"}, _CH20),
    Law("Ohm's law", "V = I*R", {"V": "voltage", "I": "current", "R": "resistance"}, _CH20),
    Law(
        "supply without internal resistance",
        "V = emf",
        {"V": "voltage", "emf": "emf"},
        _CH21,
        "no internal resistance",
        unless=_IDEAL,
        cost=0.1,
    ),
    Law(
        "lost volts",
        "V = emf - I*r",
        {"V": "voltage", "emf": "emf", "I": "current", "r": "internal_resistance"},
        _CH21,
        "source with internal resistance",
    ),
    Law(
        "whole circuit",
        "emf = I*(R + r)",
        {"emf": "emf", "I": "current", "R": "resistance", "r": "internal_resistance"},
        _CH21,
        "one loop",
    ),
    Law("electrical power", "P = V*I", {"P": "power", "V": "voltage", "I": "current"}, _CH20),
    Law(
        "power in a resistor",
        "P = I**2*R",
        {"P": "power", "I": "current", "R": "resistance"},
        _CH20,
    ),
    Law(
        "power across a resistor",
        "P = V**2/R",
        {"P": "power", "V": "voltage", "R": "resistance"},
        _CH20,
        cost=1.05,
    ),
    Law("electrical energy", "E = P*t", {"E": "energy", "P": "power", "t": "time"}, _CH20),
    Law(
        "heat in a resistor",
        "E = I**2*R*t",
        {"E": "energy", "I": "current", "R": "resistance", "t": "time"},
        _CH20,
        cost=1.05,
    ),
    Law(
        "energy of moved charge",
        "E = Q*V",
        {"E": "energy", "Q": "charge", "V": "voltage"},
        _CH19,
        "charge moved through a potential difference",
        unless=frozenset({"capacitor"}),
    ),
    Law(
        "resistivity",
        "R = rho*L/A",
        {"R": "resistance", "rho": "resistivity", "L": "length", "A": "area"},
        _CH20,
    ),
)
CAPACITORS = (
    Law("capacitance", "C = Q/V", {"C": "capacitance", "Q": "charge", "V": "voltage"}, _CH19),
    Law(
        "energy of a capacitor",
        "E = C*V**2/2",
        {"E": "energy", "C": "capacitance", "V": "voltage"},
        _CH19,
        needs=frozenset({"capacitor"}),
    ),
    Law(
        "energy of a charged capacitor",
        "E = Q*V/2",
        {"E": "energy", "Q": "charge", "V": "voltage"},
        _CH19,
        needs=frozenset({"capacitor"}),
    ),
    Law(
        "energy by charge",
        "E = Q**2/(2*C)",
        {"E": "energy", "Q": "charge", "C": "capacitance"},
        _CH19,
        needs=frozenset({"capacitor"}),
    ),
    Law(
        "parallel-plate capacitor",
        "C = eps0*A/d",
        {"C": "capacitance", "A": "area", "d": "plate_separation"},
        _CH19,
        "air or vacuum between",
        {"eps0": "eps0"},
        unless=frozenset({"dielectric"}),
    ),
    Law(
        "parallel-plate capacitor with a dielectric",
        "C = kappa*eps0*A/d",
        {"C": "capacitance", "kappa": "dielectric_constant", "A": "area", "d": "plate_separation"},
        _CH19,
        "filled with a dielectric",
        {"eps0": "eps0"},
        needs=frozenset({"dielectric"}),
    ),
)
ALL = (*CURRENT, *CAPACITORS)
