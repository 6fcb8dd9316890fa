"""What learners write and sheets print, as labels in the notation, drawn at random.

``sample(rng, kind)`` gives one label.  Values, exponents, signs and units are drawn without
regard to physics in half of the lines: the reader must learn shapes, not what is likely.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from numpy.random import Generator

from scanner.reader.notation import CHARACTERS, STRUCK, normalise
from scanner.training.words import COMMON_WORDS, NAMES, PHYSICS_WORDS, SENTENCE_PIECES

LETTERS = "abcdefghijklmnopqrstuvwxyz"
CAPITALS = LETTERS.upper()
# Look-alikes first: what is confused must be practised.
HARD = "17I l49O06o5S2zZ8B3µumwpx×+t-=.,;:'\"()[]/|°CcGgqyvVuUkKnNrhfjiQDaeEF"
RANDOM_CHARS = "0123456789" * 3 + CAPITALS + LETTERS + "+-×·/()=.,%µΩθλρεΔπ" * 2
RARE_CHARS = "".join(sorted(CHARACTERS - {" "}))


def pick(rng: Generator, options: Sequence):
    """One of ``options``, all equally likely (much quicker than ``rng.choice``)."""
    return options[int(rng.random() * len(options))]


def chance(rng: Generator, probability: float) -> bool:
    return rng.random() < probability


# --- numbers and units --------------------------------------------------------------------------


def digits(rng: Generator, count: int, leading_zero: bool = False) -> str:
    first = "0123456789" if leading_zero else "123456789"
    return pick(rng, first) + "".join(pick(rng, "0123456789") for _ in range(count - 1))


def decimal(rng: Generator, mark: str) -> str:
    form = rng.random()
    if form < 0.42:
        return pick(rng, "123456789") + mark + digits(rng, pick(rng, (1, 1, 2, 2, 2, 3)), True)
    if form < 0.62:
        return digits(rng, pick(rng, (1, 1, 2, 2, 3)))
    if form < 0.8:
        return "0" + mark + "0" * pick(rng, (0, 0, 0, 1, 1, 2, 3)) + digits(rng, pick(rng, (1, 2)))
    if form < 0.93:
        return digits(rng, pick(rng, (2, 2, 3))) + mark + digits(rng, pick(rng, (1, 1, 2)), True)
    if form < 0.96:
        return mark + digits(rng, pick(rng, (1, 2)))
    return digits(rng, pick(rng, (4, 5, 6)))


def grouped(rng: Generator) -> str:
    gap = pick(rng, (" ", " ", ",", "."))
    return digits(rng, pick(rng, (1, 2, 3))) + "".join(
        gap + digits(rng, 3, True) for _ in range(pick(rng, (1, 1, 2)))
    )


def decimal_mark(rng: Generator) -> str:
    return "." if chance(rng, 0.55) else ","


def times(rng: Generator) -> str:
    """A times sign; a letter x between numbers counts as ``×`` and is drawn among its shapes."""
    draw = rng.random()
    return "×" if draw < 0.84 else "·" if draw < 0.94 else "*"


def exponent(rng: Generator) -> str:
    draw = rng.random()
    if draw < 0.7:
        size = pick(rng, "12345678999666")
    elif draw < 0.95:
        size = str(10 + int(rng.random() * 22))
    else:
        size = digits(rng, pick(rng, (1, 2, 2, 3)))
    sign = rng.random()
    return ("-" if sign < 0.58 else "+" if sign > 0.985 else "") + size


def scientific(rng: Generator, mark: str, by: str) -> str:
    mantissa = decimal(rng, mark) if chance(rng, 0.93) else ""
    power = f"10^{{{exponent(rng)}}}"
    return f"{mantissa}{by}{power}" if mantissa else power


def number(rng: Generator, mark: str, by: str, power_share: float = 0.5) -> str:
    if chance(rng, power_share):
        return scientific(rng, mark, by)
    return decimal(rng, mark) if chance(rng, 0.93) else grouped(rng)


def sign(rng: Generator, share: float = 0.4) -> str:
    return pick(rng, "---+") if chance(rng, share) else ""


PREFIXES = ("µ", "n", "p", "m", "k", "c", "M", "µ", "n", "G", "d")
BASES = ("C", "C", "N", "V", "A", "J", "W", "m", "F", "g", "s", "Hz", "Pa", "eV", "Ω", "T", "K")
PLAIN_UNITS = (
    *("C", "N", "m", "nC", "µC", "pC", "mC", "kC", "cm", "mm", "km", "nm", "µm", "kg", "g", "mg"),
    *("V", "kV", "mV", "J", "kJ", "mJ", "µJ", "eV", "MeV", "s", "ms", "min", "h", "Hz", "kHz"),
    *("W", "kW", "A", "mA", "µA", "Ω", "kΩ", "F", "µF", "nF", "pF", "Pa", "kPa", "°", "°C", "K"),
    *("N", "mN", "µN", "kN", "T", "electrons", "protons", "e", "%", "rad", "L", "ml"),
)


def compound_unit(rng: Generator) -> str:
    top = pick(rng, ("N", "V", "C", "m", "J", "kg", "N", "N", "m", "km", "g", "kg·m", "N·m", "W"))
    low = pick(rng, ("C", "m", "s", "kg", "A", "C", "s", "m", "h", "mol", "K", "cm", "V"))
    power = pick(rng, ("", "", "", "2", "2", "3"))
    style = rng.random()
    if style < 0.45:
        dot = "·" if chance(rng, 0.7) else pick(rng, (".", " "))
        return f"{top}{dot}{low}^{{-{power or 1}}}"
    if style < 0.9:
        return f"{top}/{low}" + (f"^{{{power}}}" if power else "")
    return rf"\frac{{{top}}}{{{low}" + (f"^{{{power}}}" if power else "") + "}"


def coulomb_constant_unit(rng: Generator) -> str:
    dot = pick(rng, ("·", "·", "."))
    return pick(
        rng,
        (
            f"N{dot}m^{{2}}{dot}C^{{-2}}",
            f"N{dot}m^{{2}}/C^{{2}}",
            "Nm^{2}/C^{2}",
            f"C^{{2}}{dot}N^{{-1}}{dot}m^{{-2}}",
            "Nm^{2}C^{-2}",
            "F/m",
            f"F{dot}m^{{-1}}",
        ),
    )


def unit(rng: Generator) -> str:
    draw = rng.random()
    if draw < 0.56:
        return pick(rng, PLAIN_UNITS)
    if draw < 0.74:
        return pick(rng, PREFIXES) + pick(rng, BASES)
    if draw < 0.97:
        return compound_unit(rng)
    return coulomb_constant_unit(rng)


def joined_unit(value: str, name: str) -> str:
    """``value name``: one space before a unit, none before a degree or per cent sign."""
    return value + name if name in ("°", "%") else f"{value} {name}"


def quantity(rng: Generator, mark: str, by: str, power_share: float = 0.5) -> str:
    return joined_unit(number(rng, mark, by, power_share), unit(rng))


# --- symbols ------------------------------------------------------------------------------------

SYMBOLS = (
    *("F", "E", "Q", "q", "V", "W", "r", "d", "n", "k", "m", "g", "a", "v", "u", "s", "t", "x"),
    *("F", "E", "Q", "q", "P", "I", "R", "C", "T", "f", "p", "U", "h", "c", "e", "N", "A", "y"),
    *("λ", "θ", "σ", "ρ", "ε", "Δx", "Δv", "Δp", "Δt", "Δy", "ω", "φ", "α", "β", "µ", "Q", "E"),
)
SUBSCRIPTS = (
    *("1", "2", "3", "0", "1", "2", "A", "B", "C", "P", "X", "Y", "x", "y", "net", "new", "g"),
    *("E", "e", "f", "i", "k", "p", "AB", "BA", "12", "21", "res", "total", "T", "max", "min"),
    *("13", "23", "AC", "on A", "A on B", "res", "av", "s", "t", "R", "N", "W", "n", "final"),
)


def symbol(rng: Generator, subscript_share: float = 0.45) -> str:
    base = pick(rng, SYMBOLS)
    return base + f"_{{{pick(rng, SUBSCRIPTS)}}}" if chance(rng, subscript_share) else base


# --- whole lines --------------------------------------------------------------------------------

DIRECTIONS = (
    *("left", "right", "up", "down", "north", "south", "east", "west", "to the left"),
    *("to the right", "upwards", "downwards", "upward", "downward", "North", "South", "East"),
    *("West", "north-east", "south-west", "NE", "SW", "towards P", "towards A", "towards B"),
    *("away from A", "away from B", "towards Q_{1}", "away from Q_{2}", "attractive", "repulsive"),
    *("to the east", "to the west", "due north", "due south", "due east", "due west", "attract"),
    *("repel", "attraction", "repulsion", "left", "right", "from A to B", "from B to A"),
    *("towards the negative plate", "towards the positive plate", "away from the wall"),
    *("away from the sphere", "into the page", "out of the page", "clockwise", "anticlockwise"),
    *("vertically up", "vertically down", "horizontally left", "to the centre", "inwards"),
    *("outwards", "towards bead A", "away from bead B", "upwards", "downwards", "east", "west"),
    *("positive", "negative", "opposite direction", "same direction", "to P", "R", "L", "N", "S"),
)
NUMBERED_DIRECTIONS = ("above the horizontal", "below the x-axis", "north of east", "S of W")


def direction(rng: Generator) -> str:
    draw = rng.random()
    if draw < 0.8:
        words = pick(rng, DIRECTIONS)
    elif draw < 0.9:
        words = f"{pick(rng, ('towards', 'away from'))} {pick(rng, CAPITALS)}"
        words += f"_{{{pick(rng, '123')}}}" if chance(rng, 0.2) else ""
    else:
        degrees = decimal(rng, decimal_mark(rng))
        words = f"{degrees}° {pick(rng, NUMBERED_DIRECTIONS)}"
    return words.capitalize() if chance(rng, 0.1) and "_" not in words else words


def direction_line(rng: Generator) -> str:
    words = direction(rng)
    if chance(rng, 0.2):
        words = f"{pick(rng, ('Direction', 'Answer', 'It moves', 'Force is', 'ans'))}: {words}"
    if chance(rng, 0.12):
        words += "."
    return f"({words})" if chance(rng, 0.06) else words


def answer(rng: Generator) -> str:
    """A final answer: often with its symbol, a unit and a direction."""
    mark, by = decimal_mark(rng), times(rng)
    draw = rng.random()
    parts = ""
    if draw < 0.62:
        parts = symbol(rng) + ("=" if chance(rng, 0.95) else "≈")
    elif draw < 0.65:
        parts = pick(rng, ("ans=", "Ans: ", "Answer: ", "=", "≈", "x="))
    if chance(rng, 0.08):
        parts = "∴" + parts
    value = sign(rng) + number(rng, mark, by)
    line = parts + (joined_unit(value, unit(rng)) if chance(rng, 0.88) else value)
    if chance(rng, 0.25):
        words = direction(rng)
        line += f", {words}" if chance(rng, 0.15) else f" {words}"
    if chance(rng, 0.04):
        line += "."
    return line


USUAL_POWERS = {"F": (-6, -1), "E": (3, 6), "Q": (-9, -6), "n": (8, 14), "V": (2, 5), "W": (-7, -3)}
USUAL_UNITS = {
    "F": ("N",),
    "E": ("N·C^{-1}", "N/C", "V/m"),
    "Q": ("C",),
    "n": ("electrons",),
    "V": ("V",),
    "W": ("J",),
    "r": ("m",),
}


def _shaped_answer(rng: Generator, plausible: bool) -> str:
    """One shape for both, so that only the values tell plausible and implausible lines apart."""
    mark, by = decimal_mark(rng), times(rng)
    what = pick(rng, tuple(USUAL_UNITS))
    lead = pick(rng, "123456789") + mark + digits(rng, pick(rng, (1, 2, 2)), True)
    subscript = f"_{{{pick(rng, ('net', 'A', 'B', '1', '2', 'new'))}}}" if chance(rng, 0.3) else ""
    low, high = USUAL_POWERS.get(what, (-3, -1))
    power = low + int(rng.random() * (high - low + 1))
    name = pick(rng, USUAL_UNITS[what])
    minus = "-" if what == "Q" and chance(rng, 0.5) else ""
    if not plausible:
        power = -power if chance(rng, 0.5) else int(rng.random() * 60) - 30
        name = pick(rng, USUAL_UNITS[pick(rng, tuple(USUAL_UNITS))])
        minus = "-" if chance(rng, 0.14) else ""
    line = f"{what}{subscript}={minus}{lead}{by}10^{{{power}}} {name}"
    if what in "FE" and chance(rng, 0.5):
        line += " " + pick(rng, ("to the left", "to the right", "left", "right", "towards P"))
    return line


def plausible_answer(rng: Generator) -> str:
    """An answer such as a worksheet on electrostatics really has."""
    return _shaped_answer(rng, plausible=True)


def implausible_answer(rng: Generator) -> str:
    """The same shape with an exponent, sign and unit that no worksheet would have."""
    return _shaped_answer(rng, plausible=False)


def _f(top: str, low: str) -> str:
    return rf"\frac{{{top}}}{{{low}}}"


FORMULAS = (
    *(r"F=\frac{kQ_{1}Q_{2}}{r^{2}}", r"F=k\frac{Q_{1}Q_{2}}{r^{2}}", r"E=\frac{F}{q}"),
    *(r"E=\frac{kQ}{r^{2}}", r"Q=\frac{Q_{1}+Q_{2}}{2}", r"n=\frac{Q}{e}", "Q=ne", "F=Eq", "F=qE"),
    *(r"Q_{new}=\frac{Q_{1}+Q_{2}+Q_{3}}{3}", r"E=\frac{V}{d}", r"V=\frac{W}{q}", "W=qV"),
    *(r"V=\frac{kQ}{r}", r"U=\frac{kQ_{1}Q_{2}}{r}", r"C=\frac{Q}{V}", "Q=CV"),
    *(r"C=\frac{ε_{0}A}{d}", r"E=\frac{σ}{ε_{0}}", r"E=\frac{λ}{2πε_{0}r}", r"E=\frac{1}{2}CV^{2}"),
    *(r"U=\frac{1}{2}QV", r"r=\sqrt{\frac{kQ_{1}Q_{2}}{F}}", r"r^{2}=\frac{kQ_{1}Q_{2}}{F}"),
    *(
        "F_{net}=F_{1}+F_{2}",
        "F_{net}=F_{1}-F_{2}",
        "F_{net}=ma",
        "F_{net}=0",
        "E_{net}=E_{1}+E_{2}",
    ),
    *(
        r"F_{R}=\sqrt{F_{1}^{2}+F_{2}^{2}}",
        r"tanθ=\frac{F_{y}}{F_{x}}",
        r"θ=tan^{-1}\frac{F_{2}}{F_{1}}",
    ),
    *("F_{x}=Fcosθ", "F_{y}=Fsinθ", "R^{2}=x^{2}+y^{2}", r"R=\sqrt{x^{2}+y^{2}}"),
    *("v=u+at", r"s=ut+\frac{1}{2}at^{2}", "v^{2}=u^{2}+2as", r"s=\frac{(u+v)}{2}t"),
    *("v_{f}=v_{i}+aΔt", "v_{f}^{2}=v_{i}^{2}+2aΔx", r"Δx=v_{i}Δt+\frac{1}{2}aΔt^{2}"),
    *(
        r"Δx=\frac{v_{i}+v_{f}}{2}Δt",
        "F=ma",
        "w=mg",
        "W=mg",
        "F_{g}=mg",
        r"F=\frac{Gm_{1}m_{2}}{r^{2}}",
    ),
    *(r"a=\frac{F}{m}", "p=mv", r"F_{net}Δt=Δp", r"F=\frac{Δp}{Δt}", "Δp=mv_{f}-mv_{i}"),
    *("W=Fd cosθ", "W=FΔxcosθ", r"E_{k}=\frac{1}{2}mv^{2}", "E_{p}=mgh", r"P=\frac{W}{t}", "P=Fv"),
    *(
        "mgh=" + _f("1", "2") + "mv^{2}",
        "W_{net}=ΔE_{k}",
        r"v=\sqrt{2gh}",
        r"v=\sqrt{\frac{2qV}{m}}",
    ),
    *("V=IR", r"R=\frac{V}{I}", r"I=\frac{Q}{t}", r"R=\frac{ρL}{A}", "P=VI", "P=I^{2}R"),
    *(
        r"P=\frac{V^{2}}{R}",
        r"\frac{1}{R_{p}}=\frac{1}{R_{1}}+\frac{1}{R_{2}}",
        "R_{s}=R_{1}+R_{2}",
    ),
    *(r"R_{p}=\frac{R_{1}R_{2}}{R_{1}+R_{2}}", r"\frac{1}{C}=\frac{1}{C_{1}}+\frac{1}{C_{2}}"),
    *("ε=I(R+r)", "emf=I(R+r)", "v=fλ", "c=fλ", r"f=\frac{1}{T}", "E=hf", r"E=\frac{hc}{λ}"),
    *("hf=W_{0}+E_{k(max)}", r"λ=\frac{h}{mv}", "n_{1}sinθ_{1}=n_{2}sinθ_{2}", r"n=\frac{c}{v}"),
    *(r"sinθ=\frac{mλ}{a}", r"f_{L}=\frac{v±v_{L}}{v±v_{s}}f_{s}", r"T=2π\sqrt{\frac{l}{g}}"),
    *("mg=qE", "qE=mg", "F_{E}=F_{g}", r"q=\frac{mgd}{V}", "F∝" + _f("1", "r^{2}"), "F∝Q_{1}Q_{2}"),
    *(r"\frac{F_{2}}{F_{1}}=\frac{Q_{1}'Q_{2}'}{Q_{1}Q_{2}}", r"F'=\frac{1}{4}F", "F_{2}=4F_{1}"),
    *(r"\frac{kQ_{1}}{x^{2}}=\frac{kQ_{2}}{(d-x)^{2}}", "ΔQ=Q_{f}-Q_{i}", "Q_{T}=Q_{1}+Q_{2}"),
    *(r"n_{e}=\frac{ΔQ}{q_{e}}", r"Q_{each}=\frac{Q_{A}+Q_{B}}{2}", "W=qEd", "a=" + _f("qE", "m")),
    *(r"x=\frac{-b±\sqrt{b^{2}-4ac}}{2a}", "y=mx+c", "a^{2}+b^{2}=c^{2}", "PV=nRT", "Q=mcΔT"),
    *("E_{1}=E_{2}", "F_{12}=-F_{21}", "F_{AB}=F_{BA}", "T cosθ=mg", "T sinθ=F_{E}"),
)


def formula(rng: Generator) -> str:
    draw = rng.random()
    if draw < 0.55:
        line = pick(rng, FORMULAS)
        if chance(rng, 0.35):
            old, new = pick(rng, (("Q", "q"), ("_{1}", "_{A}"), ("_{2}", "_{B}"), ("r", "d")))
            line = line.replace(old, new) if "\\" not in line or old != "r" else line
            if old == "_{1}":
                line = line.replace("_{2}", "_{B}")
        if chance(rng, 0.15) and "=" in line:
            left, _, right = line.partition("=")
            line = f"{right}={left}" if chance(rng, 0.3) else right
        return "∴" + line if chance(rng, 0.06) else line
    left = symbol(rng)
    right = _expression(rng, depth=pick(rng, (1, 2, 2, 3)))
    return f"{left}={right}" if chance(rng, 0.85) else right


def _atom(rng: Generator) -> str:
    draw = rng.random()
    if draw < 0.7:
        return symbol(rng)
    if draw < 0.82:
        return pick(rng, "2345678910")
    if draw < 0.92:
        base = pick(rng, SYMBOLS)
        power = pick(rng, ("2", "2", "2", "3", "-1", "-2", "n", "2x", "x"))
        subscript = f"_{{{pick(rng, SUBSCRIPTS)}}}" if chance(rng, 0.3) else ""
        return f"{base}{subscript}^{{{power}}}"
    if draw < 0.96:
        inner = pick(rng, SYMBOLS[:30]) + pick(rng, ("^{2}", "_{1}", "_{2}", ""))
        return pick(rng, SYMBOLS[:30]) + pick(rng, ("_{", "^{")) + inner + "}"
    return pick(rng, ("sinθ", "cosθ", "tanθ", "cos30°", "sin45°", "π", "2π", "log x", "e^{-x}"))


def _product(rng: Generator) -> str:
    return "".join(_atom(rng) for _ in range(pick(rng, (1, 1, 2, 2, 3))))


def _expression(rng: Generator, depth: int) -> str:
    draw = rng.random()
    if depth <= 1 or draw < 0.22:
        return _product(rng)
    if draw < 0.6:
        return _f(_expression(rng, depth - 1), _expression(rng, depth - 1))
    if draw < 0.78:
        operator = pick(rng, "+-+-×·")
        return _expression(rng, depth - 1) + operator + _expression(rng, depth - 1)
    if draw < 0.88:
        power = pick(rng, ("", "^{2}", "^{2}", "^{3}"))
        return f"({_expression(rng, depth - 1)}){power}"
    return rf"\sqrt{{{_expression(rng, depth - 1)}}}"


def _bracketed(rng: Generator, mark: str, by: str, units: float) -> str:
    value = sign(rng, 0.3) + number(rng, mark, by, 0.65)
    if chance(rng, units):
        value = joined_unit(value, unit(rng) if chance(rng, 0.3) else pick(rng, PLAIN_UNITS[:16]))
    return f"({value})"


def _factor(rng: Generator, mark: str, by: str) -> str:
    if chance(rng, 0.6):
        return _bracketed(rng, mark, by, 0.15)
    return number(rng, mark, by, 0.7)


def _factors(rng: Generator, count: int, mark: str, by: str) -> str:
    parts = [_factor(rng, mark, by) for _ in range(count)]
    line = parts[0]
    for part in parts[1:]:
        bare = line.endswith(")") and part.startswith("(")
        line += ("" if bare and chance(rng, 0.7) else by) + part
    return line


def _denominator(rng: Generator, mark: str, by: str) -> str:
    draw = rng.random()
    if draw < 0.35:
        return f"({decimal(rng, mark)})^{{2}}"
    if draw < 0.55:
        return f"{decimal(rng, mark)}^{{2}}"
    if draw < 0.65:
        return f"({scientific(rng, mark, by)})^{{2}}"
    if draw < 0.72:
        inner = f"{decimal(rng, mark)}{pick(rng, '+-')}{decimal(rng, mark)}"
        return f"({inner})^{{2}}"
    if draw < 0.78:
        return joined_unit(decimal(rng, mark), pick(rng, ("m", "cm", "C", "mm"))) + pick(
            rng, ("", "^{2}")
        )
    return number(rng, mark, by, 0.5)


def substitution(rng: Generator) -> str:
    """Numbers put into a law: mostly a stacked fraction, sometimes a root or a plain product."""
    mark, by = decimal_mark(rng), times(rng)
    lead = symbol(rng) + "=" if chance(rng, 0.75) else "=" if chance(rng, 0.5) else ""
    draw = rng.random()
    if draw < 0.6:
        top = _factors(rng, pick(rng, (1, 2, 2, 3, 3)), mark, by)
        body = _f(top, _denominator(rng, mark, by))
    elif draw < 0.7:
        a = sign(rng, 0.3) + number(rng, mark, by, 0.4)
        b = number(rng, mark, by, 0.4)
        if chance(rng, 0.35):
            b = f"({sign(rng, 0.8)}{b})"
        body = _f(f"{a}{pick(rng, '+-')}{b}", pick(rng, ("2", "3", "2", "4")))
    elif draw < 0.8:
        body = _factors(rng, pick(rng, (2, 3)), mark, by)
    elif draw < 0.86:
        body = rf"\sqrt{{{decimal(rng, mark)}^{{2}}+{decimal(rng, mark)}^{{2}}}}"
    elif draw < 0.9:
        inside = _f(_factors(rng, 2, mark, by), _denominator(rng, mark, by))
        body = rf"\sqrt{{{inside}}}"
    elif draw < 0.95:
        body = (
            _f(_factors(rng, 1, mark, by), _denominator(rng, mark, by))
            + pick(rng, "+-×")
            + _f(_factors(rng, 1, mark, by), _denominator(rng, mark, by))
        )
    else:
        half = _f("1", "2") + f"({decimal(rng, mark)})({decimal(rng, mark)})^{{2}}"
        body = half
    if chance(rng, 0.12):
        body += "=" + quantity(rng, mark, by)
    return lead + body


def sum_line(rng: Generator) -> str:
    """Sums and differences of numbers, with and without a result."""
    mark, by = decimal_mark(rng), times(rng)
    share = 0.3 if chance(rng, 0.5) else 0.0
    count = pick(rng, (2, 2, 2, 3, 3, 4))
    terms = [sign(rng, 0.25) + number(rng, mark, by, share)]
    for _ in range(count - 1):
        term = number(rng, mark, by, share)
        if chance(rng, 0.2):
            term = f"({sign(rng, 0.8)}{term})"
        terms.append(pick(rng, ("+", "-", "-", by, "÷" if chance(rng, 0.3) else "+")) + term)
    line = "".join(terms)
    if chance(rng, 0.3):
        line = symbol(rng) + "=" + line
    if chance(rng, 0.4):
        line += "=" + sign(rng) + number(rng, mark, by, share)
        if chance(rng, 0.4):
            line = joined_unit(line, unit(rng))
    return line


def chain(rng: Generator) -> str:
    """``a=b=c``: a symbol, a step and a result in one line."""
    mark, by = decimal_mark(rng), times(rng)
    last = joined_unit(sign(rng) + number(rng, mark, by), unit(rng))
    steps = [
        lambda: _f(sign(rng, 0.2) + number(rng, mark, by, 0.4), decimal(rng, mark)),
        lambda: number(rng, mark, by),
        lambda: f"{number(rng, mark, by, 0.4)}{pick(rng, '+-')}{number(rng, mark, by, 0.4)}",
        lambda: symbol(rng) + symbol(rng),
        lambda: _f(symbol(rng), symbol(rng)),
        lambda: f"{decimal(rng, mark)}/{decimal(rng, mark)}",
    ]
    middle = "=".join(pick(rng, steps)() for _ in range(pick(rng, (1, 1, 2))))
    return f"{symbol(rng)}={middle}={last}"


def ratio(rng: Generator) -> str:
    mark = decimal_mark(rng)
    return pick(
        rng,
        (
            lambda: f"{digits(rng, 1)}:{digits(rng, pick(rng, (1, 1, 2)))}",
            lambda: f"{symbol(rng)}:{symbol(rng)}={digits(rng, 1)}:{digits(rng, 1)}",
            lambda: _f(digits(rng, 1), digits(rng, 1)) + pick(rng, ("", symbol(rng))),
            lambda: f"{digits(rng, 1)}/{digits(rng, pick(rng, (1, 2)))}",
            lambda: f"{_f(symbol(rng), symbol(rng))}={_f(digits(rng, 1), digits(rng, 1))}",
            lambda: f"{decimal(rng, mark)} times {pick(rng, ('bigger', 'smaller', 'as large'))}",
            lambda: f"{symbol(rng)}={_f(digits(rng, 1), digits(rng, 2))}{symbol(rng)}",
            lambda: f"{pick(rng, ('halved', 'doubled', 'times'))} {decimal(rng, mark)}",
            lambda: f"{symbol(rng)}={decimal(rng, mark)}{symbol(rng)}",
        ),
    )()


def given_line(rng: Generator) -> str:
    """Data taken down: ``r=0,3 m  Q_{1}=+2 nC``, or a unit converted."""
    mark, by = decimal_mark(rng), times(rng)
    if chance(rng, 0.5):
        return f"{symbol(rng)}={sign(rng)}{quantity(rng, mark, by, 0.4)}"
    if chance(rng, 0.5):
        return f"{quantity(rng, mark, by, 0.1)}={quantity(rng, mark, by, 0.7)}"
    gap = pick(rng, (", ", "; ", " and ", " "))
    return gap.join(f"{symbol(rng)}={sign(rng)}{quantity(rng, mark, by, 0.4)}" for _ in range(2))


def label_mark(rng: Generator) -> str:
    """Question numbers, marks, dates, item letters."""
    n = digits(rng, 1)
    return pick(
        rng,
        (
            lambda: f"{n}.{digits(rng, 1)}",
            lambda: f"{n}.{digits(rng, 1)}.{digits(rng, 1)}",
            lambda: f"({pick(rng, 'abcdefghi')})",
            lambda: f"{pick(rng, 'abcdefgh')})",
            lambda: f"Q{n}",
            lambda: f"Question {n}",
            lambda: f"QUESTION {digits(rng, pick(rng, (1, 2)))}",
            lambda: f"({n})",
            lambda: f"[{digits(rng, pick(rng, (1, 2)))}]",
            lambda: f"{n}({pick(rng, 'abcdef')})",
            lambda: f"{n}.",
            lambda: f"No. {n}",
            lambda: f"({n} marks)",
            lambda: f"/{digits(rng, 2)}",
            lambda: f"{digits(rng, 2)}/{digits(rng, 2)}",
            lambda: f"{digits(rng, 2)}/{digits(rng, 2, True)}/20{digits(rng, 2)}",
            lambda: (
                f"{digits(rng, 1)} {pick(rng, ('May', 'June', 'March', 'Aug'))} 20{digits(rng, 2)}"
            ),
            lambda: f"20{digits(rng, 2)}-{digits(rng, 2, True)}-{digits(rng, 2, True)}",
            lambda: f"{n}.{digits(rng, 1)} {answer(rng)}",
            lambda: f"({pick(rng, 'abcdef')}) {answer(rng)}",
        ),
    )()


def plain_number(rng: Generator) -> str:
    mark, by = decimal_mark(rng), times(rng)
    draw = rng.random()
    if draw < 0.25:
        return digits(rng, pick(rng, (1, 1, 2, 2, 3, 4, 5, 6, 7)), True)
    if draw < 0.5:
        return sign(rng) + decimal(rng, mark)
    if draw < 0.65:
        return grouped(rng)
    if draw < 0.75:
        return "-".join(digits(rng, pick(rng, (2, 3, 4)), True) for _ in range(pick(rng, (2, 3))))
    if draw < 0.85:
        return sign(rng) + scientific(rng, mark, by)
    return joined_unit(sign(rng) + decimal(rng, mark), unit(rng))


def random_characters(rng: Generator) -> str:
    """Strings without sense, so that the reader cannot lean on language."""
    pool = pick(
        rng, (RANDOM_CHARS, RANDOM_CHARS, HARD.replace(" ", ""), "0123456789.,-", RARE_CHARS)
    )
    length = 1 + int(rng.random() ** 1.4 * 14)
    out = ""
    while length > 0:
        draw = rng.random()
        run = "".join(pick(rng, pool) for _ in range(1 + int(rng.random() * 4)))
        if draw < 0.1:
            out += f"{pick(rng, LETTERS + CAPITALS + '0123456789')}^{{{run}}}"
        elif draw < 0.2:
            out += f"{pick(rng, LETTERS + CAPITALS)}_{{{run}}}"
        elif draw < 0.24:
            out += _f(run, "".join(pick(rng, pool) for _ in range(1 + int(rng.random() * 3))))
        elif draw < 0.3 and out and not out.endswith(" "):
            out += " "
            continue
        else:
            out += run
        length -= len(run)
    return out.strip() or pick(rng, RANDOM_CHARS)


def struck(rng: Generator) -> str:
    """A line with something crossed out and, mostly, a correction after or above it."""
    mark, by = decimal_mark(rng), times(rng)
    draw = rng.random()
    if draw < 0.25:
        body = "" if chance(rng, 0.4) else pick(rng, (answer, formula, direction, chain))(rng)
        return f"{STRUCK}{body}}}" + (f" {answer(rng)}" if chance(rng, 0.3) else "")
    wrong = pick(
        rng,
        (
            lambda: decimal(rng, mark),
            lambda: scientific(rng, mark, by),
            lambda: pick(rng, LETTERS + CAPITALS + "0123456789" * 4),
            lambda: "",
            lambda: quantity(rng, mark, by),
            lambda: pick(rng, PHYSICS_WORDS),
        ),
    )()
    lead = symbol(rng) + "=" if chance(rng, 0.6) else ""
    right = joined_unit(sign(rng, 0.2) + number(rng, mark, by, 0.4), unit(rng))
    return f"{lead}{STRUCK}{wrong}}}{right}"


def pseudo_word(rng: Generator) -> str:
    word = ""
    for _ in range(pick(rng, (1, 2, 2, 3))):
        word += pick(
            rng, ("b", "c", "d", "f", "g", "h", "j", "k", "l", "m", "n", "p", "r", "s", "t")
        )
        word += pick(rng, ("a", "e", "i", "o", "u", "ou", "ee", "ai", "y"))
        word += pick(rng, ("", "", "n", "r", "s", "t", "l", "ck", "ng", "st", "w", "z", "x", "v"))
    return word.capitalize() if chance(rng, 0.2) else word


def word(rng: Generator) -> str:
    draw = rng.random()
    if draw < 0.55:
        text = pick(rng, COMMON_WORDS)
    elif draw < 0.8:
        text = pick(rng, PHYSICS_WORDS)
    elif draw < 0.9:
        text = pseudo_word(rng)
    else:
        text = pick(rng, NAMES)
    draw = rng.random()
    return text.capitalize() if draw < 0.12 else text.upper() if draw < 0.16 else text


def words(rng: Generator) -> str:
    """A few words, as a short answer or a reason in words."""
    if chance(rng, 0.35):
        text = pick(rng, SENTENCE_PIECES)
    else:
        text = " ".join(word(rng) for _ in range(1 + int(rng.random() ** 1.5 * 5)))
    return text + pick(rng, (".", ",", "?", "!", ":", ";")) if chance(rng, 0.2) else text


def heading(rng: Generator) -> str:
    return pick(
        rng,
        (
            lambda: f"Name: {pick(rng, NAMES)}",
            lambda: f"Name: {pick(rng, NAMES)} {pick(rng, NAMES)}",
            lambda: f"{pick(rng, NAMES)} {pick(rng, CAPITALS)}. {pick(rng, NAMES)}",
            lambda: f"Class: {digits(rng, 2)}{pick(rng, CAPITALS)}",
            lambda: f"Grade {digits(rng, 2)}{pick(rng, ('', pick(rng, CAPITALS)))}",
            lambda: f"Date: {digits(rng, 2)}/{digits(rng, 2)}/20{digits(rng, 2)}",
            lambda: f"{pick(rng, ('Physics', 'Physical Sciences', 'Science'))} {word(rng)}",
            lambda: f"Worksheet {digits(rng, 1)}: {pick(rng, PHYSICS_WORDS)}",
            lambda: f"Total: {digits(rng, 2)}/{digits(rng, 2)}",
        ),
    )()


def question_text(rng: Generator) -> str:
    """A printed line: words with a quantity or two among them."""
    mark, by = decimal_mark(rng), "×" if chance(rng, 0.9) else times(rng)
    parts = []
    for _ in range(pick(rng, (1, 2, 2, 3))):
        if chance(rng, 0.5):
            parts.append(pick(rng, SENTENCE_PIECES))
        else:
            parts.extend(word(rng) for _ in range(pick(rng, (1, 2, 3))))
        if chance(rng, 0.75):
            parts.append(sign(rng) + quantity(rng, mark, by, 0.35))
    line = " ".join(parts)
    if chance(rng, 0.15):
        line = f"{label_number(rng)} {line}"
    if chance(rng, 0.35):
        line += pick(rng, (".", ",", "?", ". (4)", ". (2)", ";", ":"))
    return line


def label_number(rng: Generator) -> str:
    return pick(
        rng,
        (f"{digits(rng, 1)}.{digits(rng, 1)}", f"({pick(rng, 'abcd')})", f"{digits(rng, 1)}."),
    )


def quantity_span(rng: Generator) -> str:
    """A quantity cut out of a printed line with the words, or pieces of words, beside it."""
    mark, by = decimal_mark(rng), "×" if chance(rng, 0.92) else times(rng)
    value = sign(rng) + quantity(rng, mark, by, 0.5)
    if chance(rng, 0.15):
        value = f"{symbol(rng)}={value}"
    if chance(rng, 0.08):
        value = f"({value})"
    before = pick(rng, ("", "", "of ", "is ", "and ", "= ", "a ", "by ", "charge of ", "at "))
    after = pick(rng, ("", "", "", ".", ",", ";", " and", " apart", " in", " to the", " is", "?"))
    if chance(rng, 0.15):
        before = word(rng) + " "
    if chance(rng, 0.15):
        after = " " + word(rng)
    return (before + value + after).replace("= ", "=")


def around_number(rng: Generator) -> tuple[str, str]:
    """What may stand before and after a number that is already written."""
    mark, by = decimal_mark(rng), times(rng)
    before = pick(
        rng,
        (
            lambda: "",
            lambda: f"{symbol(rng)}=",
            lambda: f"{symbol(rng)}={pick(rng, '-+')}",
            lambda: pick(rng, ("-", "=", "0" + mark, digits(rng, 1) + mark, "(", "∴n=")),
            lambda: f"{decimal(rng, mark)}{pick(rng, ('+', '-', by, '/', '='))}",
        ),
    )()
    after = pick(
        rng,
        (
            lambda: "",
            lambda: f"{by}10^{{{exponent(rng)}}}",
            lambda: f"{by}10^{{{exponent(rng)}}} {unit(rng)}",
            lambda: joined_unit("", unit(rng)),
            lambda: f"{pick(rng, ('+', '-', by, '/', '='))}{decimal(rng, mark)}",
            lambda: f"{mark}{digits(rng, pick(rng, (1, 2)), True)}",
        ),
    )()
    return before, after + (")" if before == "(" else "")


def before_word(rng: Generator) -> str:
    """What may stand before a word that is already written, such as a direction."""
    mark, by = decimal_mark(rng), times(rng)
    value = sign(rng) + quantity(rng, mark, by)
    return pick(rng, (f"{symbol(rng)}={value} ", f"{value} ", "to the ", "towards ", "from A to "))


KINDS: dict[str, Callable[[Generator], str]] = {
    "answer": answer,
    "plausible": plausible_answer,
    "implausible": implausible_answer,
    "formula": formula,
    "substitution": substitution,
    "sum": sum_line,
    "chain": chain,
    "ratio": ratio,
    "given": given_line,
    "direction": direction_line,
    "label": label_mark,
    "number": plain_number,
    "random": random_characters,
    "struck": struck,
    "words": words,
    "heading": heading,
    "question": question_text,
    "span": quantity_span,
}


def sample(rng: Generator, kind: str) -> str:
    """One label of ``kind`` (a key of ``KINDS``)."""
    return normalise(KINDS[kind](rng))
