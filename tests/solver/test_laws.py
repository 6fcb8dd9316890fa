"""The law book: dimensions by pint, rearrangements by sympy, constants by pint's CODATA table."""

import pint
import pytest
import sympy

from solver.constants import CONSTANTS
from solver.derive.scalar import UNITS
from solver.laws import LAWS
from solver.laws.book import Law, equation_of, rearranged, symbol

REGISTRY: pint.UnitRegistry = pint.get_application_registry()


def _dimension(expression: sympy.Expr, units: dict[str, str]) -> object:
    """The unit of an expression, worked out by pint itself with one of everything."""
    names = sorted(s.name for s in expression.free_symbols)
    function = sympy.lambdify([symbol(n) for n in names], expression, _FUNCTIONS)
    quantity = function(*(REGISTRY.Quantity(2.0 + i, units[n]) for i, n in enumerate(names)))
    return REGISTRY.Quantity(quantity).to_base_units().dimensionality


_FUNCTIONS = [
    {"sqrt": lambda x: x**0.5, "sin": lambda x: x.m * 0 + 0.5, "cos": lambda x: x.m * 0 + 0.5},
    {"tan": lambda x: x.m * 0 + 0.5},
]


@pytest.mark.parametrize("law", LAWS, ids=lambda law: law.name)
def test_both_sides_of_a_law_have_one_dimension(law: Law) -> None:
    units = {s: UNITS[k] for s, k in law.symbols.items()}
    units |= {s: CONSTANTS[c].unit for s, c in law.constants.items()}
    equation = equation_of(law)
    assert _dimension(equation.lhs, units) == _dimension(equation.rhs, units)


@pytest.mark.parametrize("law", LAWS, ids=lambda law: law.name)
def test_every_rearrangement_solves_its_law(law: Law) -> None:
    equation = equation_of(law)
    for unknown in law.symbols:
        if unknown == "theta":
            continue
        for form in rearranged(law, unknown):
            numbers = {symbol(n): sympy.Float(1.3 + 0.7 * i) for i, n in enumerate(form.names)}
            value = form.expression.subs(numbers)
            if not value.is_real:
                continue
            rest = (equation.lhs - equation.rhs).subs({symbol(unknown): value}).subs(numbers)
            assert abs(float(rest)) < 1e-9 * (
                1 + abs(float(equation.rhs.subs(numbers).subs({symbol(unknown): value})))
            )


def test_every_law_names_its_source() -> None:
    assert all(law.source for law in LAWS)
    assert len({law.name for law in LAWS}) == len(LAWS)


@pytest.mark.parametrize(
    ("name", "pint_name"),
    [
        ("k", "1 / (4 * pi * vacuum_permittivity)"),
        ("e", "elementary_charge"),
        ("eps0", "vacuum_permittivity"),
        ("c", "speed_of_light"),
        ("h", "planck_constant"),
        ("m_e", "electron_mass"),
        ("m_p", "proton_mass"),
        ("m_n", "neutron_mass"),
        ("G", "newtonian_constant_of_gravitation"),
        ("N_A", "avogadro_constant"),
        ("k_B", "boltzmann_constant"),
    ],
)
def test_the_last_value_of_a_constant_is_codata(name: str, pint_name: str) -> None:
    """CODATA as pint ships it (constants_en.txt)."""
    constant = CONSTANTS[name]
    referee = REGISTRY.parse_expression(pint_name).to(constant.unit).magnitude
    assert constant.values[-1] == pytest.approx(referee, rel=1e-6)


@pytest.mark.parametrize("name", sorted(CONSTANTS))
def test_accepted_roundings_are_close_together(name: str) -> None:
    values = CONSTANTS[name].values
    assert max(values) / min(values) < 1.025
