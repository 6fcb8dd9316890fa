"""Physical constants, each with every value that school work accepts.

The first value of each is the one our derivations print. Accepted roundings are common
practice, no source, unless named; the last value of each set is CODATA 2018 rounded
(https://physics.nist.gov/cuu/Constants/), checked in the tests against scipy's table or pint.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class Constant:
    """``values`` are all accepted; ``unit`` is coherent SI in pint's spelling."""

    name: str
    symbol: str
    values: tuple[float, ...]
    unit: str
    meaning: str

    @property
    def value(self) -> float:
        return self.values[0]


CONSTANTS: Mapping[str, Constant] = {
    c.name: c
    for c in (
        Constant("k", "k", (9.0e9, 8.99e9, 8.9875517923e9), "N*m**2/C**2", "Coulomb constant"),
        Constant("e", "e", (1.6e-19, 1.602e-19, 1.602176634e-19), "C", "elementary charge"),
        Constant("g", "g", (9.8, 9.81, 10.0, 9.80665), "m/s**2", "acceleration of free fall"),
        Constant(
            "eps0", "ε_0", (8.85e-12, 8.854e-12, 8.8541878128e-12), "F/m", "permittivity of vacuum"
        ),
        Constant("c", "c", (3.0e8, 2.998e8, 2.99792458e8), "m/s", "speed of light"),
        Constant("h", "h", (6.63e-34, 6.626e-34, 6.62607015e-34), "J*s", "Planck constant"),
        Constant("m_e", "m_e", (9.11e-31, 9.1093837e-31), "kg", "mass of the electron"),
        Constant("m_p", "m_p", (1.67e-27, 1.673e-27, 1.67262192e-27), "kg", "mass of the proton"),
        Constant("m_n", "m_n", (1.67e-27, 1.675e-27, 1.67492750e-27), "kg", "mass of the neutron"),
        Constant(
            "m_alpha",
            "m_α",
            (6.64e-27, 6.65e-27, 6.6446573e-27),
            "kg",
            "mass of the alpha particle",
        ),
        Constant(
            "G", "G", (6.67e-11, 6.674e-11, 6.6743e-11), "N*m**2/kg**2", "gravitational constant"
        ),
        Constant("N_A", "N_A", (6.02e23, 6.022e23, 6.02214076e23), "1/mol", "Avogadro constant"),
        Constant("k_B", "k_B", (1.38e-23, 1.381e-23, 1.380649e-23), "J/K", "Boltzmann constant"),
        Constant("rho_water", "ρ", (1000.0, 998.0), "kg/m**3", "density of water"),
    )
}

# What a sheet may state, told by the unit and the letter it is given to.
STATED_BY_UNIT: Mapping[str, str] = {
    "N*m**2/C**2": "k",
    "J*s": "h",
    "F/m": "eps0",
    "C**2/N/m**2": "eps0",
    "N*m**2/kg**2": "G",
}
STATED_BY_SYMBOL: Mapping[str, tuple[str, str]] = {
    "e": ("e", "C"),
    "g": ("g", "m/s**2"),
    "c": ("c", "m/s"),
    "k": ("k", "N*m**2/C**2"),
    "h": ("h", "J*s"),
}
PARTICLE_MASS: Mapping[str, str] = {"e": "m_e", "p": "m_p", "n": "m_n", "alpha": "m_alpha"}
