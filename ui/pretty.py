r"""Readings, values and derivations as people like to see them: plain text and LaTeX.

Readings come in the linear notation of ``scanner.reader.notation`` (``10^{-9}``,
``\frac{..}{..}``); one that is not well formed is shown as it stands.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from itertools import groupby

import sympy

from scanner.reader.notation import is_well_formed
from solver.findings import Step

FIGURES = 3  # enough for school answers; the findings document keeps the whole value
_PLAIN_FROM, _PLAIN_TO = 1e-2, 1e4  # outside, a power of ten reads easier

_HALF_UP = 1 + 1e-12  # a last figure of exactly five is rounded up, as schools do

_MOST_WORDS = 4  # "= 2 N to the left towards B" is still a formula with words behind it

_RAISED = str.maketrans("0123456789+-n()", "⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻ⁿ⁽⁾")
_LOWERED = str.maketrans("0123456789+-", "₀₁₂₃₄₅₆₇₈₉₊₋")
_CAN_BE_RAISED = frozenset("0123456789+-n()")
_CAN_BE_LOWERED = frozenset("0123456789+-")

_GROUP = re.compile(r"\\frac\{|\\sqrt\{|\\struck\{|\^\{|_\{|\}\{|\}|[^\\^_{}]+|.", re.DOTALL)

_LATEX_SIGNS = {
    "×": r"\times ",
    "·": r"\cdot ",
    "÷": r"\div ",
    "∴": r"\therefore ",
    "≈": r"\approx ",
    "≠": r"\neq ",
    "±": r"\pm ",
    "≤": r"\leq ",
    "≥": r"\geq ",
    "∝": r"\propto ",
    "→": r"\to ",
    "⇒": r"\Rightarrow ",
    "←": r"\leftarrow ",
    "↑": r"\uparrow ",
    "↓": r"\downarrow ",
    "∞": r"\infty ",
    "⟂": r"\perp ",
    "°": r"^{\circ}",
    "µ": r"\text{µ}",
    "Ω": r"\Omega ",
    "Δ": r"\Delta ",
    "Σ": r"\Sigma ",
    "θ": r"\theta ",
    "λ": r"\lambda ",
    "ρ": r"\rho ",
    "ε": r"\varepsilon ",
    "π": r"\pi ",
    "σ": r"\sigma ",
    "α": r"\alpha ",
    "β": r"\beta ",
    "φ": r"\varphi ",
    "ω": r"\omega ",
    "γ": r"\gamma ",
    "τ": r"\tau ",
    "η": r"\eta ",
    "ν": r"\nu ",
    "%": r"\%",
    "$": r"\text{\textdollar}",
    "#": r"\#",
    "&": r"\&",
    "~": r"\sim ",
    "<": r"\lt ",
    ">": r"\gt ",
    "|": r"\vert ",
    "'": r"\prime ",
    '"': r"\text{''}",
    ",": "{,}",
}
# Units stand after a number and a space, words between spaces: both are set upright.
_UPRIGHT = re.compile(
    r"(?<=[0-9}] )[A-Za-zµΩ°](?:[A-Za-zµΩ°·/]|\^\{[-+0-9]+\})*"
    r"|(?<![^ ])[A-Za-z]{2,}(?![^ ,.;:?!])"
)


# --- readings -----------------------------------------------------------------------------


def plain(text: str) -> str:
    """A reading for the terminal and for labels: ``10^{-9}`` becomes ``10⁻⁹``."""
    if not is_well_formed(text):
        return text
    return _render(text, _plain_group, lambda start, run: run.replace("-", "−"))


def typed(text: str) -> str:
    """A reading as a person would type it: ``10^{-9}`` becomes ``10^-9``."""
    if not is_well_formed(text):
        return text
    return _render(text, _typed_group, lambda start, run: run)


def is_formula(text: str) -> bool:
    """Is a reading better set as a formula than as running text?"""
    words = re.findall(r"(?<![^ ])[A-Za-z]{2,}(?![^ ,.;:?!])", text)
    return is_well_formed(text) and len(words) <= _MOST_WORDS


def latex(text: str) -> str:
    """A well-formed reading as LaTeX for KaTeX; words and units stand upright."""
    upright = {
        place for match in _UPRIGHT.finditer(text) for place in range(match.start(), match.end())
    }
    shown = _render(text, _latex_group, lambda start, run: _latex_run(start, run, upright))
    return shown.removesuffix("\\ ").strip()  # a space before the closing $ ends no formula


def _render(
    text: str, group: Callable[[str, list[str]], str], run: Callable[[int, str], str]
) -> str:
    """Walk the groups of a well-formed reading from the inside out."""
    open_groups: list[tuple[str, list[str]]] = [("", [""])]
    for match in _GROUP.finditer(text):
        token = match.group()
        opener, parts = open_groups[-1]
        if token == "}{" and opener == "\\frac{":
            parts.append("")
        elif token == "}":
            open_groups.pop()
            open_groups[-1][1][-1] += group(opener, parts)
        elif token.endswith("{"):
            open_groups.append((token, [""]))
        else:
            parts[-1] += run(match.start(), token)
    return open_groups[0][1][0]


def _plain_group(opener: str, parts: list[str]) -> str:
    inside = parts[0].replace("−", "-")
    if opener == "^{":
        raised = set(inside) <= _CAN_BE_RAISED
        return inside.translate(_RAISED) if raised else f"^({parts[0]})"
    if opener == "_{":
        lowered = set(inside) <= _CAN_BE_LOWERED
        return inside.translate(_LOWERED) if lowered else f"_{parts[0]}"
    if opener == "\\frac{":
        return f"{_bracketed(parts[0])}/{_bracketed(parts[1])}"
    if opener == "\\sqrt{":
        return f"√{_bracketed(parts[0])}"
    return f"[struck out: {parts[0]}]"


def _typed_group(opener: str, parts: list[str]) -> str:
    inside = parts[0]
    if opener == "^{":
        return f"^{inside}" if re.fullmatch(r"-?\d+", inside) else f"^{{{inside}}}"
    if opener == "\\frac{":
        return f"{_bracketed(inside)}/{_bracketed(parts[1])}"
    return f"{opener}{inside}}}"


def _bracketed(text: str) -> str:
    return text if re.fullmatch(r"[\w.,]+", text) else f"({text})"


def _latex_group(opener: str, parts: list[str]) -> str:
    if opener == "\\frac{":
        return rf"\frac{{{parts[0]}}}{{{parts[1]}}}"
    if opener == "\\struck{":
        return rf"\cancel{{{parts[0]}}}"
    return f"{opener}{parts[0]}}}"


def _latex_run(start: int, run: str, upright: set[int]) -> str:
    def stands_upright(item: tuple[int, str]) -> bool:
        return item[0] in upright and item[1].isalpha()

    pieces = []
    for is_text, group in groupby(enumerate(run, start), stands_upright):
        letters = "".join(character for _, character in group)
        pieces.append(_text(letters) if is_text else _italic(letters))
    return "".join(pieces)


def _italic(run: str) -> str:
    return "".join("\\ " if c == " " else _LATEX_SIGNS.get(c, c) for c in run)


def _text(letters: str) -> str:
    return rf"\text{{{letters}}}"


# --- values -------------------------------------------------------------------------------


def value_plain(value: float, unit: str, direction: str | None = None) -> str:
    """``1.08 × 10⁻⁵ N, to the left``."""
    number = _number(value, lambda mantissa, power: f"{mantissa} × 10{power.translate(_RAISED)}")
    words = [f"{number} {unit_plain(unit)}".strip()]
    if direction:
        words.append(direction_words(direction))
    return ", ".join(words)


def value_latex(value: float, unit: str) -> str:
    """``1.08 \\times 10^{-5}\\,\\mathrm{N}``."""
    number = number_latex(value)
    return number + (rf"\,{unit_latex(unit)}" if unit_latex(unit) else "")


def number_latex(value: float) -> str:
    return _number(value, lambda mantissa, power: rf"{mantissa} \times 10^{{{power}}}", "-")


def _number(value: float, with_power: Callable[[str, str], str], minus: str = "−") -> str:
    if not math.isfinite(value):
        return "?"
    value *= _HALF_UP
    if value == 0 or _PLAIN_FROM <= abs(value) < _PLAIN_TO:
        return _short(value).replace("-", minus)
    mantissa, power = f"{value:.{FIGURES - 1}e}".split("e")
    return with_power(_short(float(mantissa)).replace("-", minus), str(int(power)))


def _short(value: float) -> str:
    """Three figures, or the whole part where that has more; no noughts at the end."""
    return f"{value:.0f}" if abs(value) >= 10**FIGURES else f"{value:.{FIGURES}g}"


def unit_plain(unit: str) -> str:
    """``N*m**2/C**2`` as ``N·m²/C²``; empty for a pure number."""
    if unit == "dimensionless":
        return ""
    raised = re.sub(r"\*\*\(?(-?\d+)\)?", lambda power: power[1].translate(_RAISED), unit)
    return re.sub(r" *\* *", "·", raised).replace(" ", "")


def unit_latex(unit: str) -> str:
    """``N*m**2/C**2`` as LaTeX; empty for a pure number."""
    if unit == "dimensionless":
        return ""
    raised = re.sub(r"\*\*\(?(-?\d+)\)?", r"^{\1}", unit)
    return r"\mathrm{" + raised.replace(" ", "").replace("*", r"{\cdot}") + "}"


def direction_words(direction: str) -> str:
    """``left`` as ``to the left``; an angle with its sign."""
    angle = re.fullmatch(r"(-?[\d.]+) deg (.+)", direction)
    if angle:
        return f"{angle[1]}° {angle[2]}"
    return f"to the {direction}" if direction in ("left", "right") else direction


# --- derivations --------------------------------------------------------------------------


def law_latex(step: Step) -> str:
    """The law as it stands in the book."""
    return _in_book_order(step, step.equation, sympy.latex)


def law_plain(step: Step) -> str:
    if isinstance(step.equation, sympy.Eq):
        sides = (_expression_text(step, side) for side in step.equation.args)
        return " = ".join(sides)
    return _expression_text(step, step.equation)


def substitution_latex(step: Step) -> str:
    """The unknown and the numbers put in, all in SI; units are left to the words beside it."""
    numbers = {i.symbol: rf"\left({number_latex(i.value)}\right)" for i in step.inputs}
    filled = _in_book_order(step, step.solved, sympy.latex, numbers)
    return f"{sympy.latex(sympy.Symbol(step.unknown))} = {filled}"


def rearranged_latex(step: Step) -> str | None:
    """The law solved for the unknown, where the book does not have it so already."""
    unknown = sympy.latex(sympy.Symbol(step.unknown))
    rearranged = f"{unknown} = {_in_book_order(step, step.solved, sympy.latex)}"
    return None if rearranged == law_latex(step) else rearranged


def inputs_latex(step: Step) -> list[str]:
    """``Q_{1} = 3.6 \\times 10^{-9}\\,\\mathrm{C}`` for each input."""
    return [
        f"{sympy.latex(sympy.Symbol(i.symbol))} = {value_latex(i.value, i.unit)}"
        for i in step.inputs
    ]


def result_latex(step: Step) -> str:
    return f"{sympy.latex(sympy.Symbol(step.unknown))} = {value_latex(step.value, step.unit)}"


def substitution_plain(step: Step) -> str:
    put_in = ", ".join(f"{i.symbol} = {value_plain(i.value, i.unit)}" for i in step.inputs)
    value = value_plain(step.value, step.unit, step.direction)
    rearranged = f"{step.unknown} = {_expression_text(step, step.solved)}"
    return f"{rearranged} with {put_in}: {value}" if put_in else f"{step.unknown} = {value}"


def _in_book_order(
    step: Step,
    expression: sympy.Basic,
    printer: Callable[..., str],
    shown_as: dict[str, str] | None = None,
) -> str:
    """Print with constants first, then factors as the step has them, not by the alphabet.

    sympy sorts factors by name, so the symbols get names that sort as wanted and are shown
    under their own.
    """
    constants_first = sorted(step.inputs, key=lambda put_in: put_in.constant is None)
    order = [step.unknown, *(put_in.symbol for put_in in constants_first)]
    symbols = sorted(
        expression.free_symbols,
        key=lambda s: (order.index(str(s)) if str(s) in order else len(order), str(s)),
    )
    sortable = {
        symbol: sympy.Symbol(f"s{place:02}", **symbol.assumptions0)
        for place, symbol in enumerate(symbols)
    }
    shown = {
        stand_in: (shown_as or {}).get(str(symbol), printer(symbol))
        for symbol, stand_in in sortable.items()
    }
    renamed = expression.xreplace(sortable)
    if printer is sympy.latex:
        return sympy.latex(renamed, symbol_names=shown)
    text = printer(renamed)
    for stand_in, name in shown.items():
        text = text.replace(str(stand_in), name)
    return text


def _expression_text(step: Step, expression: sympy.Basic) -> str:
    text = _in_book_order(step, expression, str)
    text = re.sub(r"\*\*(\d+)", lambda power: power[1].translate(_RAISED), text)
    return text.replace("**", "^").replace("*", "·").replace("sqrt", "√").replace("-", "−")
