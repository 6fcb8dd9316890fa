"""Numbers as they are written on a sheet, and what they are worth in SI.

Plain Python arithmetic on decimals, on purpose: nothing here uses the parser or the solver,
so that the truth of a sheet is independent of them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal

import numpy as np

# written unit -> (coherent SI unit, power of ten of the prefix)
UNITS: dict[str, tuple[str, int]] = {
    "C": ("C", 0),
    "mC": ("C", -3),
    "µC": ("C", -6),
    "nC": ("C", -9),
    "pC": ("C", -12),
    "m": ("m", 0),
    "cm": ("m", -2),
    "mm": ("m", -3),
    "N": ("N", 0),
    "mN": ("N", -3),
    "µN": ("N", -6),
    "N/C": ("N/C", 0),
    "kN/C": ("N/C", 3),
    "kg": ("kg", 0),
    "g": ("kg", -3),
    "mg": ("kg", -6),
    "": ("dimensionless", 0),
}
SLASHED_TO_RAISED = {"N/C": "N·C^{-1}", "kN/C": "kN·C^{-1}"}


@dataclass(frozen=True)
class Style:
    """House style of a sheet: decimal mark, compound units, spaces that may break, minus."""

    decimal: str = "."
    raised_units: bool = True
    breaking: bool = False
    minus: str = "−"

    def number(self, text: str) -> str:
        return text.replace(".", self.decimal)

    def unit(self, unit: str) -> str:
        return SLASHED_TO_RAISED.get(unit, unit) if self.raised_units else unit


@dataclass(frozen=True)
class Amount:
    """A quantity as written: sign, mantissa with a decimal point, power of ten, unit."""

    mantissa: str
    unit: str
    exponent: int | None = None
    sign: str = ""

    @property
    def si(self) -> tuple[float, str]:
        unit, power = UNITS[self.unit]
        value = Decimal(self.mantissa).scaleb((self.exponent or 0) + power)
        return float(-value if self.sign == "-" else value), unit

    @property
    def value(self) -> float:
        return self.si[0]

    @property
    def prefixed(self) -> bool:
        return UNITS[self.unit][1] != 0

    def printed(self, style: Style) -> str:
        """As set in print: real minus, spaces round the times sign."""
        gap = " " if style.breaking else "\u00a0"
        power = "" if self.exponent is None else f"{gap}×{gap}10^{{{self.exponent}}}"
        sign = self.sign
        text = f"{sign}{style.number(self.mantissa)}{power}{gap}{style.unit(self.unit)}"
        return text.replace("-", style.minus).rstrip()

    def written(self, style: Style) -> str:
        """As a learner copies it, sign and unit included, in linear notation."""
        power = "" if self.exponent is None else f"×10^{{{self.exponent}}}"
        return f"{self.sign}{style.number(self.mantissa)}{power} {style.unit(self.unit)}".rstrip()

    def converted(self, style: Style) -> str:
        """The bare SI number as substituted in a formula, without sign."""
        power = (self.exponent or 0) + UNITS[self.unit][1]
        if UNITS[self.unit][0] == "m" and self.exponent is None and power >= -3:
            return style.number(plain(Decimal(self.mantissa).scaleb(power)))
        return style.number(self.mantissa) + (f"×10^{{{power}}}" if power else "")

    def unconverted(self, style: Style) -> str:
        """The bare number with the prefix forgotten, without sign."""
        power = "" if self.exponent is None else f"×10^{{{self.exponent}}}"
        return style.number(self.mantissa) + power

    def miscopied(self, rng: np.random.Generator) -> Amount:
        """The same quantity with one figure copied wrongly."""
        places = [i for i, c in enumerate(self.mantissa) if c.isdigit() and c != "0"]
        place = int(rng.choice(places))
        old = int(self.mantissa[place])
        new = int(rng.choice([d for d in range(1, 10) if d != old]))
        return replace(self, mantissa=self.mantissa[:place] + str(new) + self.mantissa[place + 1 :])


def plain(value: Decimal) -> str:
    """A decimal without power of ten or trailing zeros."""
    text = format(value, "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def rounded(value: float, figures: int) -> tuple[str, int]:
    """Mantissa (one figure before the point) and exponent of ``value``, sign left out."""
    mantissa, exponent = f"{abs(value):.{figures - 1}e}".split("e")
    return mantissa, int(exponent)


def learner_number(value: float, style: Style, figures: int = 3) -> tuple[str, float]:
    """How a learner writes a computed number, and the number that then stands there.

    Zeros at the end are left out, but never down to one figure.
    """
    sign = "-" if value < 0 else ""
    mantissa, exponent = rounded(value, figures)
    if figures <= exponent <= 3:  # never "130" for 132
        mantissa, exponent = rounded(value, max(3, figures))
    while len(mantissa) > 3 and mantissa.endswith("0"):
        mantissa = mantissa[:-1]
    number = Decimal(mantissa).scaleb(exponent)
    plainly = -2 <= exponent <= 3
    text = format(number, "f") if plainly else f"{mantissa}×10^{{{exponent}}}"
    return sign + style.number(text), float(-number if sign else number)


def number_in(text: str) -> float:
    """The value of a bare number in linear notation, either decimal mark."""
    mantissa, _, power = text.replace(",", ".").partition("×10^{")
    return float(mantissa) * 10.0 ** int(power.rstrip("}") or 0)
