"""Waves and photons.

Source of every law: OpenStax, College Physics 2e, chapters 16, 24, 25 and 29 (CC BY 4.0,
openstax.org).
"""

from __future__ import annotations

from solver.laws.book import Law

_CH16 = "OpenStax, College Physics 2e, chapter 16"
_CH24 = "OpenStax, College Physics 2e, chapter 24"
_CH29 = "OpenStax, College Physics 2e, chapter 29"
_LIGHT = frozenset({"light"})

WAVES = (
    Law(
        "wave equation",
        "v = f*lambda_",
        {"v": "wave_speed", "f": "frequency", "lambda_": "wavelength"},
        _CH16,
        unless=_LIGHT,
    ),
    Law("frequency and period", "f = 1/T", {"f": "frequency", "T": "period"}, _CH16),
    Law(
        "wave speed by the period",
        "v = lambda_/T",
        {"v": "wave_speed", "lambda_": "wavelength", "T": "period"},
        _CH16,
        unless=_LIGHT,
    ),
    Law(
        "light as a wave",
        "c = f*lambda_",
        {"f": "frequency", "lambda_": "wavelength"},
        _CH24,
        "in vacuum or air",
        {"c": "c"},
        needs=_LIGHT,
    ),
    Law(
        "frequency by counting",
        "f = N/t",
        {"f": "frequency", "N": "number", "t": "time"},
        _CH16,
        needs=frozenset({"counted-waves"}),
    ),
    Law(
        "refractive index",
        "v = c/n",
        {"v": "wave_speed", "n": "refractive_index"},
        "OpenStax, College Physics 2e, chapter 25",
        "",
        {"c": "c"},
    ),
    Law(
        "echo",
        "s = v*t/2",
        {"s": "distance", "v": "wave_speed", "t": "time"},
        "OpenStax, College Physics 2e, chapter 17",
        "there and back",
        needs=frozenset({"echo"}),
    ),
)
PHOTONS = (
    Law(
        "photon energy",
        "E = h*f",
        {"E": "photon_energy", "f": "frequency"},
        _CH29,
        "",
        {"h": "h"},
        needs=_LIGHT,
    ),
    Law(
        "photon energy by wavelength",
        "E = h*c/lambda_",
        {"E": "photon_energy", "lambda_": "wavelength"},
        _CH29,
        "",
        {"h": "h", "c": "c"},
        needs=_LIGHT,
    ),
    Law(
        "photons in a time",
        "P*t = n*E",
        {"P": "power", "t": "time", "n": "photon_count", "E": "photon_energy"},
        _CH29,
        "every photon carries the same energy",
        needs=_LIGHT,
    ),
    Law(
        "photoelectric effect",
        "E_k = E - phi",
        {"E_k": "kinetic_energy", "E": "photon_energy", "phi": "work_function"},
        _CH29,
        "fastest electrons",
    ),
    Law(
        "threshold wavelength",
        "phi = h*c/lambda_",
        {"phi": "work_function", "lambda_": "wavelength"},
        _CH29,
        "light that only just frees electrons",
        {"h": "h", "c": "c"},
        needs=frozenset({"threshold-wavelength"}),
    ),
    Law(
        "X-ray tube",
        "E = e*V",
        {"E": "photon_energy", "V": "voltage"},
        _CH29,
        "all the energy of one electron",
        {"e": "e"},
        needs=frozenset({"x-ray-tube"}),
    ),
    Law(
        "threshold frequency",
        "phi = h*f_0",
        {"phi": "work_function", "f_0": "threshold_frequency"},
        _CH29,
        "",
        {"h": "h"},
    ),
    Law(
        "speed of an electron by its energy",
        "E_k = m_e*v**2/2",
        {"E_k": "kinetic_energy", "v": "speed"},
        _CH29,
        "speeds far below that of light",
        {"m_e": "m_e"},
        needs=frozenset({"photoelectrons"}),
    ),
    Law(
        "stopping potential",
        "E_k = e*V",
        {"E_k": "kinetic_energy", "V": "voltage"},
        _CH29,
        "",
        {"e": "e"},
        needs=frozenset({"photoelectrons"}),
    ),
)
ALL = (*WAVES, *PHOTONS)
