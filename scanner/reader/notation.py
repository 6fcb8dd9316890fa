r"""The linear notation of one line of handwriting or print.

One line of ink becomes one line of text.  Ordinary characters stand for themselves; what is
raised, lowered, stacked, under a root or struck out is marked with braces::

    line  := item*
    item  := character
           | '^{' line '}'              raised:      10^{-9}   N·C^{-1}   e^{x^{2}}
           | '_{' line '}'              lowered:     Q_{1}     F_{net}    V_{AB}
           | '\frac{' line '}{' line '}'  stacked:     \frac{kQ_{1}Q_{2}}{r^{2}}
           | '\sqrt{' line '}'          under a root: \sqrt{x^{2}+y^{2}}
           | '\struck{' line '}'        struck out:  \struck{4,5}4,7 (empty when nothing is legible)

Braces occur only as structure.  A fraction written with a slash keeps it (``2/3``), a raised two
is always ``^{2}``.  There is one spelling for a sign: minus and hyphen ``-`` (U+002D), times
``×`` (U+00D7), dot ``·`` (U+00B7), micro ``µ`` (U+00B5).  No space stands beside an operator or
inside brackets, one space stands before a unit and between words::

    F=2,07×10^{-3} N to the left
    E=\frac{9×10^{9}×3.6×10^{-9}}{0.12^{2}}
    (a) -2.5 µC

A sign that belongs to the number after it keeps the space before it: ``a charge of -3 nC``.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence

PAD, START, END = 0, 1, 2

FRACTION, FRACTION_BAR, CLOSE = r"\frac{", "}{", "}"
RAISED, LOWERED, ROOT, STRUCK = "^{", "_{", r"\sqrt{", r"\struck{"
OPENERS = (FRACTION, RAISED, LOWERED, ROOT, STRUCK)

# Ids are positions: the shipped weights depend on them.  Append; never insert or reorder.
TOKENS: tuple[str, ...] = (
    "<pad>",
    "<start>",
    "<end>",
    FRACTION,
    FRACTION_BAR,
    CLOSE,
    RAISED,
    LOWERED,
    ROOT,
    STRUCK,
    " ",
    *"0123456789",
    *"ABCDEFGHIJKLMNOPQRSTUVWXYZ",
    *"abcdefghijklmnopqrstuvwxyz",
    *"+-×·/()[]=≈≠∴%°,.:;?!'\"<>|&#$@*~→",
    *"µΩθλρεΔπσαβφω",
    *"∝±≤≥÷⇒←↑↓∞γτηνΣ⟂",
)
TOKEN_IDS: dict[str, int] = {token: index for index, token in enumerate(TOKENS)}
CHARACTERS: frozenset[str] = frozenset(t for t in TOKENS[3:] if len(t) == 1 and t != CLOSE)

_TOKEN = re.compile(r"\\frac\{|\\sqrt\{|\\struck\{|\^\{|_\{|\}\{|.", re.DOTALL)

_SAME_SIGN = str.maketrans(
    {
        **dict.fromkeys("−–—‐‑‒―﹣－", "-"),
        **dict.fromkeys("⋅•∙‧・", "·"),
        **dict.fromkeys("✕✖⨯╳", "×"),
        **dict.fromkeys("‘’ʼ′`´", "'"),
        **dict.fromkeys("“”„″", '"'),
        **dict.fromkeys("\u00a0\u2009\u202f\u2007\u2002\u2003\u2005\u2006\u200a\t\n", " "),
        **dict.fromkeys("\u200b\u2060\ufeff\u00ad", ""),
        **dict.fromkeys("∕⁄", "/"),
        **dict.fromkeys("⟶➔➝➞", "→"),
        **dict.fromkeys("⟹⟾", "⇒"),
        "\u03bc": "\u00b5",
        "\u2126": "\u03a9",
        "\u2206": "\u0394",
        "ϵ": "ε",
        "ϕ": "φ",
        "ϑ": "θ",
        "º": "°",
        "˚": "°",
        "∶": ":",
        "…": "...",
        "≃": "≈",
        "∼": "~",
        "⊥": "⟂",
        "∑": "Σ",
    }
)
_SIGN_IN_SCRIPT = str.maketrans("⁺⁻⁼⁽⁾₊₋₌₍₎", "+-=()+-=()")
_RAISED_RUN = re.compile("[⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻⁼⁽⁾ⁿⁱ]+")
_LOWERED_RUN = re.compile("[₀₁₂₃₄₅₆₇₈₉₊₋₌₍₎ₐₑₒₓₕₖₗₘₙₚₛₜ]+")
_SIMPLE_FRACTION = {"½": "1}{2", "¼": "1}{4", "¾": "3}{4", "⅓": "1}{3", "⅔": "2}{3"}

_TIGHT = re.compile(r" *([=≈≠<>≤≥×·/÷±∝→⇒⟂~]) *")
_TWO_SIDED_SIGN = re.compile(r" +([+-]) +")
_SIGN_AFTER_OPENING = re.compile(r"([=≈≠<>≤≥×·/÷∝(\[{]) *([+-]) *")
_PREFIXED_UNIT = re.compile(
    r"(?<=[0-9])(?=(?:[numµpk](?:C|N|V|A|J|W|F|g)|[cmkµn]m|k?Pa|[kM]?Hz|M?[ke]?eV|[kM]?Ω|ms"
    r"|N[·/]|V[·/]m|m[·/]s|J[·/]C|°C)(?![A-Za-z_]))"
)


def tokenise(text: str) -> list[int]:
    """Token ids of ``text``, without start and end.

    Raises:
        ValueError: ``text`` holds a character that the notation does not have.
    """
    ids = []
    for match in _TOKEN.finditer(text):
        token = match.group()
        if token not in TOKEN_IDS or (len(token) > 1 and token.startswith("<")):
            raise ValueError(f"not in the notation: {token!r} in {text!r}")
        ids.append(TOKEN_IDS[token])
    return ids


def detokenise(ids: Sequence[int]) -> str:
    """Text of token ids: reading stops at the first end; pads and starts are passed over."""
    pieces = []
    for index in ids:
        if index == END:
            break
        if index not in (PAD, START):
            pieces.append(TOKENS[index])
    return "".join(pieces)


def is_supported(text: str) -> bool:
    """True when every token of ``text`` is in the table (the structure may still be broken)."""
    return all(m.group() in TOKEN_IDS for m in _TOKEN.finditer(text))


def is_well_formed(text: str) -> bool:
    """True when every token is known, every brace closed, and every fraction has two halves.

    An empty group is allowed only as ``\\struck{}``.
    """
    open_groups: list[str] = []
    previous = ""
    for match in _TOKEN.finditer(text):
        token = match.group()
        if token not in TOKEN_IDS:
            return False
        if token in OPENERS:
            open_groups.append(token)
        elif token == FRACTION_BAR:
            if not open_groups or open_groups.pop() != FRACTION or previous == FRACTION:
                return False
            open_groups.append(FRACTION_BAR)
        elif token == CLOSE:
            if not open_groups or open_groups.pop() == FRACTION:
                return False
            if previous in OPENERS and previous != STRUCK or previous == FRACTION_BAR:
                return False
        previous = token
    return not open_groups


def normalise(text: str) -> str:
    """``text`` in the one spelling of this module's docstring.

    Unifies look-alike signs, Unicode raised and lowered characters and ready-made fractions, and
    settles the spaces.  Characters outside the notation are left as they are (``is_supported``
    tells).  A space before a unit is inserted only where the unit cannot be a product of letters
    (``3nC`` but not ``2F``).
    """
    for sign, halves in _SIMPLE_FRACTION.items():
        text = text.replace(sign, rf"\frac{{{halves}}}")
    text = _RAISED_RUN.sub(lambda m: _as_group(RAISED, m.group()), text)
    text = _LOWERED_RUN.sub(lambda m: _as_group(LOWERED, m.group()), text)
    text = text.translate(_SAME_SIGN)
    text = re.sub(r" +", " ", text).strip()
    text = _TIGHT.sub(r"\1", text)
    text = _TWO_SIDED_SIGN.sub(r"\1", text)
    text = _SIGN_AFTER_OPENING.sub(r"\1\2", text)
    text = re.sub(r"^([+-]) +", r"\1", text)
    text = re.sub(r" *∴ *", "∴", text)
    text = re.sub(r" +([\^_]\{)", r"\1", text)
    text = re.sub(r"([(\[{]) +", r"\1", text)
    text = re.sub(r" +([)\]}%;]|,(?![0-9]))", r"\1", text)
    text = re.sub(r"\} +\{", "}{", text)
    return _PREFIXED_UNIT.sub(" ", text)


def flatten(text: str) -> str:
    """``text`` without raised and lowered marks: ``10^{-9}`` becomes ``10-9``; all else stays."""
    pieces: list[str] = []
    keeps_brace: list[bool] = []
    for match in _TOKEN.finditer(text):
        token = match.group()
        if token in (RAISED, LOWERED):
            keeps_brace.append(False)
            continue
        if token in OPENERS:
            keeps_brace.append(True)
        elif token == CLOSE and keeps_brace and not keeps_brace.pop():
            continue
        pieces.append(token)
    return "".join(pieces)


def _as_group(opener: str, run: str) -> str:
    return opener + unicodedata.normalize("NFKC", run.translate(_SIGN_IN_SCRIPT)) + CLOSE
