"""Numbers with units as schools write them: found in running text, kept as written and in SI.

``find_quantities`` gives every number of a text with its place; ``parse_quantity`` reads a
text that should be one quantity. Signs, raised powers, decimal marks, prefixes and direction
words are taken in every spelling that typed text, print or a reading may hold.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from functools import lru_cache
from typing import Literal, NamedTuple

import pint

from parser.worksheet import Quantity

DecimalMark = Literal[".", ","]

REGISTRY: pint.UnitRegistry = pint.get_application_registry()


class Found(NamedTuple):
    """A quantity and the span ``text[start:end]`` it was read from; ``number_end`` ends the
    number and its unit, before any direction word."""

    start: int
    end: int
    quantity: Quantity
    number_end: int


# --- one alphabet -------------------------------------------------------------------------

_SAME_SIGN = {
    **dict.fromkeys("−–—‐‑‒―﹣－", "-"),
    **dict.fromkeys("⋅•∙‧・", "·"),
    **dict.fromkeys("✕✖⨯╳", "×"),
    **dict.fromkeys("‘’ʼ′`´", "'"),
    **dict.fromkeys("“”„″", '"'),
    **dict.fromkeys("\u00a0\u2009\u202f\u2007\u2002\u2003\u2005\u2006\u200a\t", " "),
    **dict.fromkeys("\u200b\u2060\ufeff\u00ad\r\u20d7", ""),
    **dict.fromkeys("∕⁄", "/"),
    "μ": "µ",
    "\u2126": "Ω",
    "\u2206": "Δ",
    "ϵ": "ε",
    "ϕ": "φ",
    "ϑ": "θ",
    "º": "°",
    "˚": "°",
    "½": r"\frac{1}{2}",
    "¼": r"\frac{1}{4}",
    "¾": r"\frac{3}{4}",
    "⅓": r"\frac{1}{3}",
    "⅔": r"\frac{2}{3}",
}
_SCRIPT_SIGN = str.maketrans("⁺⁻⁼⁽⁾₊₋₌₍₎", "+-=()+-=()")
_RAISED = frozenset("⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻⁼⁽⁾ⁿⁱ")
_LOWERED = frozenset("₀₁₂₃₄₅₆₇₈₉₊₋₌₍₎ₐₑₒₓₕₖₗₘₙₚₛₜ")


def canonical(text: str) -> str:
    """``text`` in the project's one alphabet; line breaks and spacing stay."""
    return _canonical_with_places(text)[0]


def _canonical_with_places(text: str) -> tuple[str, list[int]]:
    """The canonical text and, for each of its characters, the index it came from."""
    out: list[str] = []
    places: list[int] = []

    def put(piece: str, place: int) -> None:
        out.append(piece)
        places.extend([place] * len(piece))

    index = 0
    while index < len(text):
        char = text[index]
        run = _RAISED if char in _RAISED else _LOWERED if char in _LOWERED else None
        if run is None:
            put(_SAME_SIGN.get(char, char), index)
            index += 1
            continue
        start = index
        put("^{" if run is _RAISED else "_{", start)
        while index < len(text) and text[index] in run:
            put(unicodedata.normalize("NFKC", text[index].translate(_SCRIPT_SIGN)), index)
            index += 1
        put("}", index - 1)
    places.append(len(text))
    return "".join(out), places


# --- units --------------------------------------------------------------------------------

_PREFIXES = {
    "p": "p",
    "n": "n",
    "µ": "µ",
    "u": "µ",
    "m": "m",
    "c": "c",
    "d": "d",
    "k": "k",
    "M": "M",
    "G": "G",
    "T": "T",
    "f": "f",
}
_PREFIX_WORDS = {
    "pico": "p",
    "nano": "n",
    "micro": "µ",
    "milli": "m",
    "centi": "c",
    "deci": "d",
    "kilo": "k",
    "mega": "M",
    "giga": "G",
    "tera": "T",
    "femto": "f",
}

# symbol -> (pint name, coherent SI name, prefixes it takes)
_ALL = "pnµumkMGTf"
_UNITS: dict[str, tuple[str, str, str]] = {
    "m": ("m", "m", "pnµumckf"),
    "g": ("g", "kg", "nµumk"),
    "s": ("s", "s", "pnµum"),
    "A": ("A", "A", "pnµumk"),
    "K": ("K", "K", "m"),
    "C": ("C", "C", "pnµumkM"),
    "N": ("N", "N", _ALL),
    "J": ("J", "J", _ALL),
    "W": ("W", "W", _ALL),
    "V": ("V", "V", _ALL),
    "F": ("F", "F", "pnµumf"),
    "Ω": ("ohm", "ohm", "mkM"),
    "Hz": ("Hz", "Hz", "mkMGT"),
    "Pa": ("Pa", "Pa", "kMG"),
    "T": ("T", "T", "nµum"),
    "Wb": ("Wb", "Wb", "m"),
    "H": ("H", "H", "µum"),
    "eV": ("eV", "J", "mkMGT"),
    "mol": ("mol", "mol", "mk"),
    "rad": ("rad", "rad", "m"),
    "L": ("L", "m^3", "m"),
    "l": ("L", "m^3", "m"),
    "h": ("h", "s", ""),
    "hr": ("h", "s", ""),
    "min": ("min", "s", ""),
    "u": ("amu", "kg", ""),
    "°": ("deg", "rad", ""),
    "%": ("percent", "dimensionless", ""),
    "°C": ("degC", "K", ""),
    "mi": ("mi", "m", ""),
    "ft": ("ft", "m", ""),
    "hp": ("hp", "W", ""),
    "Wh": ("W*h", "J", "k"),
    "kph": ("km/h", "m/s", ""),
    "mph": ("mi/h", "m/s", ""),
    "Å": ("angstrom", "m", ""),
}
_WORDS: dict[str, str] = {
    "metre": "m",
    "meter": "m",
    "gram": "g",
    "gramme": "g",
    "second": "s",
    "sec": "s",
    "ampere": "A",
    "amp": "A",
    "kelvin": "K",
    "coulomb": "C",
    "newton": "N",
    "joule": "J",
    "watt": "W",
    "volt": "V",
    "farad": "F",
    "ohm": "Ω",
    "hertz": "Hz",
    "pascal": "Pa",
    "tesla": "T",
    "weber": "Wb",
    "henry": "H",
    "electronvolt": "eV",
    "mole": "mol",
    "radian": "rad",
    "litre": "L",
    "liter": "L",
    "hour": "h",
    "minute": "min",
    "degree": "°",
    "deg": "°",
    "percent": "%",
    "mile": "mi",
    "foot": "ft",
    "feet": "ft",
    "horsepower": "hp",
    "angstrom": "Å",
}


class _Factor(NamedTuple):
    pint: str
    si: str
    prefix: str


def _symbol_table() -> dict[str, _Factor]:
    table: dict[str, _Factor] = {}
    for symbol, (name, si, prefixes) in _UNITS.items():
        for letter in prefixes:
            prefix = _PREFIXES[letter]
            table.setdefault(letter + symbol, _Factor(prefix + name, si, prefix))
    for symbol, (name, si, _) in _UNITS.items():
        table[symbol] = _Factor(name, si, "")
    for word, symbol in _WORDS.items():
        name, si, _ = _UNITS[symbol]
        for plural in ("", "s"):
            table[word + plural] = _Factor(name, si, "")
            for spoken, prefix in _PREFIX_WORDS.items():
                for hyphen in ("", "-"):
                    table[spoken + hyphen + word + plural] = _Factor(prefix + name, si, prefix)
    table["electron volt"] = table["electron-volt"] = table["eV"]
    table["electron volts"] = table["electron-volts"] = table["eV"]
    table["per cent"] = table["%"]
    table["degrees Celsius"] = table["°C"]
    return table


_SYMBOLS = _symbol_table()
# A capital at the start of a spelt-out unit ("Coulombs", "nano-Coulombs") is common.
_SYMBOLS.update({w.capitalize(): f for w, f in _SYMBOLS.items() if len(w) > 4 and w.islower()})
_SYMBOLS.update(
    {
        p + "-" + w.capitalize(): f
        for w, f in _SYMBOLS.items()
        if "-" in w
        for p, w in [w.split("-", 1)]
    }
)
_SYMBOL = re.compile(
    "(?:" + "|".join(sorted(map(re.escape, _SYMBOLS), key=len, reverse=True)) + r")(?![A-Za-zµΩ])"
)
_EXPONENT = re.compile(
    r"\^\{ ?(?P<a>[+-]?\d)\ ?}|\^\(?(?P<b>[+-]?\d)\)?"
    r"|(?P<c>-[123]| -[123](?! ?[A-Za-zµΩ]))(?![\d.,]\d|\d)|(?P<d>[23])(?![\d.,]\d|\w)"
)
# Units that may stand after a mere space without an exponent ("5 N m").
_SPACE_PAIRS = frozenset(
    {
        ("N", "m"),
        ("kg", "m"),
        ("J", "s"),
        ("N", "s"),
        ("V", "m"),
        ("ohm", "m"),
        ("W", "h"),
        ("kW", "h"),
        ("mA", "h"),
    }
)
_ELECTRONS = re.compile(r" ?e(?![A-Za-z0-9_^{])")


class _Unit(NamedTuple):
    end: int
    pint: str
    si: str
    prefix: str


@lru_cache(maxsize=4096)
def _factor_to_si(unit: str) -> float:
    return float(REGISTRY.Quantity(1.0, unit).to_base_units().magnitude)


def _read_unit(text: str, at: int) -> _Unit | None:
    """The longest unit expression that starts at ``text[at]``."""
    match = _SYMBOL.match(text, at)
    if match is None:
        return None
    factors: list[tuple[_Factor, int]] = []
    end, power_sign = at, 1
    while match is not None:
        factor = _SYMBOLS[match.group()]
        after = match.end()
        exponent, after = _read_exponent(text, after, word=len(match.group()) > 3)
        factors.append((factor, power_sign * exponent))
        end = after
        match, power_sign = _next_factor(text, end, factors, power_sign)
    return _Unit(end, *_spell_unit(factors))


def _read_exponent(text: str, at: int, word: bool) -> tuple[int, int]:
    found = _EXPONENT.match(text, at)
    if found and not (word and found.lastgroup in ("c", "d")):
        return int(found.group(found.lastgroup or 0)), found.end()
    spoken = re.compile(r" (squared|cubed)\b").match(text, at)
    if spoken:
        return (2 if spoken.group(1) == "squared" else 3), spoken.end()
    return 1, at


def _next_factor(
    text: str, at: int, factors: Sequence[tuple[_Factor, int]], sign: int
) -> tuple[re.Match[str] | None, int]:
    separator = re.compile(r" ?/ ?\(?| per |-per-| ?· ?|\.(?=[A-Za-zµΩ])|\*| ").match(text, at)
    if separator is None:
        return None, sign
    match = _SYMBOL.match(text, separator.end())
    if match is None:
        return None, sign
    kind = separator.group().strip()
    if kind in ("/", "/(", "per", "-per-"):
        return match, -1
    if kind in ("·", ".", "*"):
        return match, sign
    exponent, _ = _read_exponent(text, match.end(), word=len(match.group()) > 3)
    pair = (factors[-1][0].pint, _SYMBOLS[match.group()].pint)
    if exponent != 1 or (pair in _SPACE_PAIRS and factors[-1][1] == 1):
        return match, sign
    return None, sign


def _spell_unit(factors: Sequence[tuple[_Factor, int]]) -> tuple[str, str, str]:
    """(pint spelling, coherent SI spelling, prefix of the first factor)."""
    return (
        _join([(f.pint, e) for f, e in factors]),
        coherent(_join([(f.si, e) for f, e in factors])),
        factors[0][0].prefix,
    )


def _join(parts: Sequence[tuple[str, int]]) -> str:
    upper = [_raised(name, power) for name, power in parts if power > 0]
    lower = [_raised(name, -power) for name, power in parts if power < 0]
    head = "*".join(upper) or "1"
    return "/".join([head, *lower])


def _raised(name: str, power: int) -> str:
    if "/" in name or "*" in name or "^" in name:
        name = f"({name})"
    return name if power == 1 else f"{name}**{power}"


_COHERENT = {
    "1/s": "Hz",
    "s**1": "s",
    "(m^3)": "m**3",
    "m^3": "m**3",
    "J/C": "V",
    "C/s": "A",
    "J/s": "W",
    "C/V": "F",
    "V/A": "ohm",
    "A*s": "C",
    "kg*m/s**2": "N",
    "(m/s)": "m/s",
    "N*s": "N*s",
    "N/kg": "m/s**2",
    "V*A": "W",
    "A*V": "W",
    "C*V": "J",
    "N*m": "J",
    "kg/(m^3)": "kg/m**3",
    "W*s": "J",
    "V*C": "J",
    "1/m": "1/m",
}


def coherent(unit: str) -> str:
    """The usual short spelling of a coherent SI unit ("J/C" -> "V")."""
    return _COHERENT.get(unit, unit.replace("(m^3)", "m**3"))


# --- numbers ------------------------------------------------------------------------------

_MANTISSA = (
    r"\d{1,3}(?:,\d{3})+(?:\.\d+)?(?![\d])|\d{1,3}(?: \d{3})+(?:[.,]\d+)?(?![\d])"
    r"|\d{1,3}(?:\.\d{3}){2,}(?:,\d+)?(?!\d)|\d+(?:[.,]\d+(?: \d{3}(?!\d))*)?"
    r"|[.,]\d+"
)
_POWER = r"\^\{ ?(?P<p1>[+-]? ?\d+) ?\}|\^\(?(?P<p2>[+-]?\d+)\)?"
_NUMBER = re.compile(
    rf"(?P<mantissa>{_MANTISSA})"
    rf"(?:[eE](?P<e>[+-]?\d{{1,3}})(?![\d.])"
    rf"|\s?[×xX*·.]\s?10(?:{_POWER}|(?P<p3>\s?-\s?\d{{1,2}})(?![\d.,])"
    rf"|\s(?P<p4>\d{{1,2}})(?=\s?[A-Za-zµΩ]))"
    rf"|(?P<tens>\s?[×xX*·]\s?10)(?![\d.,^]))?"
    rf"|10(?:\^\{{ ?(?P<b1>[+-]? ?\d+) ?\}}|\^\(?(?P<b2>[+-]?\d+)\)?)"
)
_BARE_POWER = re.compile(r"10(?:\^\{ ?(?P<b1>[+-]? ?\d+) ?\}|\^\(?(?P<b2>[+-]?\d+)\)?)")
_SIGN_WORD = re.compile(r"\b(negative|minus|positive|plus) $", re.I)
_BARE_E = re.compile(r"(?<![\w^{}.])[+-] ?e(?![\w^{])")


def settle_decimal_mark(text: str) -> DecimalMark | None:
    """The decimal mark that the unambiguous numbers of a text (a whole sheet) agree on."""
    text = canonical(text)
    numbers = [m.group() for m in re.finditer(r"(?<![\w.,])\d+(?:[.,]\d+)+(?![\w]|[.,]\d)", text)]
    numbers += [m.group() for m in re.finditer(r"(?<![\w.,])\d+[.,]\d+(?=[A-Za-zµΩ°%])", text)]
    points = sum(
        1
        for n in numbers
        if re.fullmatch(
            r"(0\.\d+|\d+\.(?!\d{3}$)\d+|\d{1,3}(,\d{3})+\.\d+|\d{1,3}(,\d{3}){2,}|\d{4,}\.\d+)", n
        )
    )
    commas = sum(
        1
        for n in numbers
        if re.fullmatch(
            r"(0,\d+|\d+,(?!\d{3}$)\d+|\d{1,3}(\.\d{3})+,\d+|\d{1,3}(\.\d{3}){2,}|\d{4,},\d+)", n
        )
    )
    if points and not commas:
        return "."
    if commas and not points:
        return ","
    return None


def _read_mantissa(written: str, mark: DecimalMark | None) -> tuple[float, bool]:
    """Value of a mantissa as written, and whether its comma was left unsettled."""
    digits = written.replace(" ", "")
    comma_groups = re.fullmatch(r"[1-9]\d{0,2}(,\d{3})+", digits)
    if comma_groups:
        if mark == "," and digits.count(",") == 1:
            return float(digits.replace(",", ".")), False
        return float(digits.replace(",", "")), mark is None and digits.count(",") == 1
    if re.fullmatch(r"\d{1,3}(\.\d{3})+(,\d+)?", digits) and (
        digits.count(".") > 1 or "," in digits
    ):
        return float(digits.replace(".", "").replace(",", ".")), False
    if re.fullmatch(r"[1-9]\d{0,2}\.\d{3}", digits) and mark == ",":
        return float(digits), True
    if re.fullmatch(r"\d{1,3}(,\d{3})+\.\d+", digits):
        return float(digits.replace(",", "")), False
    return float(digits.replace(",", ".")), False


def _figures(mantissa: str) -> int:
    digits = re.sub(r"\D", "", mantissa).lstrip("0")
    return max(1, len(digits))


# --- directions ---------------------------------------------------------------------------

_COMPASS = {
    "north": 90.0,
    "south": 270.0,
    "east": 0.0,
    "west": 180.0,
    "north-east": 45.0,
    "north-west": 135.0,
    "south-east": 315.0,
    "south-west": 225.0,
}
_POINT = r"(?:north|south)[- ]?(?:east|west)|north|south|east|west"
_BODY = (
    r"(?:the\s)?(?:(?:sphere|charge|particle|bead|ball|point|droplet|object|plate|body|bob)s?\s)?"
    r"(?-i:[A-Z](?:_\{\w+\}|_?\d)?|q_\{\w+\}|[Qq]_?\d)(?![A-Za-z])"
)
_DIRECTION = re.compile(
    rf"""
    ,?\s?\(?\s?(?:
      (?P<deg>\d+(?:[.,]\d+)?)\s?(?:°|deg(?:rees)?)\s?(?P<from>{_POINT})
        \s(?:of|from)\s(?P<to>{_POINT})
    | (?P<num>\d+(?:[.,]\d+)?)\s?(?:°|deg(?:rees)?)
        \s(?:anticlockwise|counter-?clockwise)\sfrom\sright
    | (?:due\s|to\sthe\s|towards?\s(?:the\s)?|directed\s(?:to\sthe\s)?|in\sthe\s|,\s?)?
        (?P<compass>{_POINT})(?:wards?|erly)?(?:\sdirection)?
    | (?:(?:directed\s)?(?:to|towards?|on)\sthe\s|\bto\s)?
        (?P<side>left|right)(?:wards?)?(?:-hand\sside)?
    | (?:directed\s|acting\s)?(?:vertically\s|straight\s)?(?P<vertical>upwards?|downwards?|up|down)
    | (?P<arrow>[→←↑↓])
    | (?:directed\s|acting\s)?(?P<way>towards?|away\sfrom|in\sthe\sdirection\sof)\s(?P<body>{_BODY})
    )(?![\w-])\s?\)?(?!\s?(?:of|from)\b)
    """,
    re.I | re.X,
)
_ARROWS = {"→": "right", "←": "left", "↑": "up", "↓": "down"}


def read_direction(text: str, at: int = 0) -> tuple[str, int] | None:
    """A direction written at ``text[at]`` in the project's words, and where it ends."""
    match = _DIRECTION.match(text, at)
    if match is None:
        return None
    end = match.end()
    if match.group().rstrip().endswith(")") and "(" not in match.group():
        end = match.start() + len(match.group().rstrip()) - 1
    while end > at and text[end - 1] == " ":
        end -= 1
    return _name_direction(match), end


def compass_name(word: str) -> str:
    """ "northeast", "North East" -> "north-east"."""
    joined = re.sub(r"[- ]", "", word.lower())
    for first in ("north", "south"):
        if joined.startswith(first) and joined != first:
            return f"{first}-{joined[len(first) :]}"
    return joined


def _name_direction(match: re.Match[str]) -> str:
    part = match.groupdict()
    if part["deg"]:
        tilt = float(part["deg"].replace(",", "."))
        start, towards = _COMPASS[compass_name(part["to"])], _COMPASS[compass_name(part["from"])]
        turn = (towards - start + 180) % 360 - 180
        return angle_name(start + (tilt if turn > 0 else -tilt))
    if part["num"]:
        return angle_name(float(part["num"].replace(",", ".")))
    if part["compass"]:
        return compass_name(part["compass"])
    if part["side"]:
        return part["side"].lower()
    if part["vertical"]:
        return "up" if part["vertical"].lower().startswith("up") else "down"
    if part["arrow"]:
        return _ARROWS[part["arrow"]]
    body = part["body"].split()[-1]
    return ("away from " if part["way"].lower() == "away from" else "towards ") + body


def angle_name(degrees: float) -> str:
    """The project's name of a direction in the plane, counted from the right."""
    return f"{round(degrees % 360, 1):g} deg anticlockwise from right"


# --- finding ------------------------------------------------------------------------------


def find_quantities(
    text: str, decimal_mark: DecimalMark | None = None, with_directions: bool = True
) -> list[Found]:
    """Every number of ``text`` in order, with its unit and trailing direction word.

    ``decimal_mark`` is the sheet's settled convention; None lets this text settle it.
    Places are indices of ``text`` as passed in. Digits that belong to a name ("Q_{1}", "H2O")
    are no numbers.
    """
    flat, places = _canonical_with_places(text)
    mark = decimal_mark or settle_decimal_mark(flat)
    found: list[Found] = []
    at = 0
    while at < len(flat):
        one = _find_next(flat, at, mark, with_directions)
        if one is None:
            break
        found.append(one)
        at = max(one.end, at + 1)
    merged = _merge_clock_times(flat, found)
    return [Found(places[f.start], places[f.end], f.quantity, places[f.number_end]) for f in merged]


def parse_quantity(text: str, decimal_mark: DecimalMark | None = None) -> Quantity | None:
    """``text`` as one quantity, or None when it is not exactly one (bar a full stop or bracket)."""
    found = find_quantities(text, decimal_mark)
    if len(found) != 1:
        return None
    rest = text[: found[0].start] + text[found[0].end :]
    return found[0].quantity if re.fullmatch(r"[\s.;()]*", rest) else None


def _find_next(text: str, at: int, mark: DecimalMark | None, with_directions: bool) -> Found | None:
    while True:
        bare = _BARE_E.search(text, at)
        start = re.compile(r"(?<![A-Za-z0-9_^{}])(?<!\d[.,])\d|(?<![\w.,])[.,]\d").search(text, at)
        if bare and (start is None or bare.start() < start.start()):
            return _electron_multiple(text, bare.start(), bare.end(), bare.group()[0])
        if start is None:
            return None
        match = _BARE_POWER.match(text, start.start()) or _NUMBER.match(text, start.start())
        if match is None:
            at = start.end()
            continue
        return _finish(text, match, mark, with_directions)


def _electron_multiple(text: str, start: int, end: int, sign: str) -> Found:
    value = (-1.0 if sign == "-" else 1.0) * _factor_to_si("e")
    quantity = Quantity(
        text[start:end],
        value,
        "C",
        -1.0 if sign == "-" else 1.0,
        "e",
        "-" if sign == "-" else "+",
        "",
    )
    return Found(start, end, quantity, end)


def _sign_before(text: str, at: int) -> tuple[Literal["", "+", "-"], int]:
    """The sign that belongs to a number at ``at`` and where the signed number starts."""
    match = re.compile(r"([+-]) ?\Z").search(text[:at])
    if match:
        before = text[: match.start()]
        glued = match.end(1) == at
        if re.search(r"[\w)\]}°%]\Z", before):
            return "", at
        if not glued and re.search(r"\d\s*$|[\d)}] [A-Za-zµΩ]+\s*$", before):
            return "", at
        return ("-" if match.group(1) == "-" else "+"), match.start()
    word = _SIGN_WORD.search(text[:at])
    if word:
        minus = word.group(1).lower() in ("negative", "minus")
        return ("-" if minus else "+"), word.start()
    return "", at


def _finish(
    text: str, match: re.Match[str], mark: DecimalMark | None, with_directions: bool
) -> Found:
    group = match.groupdict()
    sign, start = _sign_before(text, match.start())
    bare = group.get("b1") or group.get("b2")
    mantissa = group.get("mantissa") or ""
    exponent_text = (
        next((group[k] for k in ("e", "p1", "p2", "p3", "p4") if group.get(k)), None) or bare
    )
    exponent = int(exponent_text.replace(" ", "")) if exponent_text else None
    if group.get("tens"):
        exponent = 1
    number, unsettled = _read_mantissa(mantissa, mark) if mantissa else (1.0, False)
    written = (-number if sign == "-" else number) * 10.0 ** (exponent or 0)
    if exponent:
        written = (
            float(f"{'-' if sign == '-' else ''}{number!r}e{exponent}")
            if "e" not in repr(number)
            else written
        )
    end = match.end()
    electrons = _ELECTRONS.match(text, end)
    unit = None if electrons else _unit_after(text, end)
    pint_unit, si, prefix = "", "dimensionless", ""
    value = written
    if electrons:
        pint_unit, si, end = "e", "C", electrons.end()
        value = written * _factor_to_si("e")
    elif unit is not None:
        end, pint_unit, si, prefix = unit
        value = _to_si(written, pint_unit)
    number_end = end
    direction = None
    if with_directions and pint_unit not in ("deg", "percent"):
        read = read_direction(text, end)
        if read is not None and not (si == "m" and read[0].startswith(("away from", "towards"))):
            direction, end = read
    quantity = Quantity(
        text=text[start:end],
        value=value,
        unit=si,
        written_value=written,
        written_unit=pint_unit,
        sign=sign,
        mantissa=mantissa,
        exponent=exponent,
        prefix=prefix,
        direction=direction,
        significant_figures=_figures(mantissa) if mantissa else 1,
        comma_unsettled=unsettled,
    )
    return Found(start, end, quantity, number_end)


def _unit_after(text: str, at: int) -> _Unit | None:
    gap = re.compile(r" ?-(?=[A-Za-zµΩ])| ?").match(text, at)
    begin = gap.end() if gap else at
    unit = _read_unit(text, begin)
    if unit is None:
        return None
    if text[unit.end : unit.end + 2] == "-(" or re.match(r"[_^{\d]", text[unit.end :]):
        return None
    return unit


def _to_si(written: float, unit: str) -> float:
    if unit == "degC":
        return written + 273.15
    value = written * _factor_to_si(unit)
    return float(f"{value:.15g}")


_CLOCK = {"h": 0, "min": 1, "s": 2}


def _last_clock_unit(found: Found) -> str:
    unit = re.search(r"([a-z]+)\W*$", found.quantity.text)
    factor = _SYMBOLS.get(unit.group(1)) if unit else None
    return factor.pint if factor else ""


def _merge_clock_times(text: str, found: list[Found]) -> list[Found]:
    """ "13 hours, 4 minutes, 58 seconds" is one time."""
    merged: list[Found] = []
    for one in found:
        last = merged[-1] if merged else None
        if (
            last is not None
            and one.quantity.written_unit in ("min", "s")
            and last.quantity.unit == "s"
            and _CLOCK.get(_last_clock_unit(last), 9) < _CLOCK[one.quantity.written_unit]
            and re.fullmatch(r",? (and )?", text[last.end : one.start])
        ):
            value = last.quantity.value + one.quantity.value
            quantity = Quantity(
                text[last.start : one.end],
                value,
                "s",
                value,
                "s",
                mantissa=f"{value:g}",
                significant_figures=_figures(f"{value:g}"),
            )
            merged[-1] = Found(last.start, one.end, quantity, one.number_end)
        else:
            merged.append(one)
    return merged
