r"""One reading of a handwritten line becomes relations over symbols and quantities as written.

``parse_line("∴F=\frac{9×10^{9}×3,6×10^{-9}×4,8×10^{-9}}{0,12^{2}}=1,08×10^{-5} N")`` gives one
relation of three sides: the symbol ``F``, a sympy expression over the leaves ``#0`` ... ``#3``
(each a ``Quantity`` that keeps how it was written), and a single leaf with its unit. Nothing is
evaluated, and nothing is raised: what is no valid writing comes back as ``Unparsed``.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from functools import lru_cache

import sympy

from parser.quantity import DecimalMark, Found, canonical, find_quantities, read_direction
from parser.worksheet import ParsedLine, Quantity, Relation, Side, Unparsed

LONGEST_LINE = 400  # characters; a longer line is no line of working
DEEPEST_NESTING = 12  # brackets and fractions inside each other

RELATION_SIGNS = ("=", "≈", "~", "≠", "≤", "≥", "<", ">", "∝")
_FUNCTIONS: dict[str, Callable[[sympy.Expr], sympy.Expr]] = {
    "sin": sympy.sin,
    "cos": sympy.cos,
    "tan": sympy.tan,
    "arcsin": sympy.asin,
    "arccos": sympy.acos,
    "arctan": sympy.atan,
    "ln": sympy.log,
    "sqrt": sympy.sqrt,
}
_INVERSE = {"sin": sympy.asin, "cos": sympy.acos, "tan": sympy.atan}

# Letters written behind a symbol that only ever lower it ("Fnet", "Ek").
_LOWERED_TAILS = re.compile(
    r"(net|res|tot|total|final|new|old|max|min|avg|ave|kin|pot|after|before|AB|BA|BC|CB|AC|CA)"
    r"(?![a-z])"
)
_TWO_LETTER_SYMBOLS = re.compile(r"(E[kp]|F[EegNx]|F[y]|U[Eep])(?![A-Za-z])")
_SHORT_WORDS = re.compile(
    r"to|on|of|in|is|at|or|so|by|be|as|if|it|no|an|we|up|the|and|net|ans|for|two|are|was|its|not|"
    r"but|has|new|tot|let|use|sum|due|each|both|one|from|with|then|that|this|per|you|all|gives"
)
_WORD = re.compile(r"[A-Za-z]+(?:['-][a-z]+)*")
_COUNT_NOUN = re.compile(
    r" ?(?<![A-Za-z])(?:excess |extra |free )?"
    r"(?:electrons?|protons?|e\^\{-\}|particles?|ions?|times)$",
    re.I,
)
_LABEL = re.compile(
    r"^(?:\(?(?:[a-h]|i{1,3}|iv|vi?)\)|\d+(?:\.\d+){2,}(?:\.|\))? (?=\S)"
    r"|\d+\.\d+\)? (?=[A-Z](?:_\{\w+\})? ?=)|\d+[.)] ?(?=[A-Za-z\\(∴]))\s*"
)
_LEADING = re.compile(
    r"^(?:[∴⇒*•✓:]|→(?=.*[=\d])|-(?=>)|>"
    r"|(?:so|therefore|thus|hence|then|but|and|now)\b[,:]?)+\s*",
    re.I,
)
_SEPARATORS = (";", "⇒", "∴", "→")


class _Broken(Exception):
    """The writing makes no sense from ``rest`` on."""

    def __init__(self, rest: str) -> None:
        super().__init__(rest)
        self.rest = rest


def parse_line(
    text: str, decimal_mark: DecimalMark | None = None, bodies: Sequence[str] = ()
) -> ParsedLine | Unparsed:
    """The relations that ``text`` (one reading in linear notation) states.

    Args:
        text: the reading.
        decimal_mark: the sheet's settled convention, or None.
        bodies: names of the question's bodies, so that "FA" means the force on A.

    Returns:
        ParsedLine, or Unparsed with the part that could not be understood. Never raises.
    """
    if len(text) > LONGEST_LINE:
        return Unparsed(text, text[LONGEST_LINE:])
    try:
        return _parse(text, decimal_mark, tuple(b for b in bodies if len(b) == 1))
    except _Broken as broken:
        return Unparsed(text, broken.rest)
    except (ArithmeticError, ValueError, TypeError, RecursionError, AttributeError):
        return Unparsed(text, text)


def is_plausible(parsed: ParsedLine | Unparsed) -> bool:
    """True when a reading is valid physics writing: it parses, and no number stands without sense.

    Judged from the writing alone (a power of ten without its power, a unit that is no unit, two
    numbers side by side), never from whether the result is right.
    """
    if isinstance(parsed, Unparsed):
        return False
    for relation in parsed.relations:
        for quantity in relation.quantities:
            if re.search(r"[×x*·] ?10(?![\d^.,])", quantity.text):
                return False
        for first, second in _side_units(relation):
            if first != second:
                return False
    return True


def _side_units(relation: Relation) -> Iterator[tuple[str, str]]:
    """SI units of neighbouring sides that are both single quantities with a unit."""
    units = []
    for side in relation.sides:
        leaf = single_quantity(relation, side)
        units.append(leaf.unit if leaf is not None and leaf.written_unit else None)
    for first, second in zip(units, units[1:], strict=False):
        if first is not None and second is not None:
            yield first, second


def leaf_index(symbol: sympy.Basic) -> int | None:
    """Index into ``Relation.quantities`` of a leaf symbol, None for a written symbol."""
    name = getattr(symbol, "name", "")
    return int(name[1:]) if name.startswith("#") else None


def leaves(expression: sympy.Expr) -> tuple[int, ...]:
    """Indices of the quantities in an expression, ascending (the order of writing)."""
    found = (leaf_index(s) for s in expression.free_symbols)
    return tuple(sorted(i for i in found if i is not None))


def written_symbols(expression: sympy.Expr) -> tuple[str, ...]:
    """Names of the written symbols in an expression, sorted."""
    return tuple(sorted(s.name for s in expression.free_symbols if leaf_index(s) is None))


def single_quantity(relation: Relation, side: Side) -> Quantity | None:
    """The quantity of a side that is nothing but one number, with the side's unit if it has one."""
    expression = side.expression
    if expression is None:
        return None
    negative = False
    if expression.is_Mul and expression.args[0] == -1 and len(expression.args) == 2:
        expression, negative = expression.args[1], True
    index = leaf_index(expression) if expression.is_Symbol else None
    if index is None:
        return None
    quantity = relation.quantities[index]
    if side.unit and not quantity.written_unit:
        factor = unit_quantity(side.unit)
        if factor is not None:
            quantity = replace(
                quantity,
                value=quantity.value * factor.value,
                unit=factor.unit,
                written_unit=factor.written_unit,
                prefix=factor.prefix,
            )
    if negative:
        quantity = replace(
            quantity, value=-quantity.value, written_value=-quantity.written_value, sign="-"
        )
    return quantity


@lru_cache(maxsize=512)
def unit_quantity(unit: str) -> Quantity | None:
    """One of ``unit`` (as written, "nC") as a quantity, or None when it is no unit."""
    found = find_quantities(f"1 {unit}", with_directions=False)
    whole = len(found) == 1 and found[0].number_end == len(unit) + 2
    return found[0].quantity if whole and found[0].quantity.written_unit else None


# --- a line into relations ------------------------------------------------------------------


@lru_cache(maxsize=4096)
def _parse(text: str, mark: DecimalMark | None, bodies: tuple[str, ...]) -> ParsedLine:
    line = _clean(text)
    if not line:
        return ParsedLine(text)
    alone = _whole_direction(line)
    if alone is not None:
        return ParsedLine(text, direction=alone)
    relations: list[Relation] = []
    words: list[str] = []
    direction = None
    for piece in _statements(line):
        whole = _whole_direction(piece)
        if whole is not None:
            direction = whole
            if relations and relations[-1].direction is None:
                relations[-1] = replace(relations[-1], direction=whole)
            continue
        relation = _read_relation(piece, mark, bodies)
        if relation is None:
            words.append(piece)
        else:
            relations.append(relation)
    for one in words:
        inside = _direction_inside(one)
        if inside is not None and direction is None:
            direction = inside
    return ParsedLine(text, tuple(relations), " ".join(words), direction)


def _clean(text: str) -> str:
    line = _without_struck(canonical(text)).replace("−", "-").strip()
    line = re.sub(r" +", " ", line)
    line = re.sub(r"\\(?:times|cdot)\b ?", "×", line).replace("*", "×")
    line = re.sub(r"(?<=[0-9)}\]CmNVJs]) ?[xX] ?(?=[-+]?[0-9(\[\\])", "×", line)
    line = re.sub(r"(?<=[\d})] )(N|kg|V|C)(?=(?:m|C|s)(?:\^|/|\b))", r"\1·", line)
    line = re.sub(r"(?<=[\d})] )m(?=s\^\{?-)", "m·", line)
    line = re.sub(r"(?<=[mCNs]\^\{2\})(?=[CNms]\^)", "·", line)
    line = re.sub(r"(?<=[mCNs]\^\{-[12]\})(?=[CNms])", "·", line)
    line = re.sub(r"(?<=10) \^", "^", line)
    line = re.sub(r"(?<=\d)\.(?=10\^\{(?!2\}))", "×", line)
    line = re.sub(r"\b(?:is|are) (?=[-+]?\d)", "=", line)
    previous = None
    while previous != line:
        previous = line
        line = _LEADING.sub("", line)
        line = _LABEL.sub("", line)
    return line.strip().rstrip(".;!? ").strip()


def _without_struck(text: str) -> str:
    while (start := text.find(r"\struck{")) >= 0:
        end = _closing(text, start + len(r"\struck{") - 1)
        text = text[:start] + text[end + 1 :]
    return text


def _closing(text: str, opening: int) -> int:
    """Index of the brace that closes the one at ``opening``."""
    depth = 0
    for index in range(opening, len(text)):
        depth += (text[index] == "{") - (text[index] == "}")
        if depth == 0:
            return index
    raise _Broken(text[opening:])


def _top_level(text: str) -> Iterator[tuple[int, str]]:
    """(index, character) of what stands outside every bracket and brace."""
    depth = 0
    for index, char in enumerate(text):
        if char in "{([":
            depth += 1
        elif char in "})]":
            depth -= 1
        elif depth == 0:
            yield index, char


def _statements(line: str) -> list[str]:
    """The line cut at "⇒", ";", ", " and before a new "symbol=" after a finished value."""
    cuts: list[tuple[int, int]] = []
    for index, char in _top_level(line):
        later = line[index + 1 :]
        if (
            char in _SEPARATORS
            and (char != "→" or re.match(r".*[=≈]", later))
            or char == ","
            and not re.match(r"\d", later)
        ):
            cuts.append((index, index + 1))
        elif char == " " and re.match(r"(?:and|so|but|therefore) ", later):
            word = re.match(r"[a-z]+ ", later)
            assert word is not None
            if "=" in line[:index] and "=" in later:
                cuts.append((index, index + 1 + word.end()))
        elif char == " " and _starts_new_equation(line, index):
            cuts.append((index, index + 1))
    pieces, at = [], 0
    for start, end in cuts:
        if start >= at:
            pieces.append(line[at:start].strip())
            at = end
    pieces.append(line[at:].strip())
    return [p for p in pieces if p]


def _starts_new_equation(line: str, space: int) -> bool:
    before, after = line[:space], line[space + 1 :]
    if not re.match(r"[A-Za-zΔ][A-Za-z]?(?:_\{[^{}]*\}|\d)?'?(?:=|≈)", after):
        return False
    name = re.split(r"[=≈]", after)[0]
    if re.search(r"[\d})]$", before) and unit_quantity(name) is not None:
        return False
    last = re.split(r"[=≈]", before)[-1]
    return "=" in before and bool(re.fullmatch(r"[-+]?[\d.,]+.*", last))


def _whole_direction(text: str) -> str | None:
    """The direction a text names when it says nothing else ("Direction: to the left")."""
    bare = re.sub(
        r"^(?:(?:the )?direction(?: of [^:=]*)?(?: ?[:=]| is)? ?|it (?:acts|points) |acting |"
        r"directed |force (?:acts|is) )",
        "",
        text,
        flags=re.I,
    ).strip(" ()[]:.")
    if bare in ("+", "-") or not bare:
        return None
    return _direction_of(bare)


def _direction_inside(text: str) -> str | None:
    if re.search(r"\d", text):
        return None
    found = {
        read[0]
        for match in re.finditer(r"(?<![\w])\S", text)
        if (read := read_direction(text, match.start())) is not None
    }
    found = {f for f in found if f is not None}
    return found.pop() if len(found) == 1 else None


def _read_relation(
    piece: str, mark: DecimalMark | None, bodies: tuple[str, ...]
) -> Relation | None:
    """One statement, or None when it is words only."""
    body, direction = _split_direction(piece)
    if direction is None:
        body, direction = _split_direction(_without_remark(piece))
    parts, signs = _split_sides(body)
    continues = bool(signs) and parts[0] == ""
    if continues:
        parts = parts[1:]
    elif parts and re.match(r"[×·/÷]", parts[0]):
        continues, signs = True, (parts[0][0], *signs)
        parts[0] = parts[0][1:]
    if not parts or any(p == "" for p in parts):
        raise _Broken(piece)
    quantities: list[Quantity] = []
    sides = []
    label = ""
    for index, part in enumerate(parts):
        part, count_noun = _without_count_noun(part)
        if _is_words(part):
            if index == 0 and len(parts) > 1:
                sides.append(Side(part, words=part))
                continue
            found = _split_label(part)
            if found is None:
                if len(parts) == 1:
                    return None
                raise _Broken(part)
            label, part = found
            part, count_noun = _without_count_noun(part)
        sides.append(_read_side(part, quantities, mark, bodies, count_noun))
    return Relation(
        piece, tuple(sides), tuple(signs), tuple(quantities), continues, label, direction
    )


def _without_remark(piece: str) -> str:
    """The piece without words at its end that are no direction ("(attraction)", "each")."""
    match = re.search(r"(?<=\S) ?[(\[]([a-z][a-z ,-]*)[)\]]$", piece, re.I) or re.search(
        r"(?<=[\dA-Za-zΩ%}]) (?:of )?([a-z]{3,}(?: [a-z]{3,}){0,3})$", piece
    )
    if match is not None and _COUNT_NOUN.search(piece):
        return piece
    if match is None or not _is_words(match.group(1)) or _whole_direction(match.group(1)):
        return piece
    return piece[: match.start()]


def _split_direction(piece: str) -> tuple[str, str | None]:
    """The piece without the direction at its end."""
    for match in re.finditer(r"[ ,(\[]|(?<=\S)(?=[→←↑↓]$)", piece):
        start = match.end() if match.group() in (" ", ",", "") else match.start()
        tail = piece[start:].strip()
        bare = tail.strip("()[] ")
        if not bare or (bare[0].isdigit() and "°" not in bare and "deg" not in bare):
            continue
        direction = _direction_of(bare)
        if direction is not None and piece[: match.start()].strip():
            return piece[: match.start()].strip(" ,("), direction
    return piece, None


_WORDED = re.compile(r"(towards?|away from) (?:the )?(?:other )?([a-z]+(?: \d)?)")


def _direction_of(text: str) -> str | None:
    """The direction that a whole text names, bodies in words included ("away from the bead")."""
    read = read_direction(text)
    if read is not None and read[1] >= len(text):
        return read[0]
    worded = _WORDED.fullmatch(text)
    if worded is None:
        return None
    return f"{'away from' if worded.group(1) == 'away from' else 'towards'} {worded.group(2)}"


def _split_sides(body: str) -> tuple[list[str], tuple[str, ...]]:
    parts: list[str] = []
    signs: list[str] = []
    at = 0
    for index, char in _top_level(body):
        if char in RELATION_SIGNS:
            if char != "=" and index == at and signs and index:
                continue
            parts.append(body[at:index].strip())
            signs.append("≈" if char == "~" else char)
            at = index + 1
    parts.append(body[at:].strip())
    return parts, tuple(signs)


def _without_count_noun(part: str) -> tuple[str, str]:
    match = _COUNT_NOUN.search(part)
    if match and re.search(r"[\d})]$", part[: match.start()]):
        return part[: match.start()], match.group().strip()
    return part, ""


def _split_label(part: str) -> tuple[str, str] | None:
    """ "charge on A: 3 nC" -> the words and the rest; None when the rest holds words too."""
    for gap in re.finditer(r"(?<=[A-Za-z)])(?: ?: ?| - | )(?=[-+]?[\d(\\])", part):
        if not _is_words(part[gap.end() :]):
            return part[: gap.start()], part[gap.end() :]
    return None


def _is_words(part: str) -> bool:
    """True when a text holds a word of speech outside its raised and lowered parts."""
    bare = re.sub(r"[_^]\{[^{}]*\}|\\(?:frac|sqrt)", " ", part)
    return any(_is_word(m.group(), bare, m.start(), m.end()) for m in _WORD.finditer(bare))


def _is_word(run: str, text: str, start: int, end: int) -> bool:
    lower = run.lower()
    if len(run) == 2 and re.match(r"[=+×·/(}\d-]", text[max(0, start - 1) : start]):
        return False  # letters that multiply: "u+at"
    if _SHORT_WORDS.fullmatch(lower) and (run.islower() or run.istitle()):
        return text[end : end + 1] != "_"
    if lower in _FUNCTIONS or len(run) < 3 or unit_quantity(run) is not None:
        return False
    if _LOWERED_TAILS.search(run) and len(_LOWERED_TAILS.sub("", run)) <= 1:
        return False
    if any(lower.startswith(f) and len(run) <= len(f) + 1 for f in ("sin", "cos", "tan")):
        return False
    rest = run[1:]
    return len(run) >= 4 and rest.islower() and bool(re.search(r"[aeiouy]", lower))


# --- one side ---------------------------------------------------------------------------------


def _read_side(
    part: str,
    quantities: list[Quantity],
    mark: DecimalMark | None,
    bodies: tuple[str, ...],
    count_noun: str,
) -> Side:
    """One side; a unit letter glued to a whole number is a unit only beside no symbol."""
    for glued_units in (True, False):
        reader = _SideReader(part, len(quantities), mark, bodies, glued_units)
        expression, unit = reader.read()
        if glued_units and reader.doubtful_unit and written_symbols(expression):
            continue
        break
    quantities.extend(reader.quantities)
    return Side(part, expression, unit, words=count_noun)


class _SideReader:
    """Recursive descent over one side's text."""

    def __init__(
        self,
        text: str,
        first_leaf: int,
        mark: DecimalMark | None,
        bodies: tuple[str, ...],
        glued_units: bool,
    ) -> None:
        self.text = text
        self.at = 0
        self.first_leaf = first_leaf
        self.mark = mark
        self.bodies = bodies
        self.glued_units = glued_units
        self.quantities: list[Quantity] = []
        self.doubtful_unit = False
        self.symbols = 0
        self.depth = 0

    # -- grammar

    def read(self) -> tuple[sympy.Expr, str]:
        expression = self._sum()
        unit = self._trailing_unit()
        self._skip()
        if self.at < len(self.text):
            raise _Broken(self.text[self.at :])
        return expression, unit

    def _sum(self) -> sympy.Expr:
        self.depth += 1
        if self.depth > DEEPEST_NESTING:
            raise _Broken(self.text[self.at :])
        total = self._product(signed=True)
        while True:
            self._skip()
            if self._take("+"):
                total = total + self._product(signed=True)
            elif self._take("-"):
                total = total - self._product(signed=True)
            elif self._take("±"):
                total = total + self._product(signed=True)
            else:
                self.depth -= 1
                return total

    def _product(self, signed: bool = False) -> sympy.Expr:
        result = self._factor(signed)
        while True:
            self._skip()
            if self._take("×") or self._take("·"):
                result = result * self._factor(signed=True)
            elif self._take("/") or self._take("÷"):
                result = result / self._divisor()
            elif self.text[self.at : self.at + 1] == ":" and self.at + 1 < len(self.text):
                self.at += 1
                result = result / self._factor(signed=True)
            elif self._starts_factor():
                result = result * self._factor(signed=False)
            else:
                return result

    def _divisor(self) -> sympy.Expr:
        """What a slash divides by: one factor, or letters run together ("mg/qE", "1/4πε_{0}")."""
        start = self.at
        number = re.match(r" ?(\d+(?:[.,]\d+)?)(?= [A-Za-zµΩ])", self.text[start:])
        if number and not any(q.written_unit for q in self.quantities):
            self.at += number.end()
            if self._is_trailing_unit(1):
                return self._leaf(_plain(number.group(1), self.mark))
            self.at = start
        divisor = self._factor(signed=True)
        symbolic = bool(written_symbols(divisor)) or divisor.has(sympy.pi)
        before_pi = re.match(r"\d+ ?π", self.text[start:])
        while (
            (symbolic or before_pi)
            and self.at < len(self.text)
            and re.match(r"[A-Za-zπεσλθ]", self.text[self.at])
            and self._starts_factor()
        ):
            divisor = divisor * self._factor(signed=False)
        return divisor

    def _factor(self, signed: bool) -> sympy.Expr:
        self._skip()
        sign = 1
        if signed:
            while (char := self.text[self.at : self.at + 1]) in ("+", "-") and char:
                if re.match(r"[+-] ?[.,]?\d", self.text[self.at :]):
                    break
                sign = -sign if char == "-" else sign
                self.at += 1
                self._skip()
        return sign * self._postfix(self._base(signed))

    def _postfix(self, base: sympy.Expr) -> sympy.Expr:
        while self.at < len(self.text):
            if self.text.startswith("^{", self.at):
                base = base ** self._exponent(self._group(self.at + 1))
            elif re.match(r"\^[-+]?\d", self.text[self.at :]):
                match = re.match(r"\^([-+]?\d+)", self.text[self.at :])
                assert match is not None
                self.at += match.end()
                base = base ** int(match.group(1))
            elif self.text[self.at] == "²":
                self.at += 1
                base = base**2
            elif self.text[self.at] in "!'":
                self.at += 1
            else:
                break
        return base

    def _exponent(self, text: str) -> sympy.Expr:
        text = text.strip()
        if re.fullmatch(r"[+-]? ?\d{1,3}", text):
            return sympy.Integer(text.replace(" ", ""))
        halves = re.fullmatch(r"([+-]?\d+)/(\d+)|\\frac\{(\d+)\}\{(\d+)\}", text)
        if halves:
            top, bottom = [g for g in halves.groups() if g is not None]
            if int(bottom) == 0:
                raise _Broken(text)
            return sympy.Rational(int(top), int(bottom))
        return self._inner(text)

    def _base(self, signed: bool) -> sympy.Expr:
        text, at = self.text, self.at
        if at >= len(text):
            raise _Broken(text)
        if re.match(r"[+-]? ?[.,]?\d", text[at:]) and (signed or text[at] not in "+-"):
            return self._number()
        if text.startswith(r"\frac{", at):
            top = self._inner(self._group(at + 5))
            if not text.startswith("{", self.at):
                raise _Broken(text[at:])
            return top / self._inner(self._group(self.at))
        if text.startswith(r"\sqrt{", at):
            return sympy.sqrt(self._inner(self._group(at + 5)))
        if text[at] in "√":
            self.at += 1
            return sympy.sqrt(self._factor(signed=False))
        if text[at] in "([":
            return self._bracket({"(": ")", "[": "]"}[text[at]])
        if text[at] == "|":
            end = text.find("|", at + 1)
            if end < 0:
                raise _Broken(text[at:])
            self.at = end + 1
            return sympy.Abs(self._inner(text[at + 1 : end]))
        function = re.match(r"(arcsin|arccos|arctan|sqrt|sin|cos|tan|ln)(?![a-z]{2})", text[at:])
        if function:
            return self._function(function.group(1))
        if text[at] == "π":
            self.at += 1
            return sympy.pi
        return self._symbol()

    def _function(self, name: str) -> sympy.Expr:
        self.at += len(name)
        apply = _FUNCTIONS[name]
        power = 1
        raised = re.match(r"\^\{(-1|2)\}", self.text[self.at :])
        if raised:
            self.at += raised.end()
            if raised.group(1) == "-1":
                apply = _INVERSE.get(name, apply)
            else:
                power = 2
        self._skip()
        return apply(self._factor(signed=True)) ** power

    def _bracket(self, closing: str) -> sympy.Expr:
        self.at += 1
        inside = self._sum()
        self._trailing_unit()
        self._skip()
        if not self._take(closing):
            raise _Broken(self.text[self.at :] or self.text)
        return inside

    def _group(self, opening: int) -> str:
        """The text between the brace at ``opening`` and its partner; moves behind it."""
        end = _closing(self.text, opening)
        self.at = end + 1
        return self.text[opening + 1 : end]

    def _inner(self, text: str) -> sympy.Expr:
        """A nested text read with the same leaves."""
        if self.depth > DEEPEST_NESTING:
            raise _Broken(text)
        inner = _SideReader(
            text, self.first_leaf + len(self.quantities), self.mark, self.bodies, self.glued_units
        )
        inner.depth = self.depth + 1
        expression, _ = inner.read()
        self.quantities.extend(inner.quantities)
        self.doubtful_unit |= inner.doubtful_unit
        self.symbols += inner.symbols
        return expression

    # -- leaves

    def _number(self) -> sympy.Expr:
        ten_squared = re.match(r"10(?=\^\{2\})", self.text[self.at :])
        if ten_squared and self.text[self.at - 1 : self.at] not in ("×", "·", "."):
            self.at += 2  # the square of ten something, not a power of ten
            return self._leaf(_plain("10", self.mark))
        found = _quantity_at(self.text[self.at :], self.mark)
        if found is None:
            raise _Broken(self.text[self.at :])
        quantity, end = found.quantity, found.number_end
        tail = self.text[self.at + end :]
        if quantity.written_unit and not self._unit_belongs(quantity, tail, end):
            number = _number_text(self.text[self.at :])
            quantity, end = _plain(number, self.mark), len(number)
        self.at += end
        return self._leaf(quantity)

    def _leaf(self, quantity: Quantity) -> sympy.Expr:
        symbol = sympy.Symbol(f"#{self.first_leaf + len(self.quantities)}")
        self.quantities.append(quantity)
        return symbol

    def _unit_belongs(self, quantity: Quantity, tail: str, end: int) -> bool:
        """Is the unit found behind a number a unit, or a symbol that multiplies it?"""
        if re.match(r" ?[A-Za-zΔπεσλθµ(\\]", tail) and not re.match(r" ?x ", tail):
            return False
        if tail.startswith("_"):
            return False
        span = self.text[self.at : self.at + end]
        number = _number_text(span)
        glued = span[len(number) : len(number) + 1] != " "
        if not glued or quantity.prefix or quantity.exponent is not None:
            return quantity.written_unit != "e" or glued
        if quantity.written_unit in ("deg", "percent") or "/" in quantity.written_unit:
            return True
        if quantity.written_unit == "e":
            return False
        if re.search(r"[.,]\d", number):
            return True
        self.doubtful_unit = True
        return self.glued_units

    def _symbol(self) -> sympy.Expr:
        text, at = self.text, self.at
        two = _TWO_LETTER_SYMBOLS.match(text, at)
        if two:
            self.at = two.end()
            return sympy.Symbol(f"{text[at]}_{{{text[at + 1]}}}")
        match = re.match(r"[ΔΣ]?[A-Za-zµΩθλρεΔσαβφωγτηνℓ]", text[at:])
        if match is None:
            raise _Broken(text[at:])
        name = match.group()
        self.at += match.end()
        self.symbols += 1
        lowered = ""
        if text.startswith("_{", self.at):
            lowered = self._group(self.at + 1).strip()
        elif (short := re.match(r"_(\w)", text[self.at :])) is not None:
            lowered = short.group(1)
            self.at += short.end()
        elif (tail := _LOWERED_TAILS.match(text, self.at)) is not None and name[-1].isalpha():
            lowered = tail.group()
            self.at = tail.end()
        elif (digit := re.match(r"\d(?![\d.,]|×10)", text[self.at :])) is not None:
            lowered = digit.group()
            self.at += 1
        elif self.bodies and name in "QqFEVU":
            body = re.match(
                "[" + "".join(map(re.escape, self.bodies)) + "](?![a-z_])", text[self.at :]
            )
            if body:
                lowered = body.group()
                self.at += 1
        while self.at < len(text) and text[self.at] == "'":
            name += "'"
            self.at += 1
        return sympy.Symbol(f"{name}_{{{lowered}}}" if lowered else name)

    def _trailing_unit(self) -> str:
        """A unit behind a whole expression, up to the end or the closing bracket."""
        match = re.match(r" ?([A-Za-zµΩ°%][^=()\[\]]*)(?=$|[)\]])", self.text[self.at :])
        if match is None or not self.quantities:
            return ""
        unit = match.group(1).strip()
        if unit_quantity(unit) is None:
            return ""
        self.at += match.end()
        return unit

    # -- cursor

    def _skip(self) -> None:
        while self.at < len(self.text) and self.text[self.at] == " ":
            self.at += 1

    def _take(self, char: str) -> bool:
        if self.text.startswith(char, self.at):
            self.at += 1
            return True
        return False

    def _starts_factor(self) -> bool:
        """Does an implied multiplication go on here?"""
        rest = self.text[self.at :]
        if not rest or rest[0] in "+-)]},.:":
            return False
        if rest[0] == "|":
            return "|" in rest[1:]
        spaced = self.at > 0 and self.text[self.at - 1] == " "
        closed = self.text[self.at - 1 : self.at] in ("}", ")", "]")
        if self.quantities and (spaced or closed and not self.symbols) and self._is_trailing_unit():
            return False
        if rest[0].isdigit():
            return self.at > 0 and (
                self.text[self.at - 1] in ")]}" or spaced and self._after_name()
            )
        return bool(re.match(r"[A-Za-zΔΣµΩθλρεσαβφωγτηνπ(\[√]|\\frac\{|\\sqrt\{", rest))

    def _after_name(self) -> bool:
        return bool(re.search(r"[A-Za-z}] $", self.text[: self.at]))

    def _is_trailing_unit(self, gap: int = 0) -> bool:
        match = re.match(r"([A-Za-zµΩ°%][^=()\[\]]*)(?=$|[)\]])", self.text[self.at + gap :])
        return match is not None and unit_quantity(match.group(1).strip()) is not None


_NUMBER_TEXT = re.compile(
    r"[+-]? ?(?:\d{1,3}(?: \d{3})+(?:[.,]\d+)?(?!\d)|[.,]?\d+(?:[.,]\d+)*)"
    r"(?:[eE][+-]?\d{1,3}(?![\d.]))?"
    r"(?: ?[×xX*·.] ?10(?:\^\{ ?[+-]? ?\d+ ?\}|\^\(?[+-]?\d+\)?|-\d{1,2}(?![\d.,])|(?![\d.,])))?"
    r"(?:\^\{ ?[+-]? ?\d+ ?\})?"
)
_UNIT_REACH = 40  # characters behind a number that its unit may take


def _number_text(text: str) -> str:
    """The number at the start of a text, without unit."""
    match = _NUMBER_TEXT.match(text)
    if match is None:
        raise _Broken(text)
    number = match.group()
    raised = re.search(r"\^\{[^}]*\}$", number)
    if raised and not re.search(r"(?:^|[^\d.,])10$", number[: raised.start()]):
        number = number[: raised.start()]
    return number


def _plain(number: str, mark: DecimalMark | None) -> Quantity:
    found = _quantity_at(number, mark)
    if found is None:
        raise _Broken(number)
    return found.quantity


@lru_cache(maxsize=4096)
def _quantity_at(text: str, mark: DecimalMark | None) -> Found | None:
    """The quantity that starts a text, or None."""
    number = _number_text(text)
    tail = re.match(r"[ A-Za-zµΩ°%·/^{}\d.,*()+-]*", text[len(number) :])
    reach = text[: len(number) + min(_UNIT_REACH, tail.end() if tail else 0)]
    found = find_quantities(reach, mark or _own_mark(number), with_directions=False)
    if not found or found[0].start != 0:
        return None
    return found[0]


def _own_mark(number: str) -> DecimalMark | None:
    return None if re.search(r"\d[.,]\d{3}(?!\d)", number) else "."
