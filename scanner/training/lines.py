"""The one door to training data: labelled line images, drawn at random or for an evaluation set.

::

    python -m scanner.training.lines --prepare --ink FOLDER --fonts FOLDER
    python -m scanner.training.lines --sheet FILE.png [--kind KIND] [--split validation]
    python -m scanner.training.lines --time
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.random import Generator
from PIL import Image, ImageDraw, ImageFont

from scanner.reader.notation import is_well_formed, normalise
from scanner.training import grammar
from scanner.training.compose import SCALE_UP, draw_style, ink_from, put_ink, write, write_parts
from scanner.training.hands import UNIT, HandBook, Ink, make_glyph
from scanner.training.printed import Face, FontBook, set_in_type
from scanner.training.real_lines import RealLine, RealLines, RealLineSampler

DATA_FOLDER = Path(__file__).resolve().parents[2] / ".data"
CHECKED_LINES = Path(__file__).with_name("checked_lines.txt")
WIDEST = 1500
TALLEST = 300

# What a training batch is made of.  "real" is whole lines by people; all else is composed.
MIXTURE: dict[str, float] = {
    "real": 0.32,
    # by hand
    "answer": 0.11,
    "plausible": 0.02,
    "implausible": 0.02,
    "formula": 0.07,
    "substitution": 0.10,
    "sum": 0.05,
    "chain": 0.03,
    "ratio": 0.015,
    "given": 0.025,
    "direction": 0.03,
    "label": 0.015,
    "number": 0.03,
    "random": 0.05,
    "struck": 0.02,
    "words": 0.03,
    "heading": 0.005,
    "graft": 0.05,  # a person's own number or word, the rest composed
    "outline": 0.035,  # a handwriting typeface as its outlines
    # in type
    "print:span": 0.07,
    "print:question": 0.025,
    "print:answer": 0.01,
    "print:formula": 0.01,
    "print:random": 0.015,
    "print:words": 0.005,
}
OUTLINE_KINDS = ("answer", "answer", "formula", "substitution", "sum", "words", "random", "given")
TYPEFACE_HANDS = 0.27  # share of composed lines written by a handwriting typeface's centre lines


@dataclass(frozen=True)
class LineSample:
    """One labelled line: ``image`` uint8 (height, width), dark ink on light."""

    image: np.ndarray
    label: str
    kind: str
    writer: str


class LineSource:
    """An endless, seeded stream of labelled lines of one split ("train" or "validation").

    Args:
        data_folder: what ``--prepare`` wrote.
        split: writers and typefaces of "train", or the ones held out for "validation".
        seed: the same seed gives the same lines.
        mixture: shares by kind; ``MIXTURE`` when left out.
    """

    def __init__(
        self,
        data_folder: Path | str = DATA_FOLDER,
        split: str = "train",
        seed: int = 0,
        mixture: dict[str, float] | None = None,
    ) -> None:
        if split not in ("train", "validation"):
            raise ValueError(f"split is train or validation, not {split!r}")
        folder, held_out = Path(data_folder), split == "validation"
        self.rng = np.random.default_rng(seed)
        self.hands = HandBook.load(folder, held_out)
        self.fonts = FontBook(folder, held_out)
        self.hand_fonts = FontBook(folder, held_out, "handwriting")
        self.real_lines = RealLines.load(folder, held_out)
        self._real = RealLineSampler(self.real_lines)
        shares = mixture or MIXTURE
        self._kinds = list(shares)
        self._edges = np.cumsum(np.array(list(shares.values())) / sum(shares.values()))
        self._last: Ink | None = None

    def sample(self) -> LineSample:
        """The next line."""
        where = int(np.searchsorted(self._edges, self.rng.random()))
        return self.sample_kind(self._kinds[min(where, len(self._kinds) - 1)])

    def sample_kind(self, kind: str) -> LineSample:
        """The next line of one kind: a key of ``MIXTURE``."""
        while True:
            if kind == "real":
                line = self.real(self._real.sample(self.rng))
            elif kind == "graft":
                line = self.grafted()
            elif kind == "outline":
                line = self.outlined()
            elif kind.startswith("print:"):
                line = self.printed(grammar.sample(self.rng, kind[6:]), kind)
            else:
                line = self.written(grammar.sample(self.rng, kind), kind)
            if line is not None:
                return line

    def real(self, line: RealLine, plain: bool = False) -> LineSample:
        """A person's whole line as a picture; ``plain`` leaves the paper white."""
        rng = self.rng
        u = rng.random(2)
        height = 24 + 36 * u[0]
        strokes = list(line.strokes) if plain else _bent(line, rng)
        ink = ink_from(strokes, height, 0.03 + 0.085 * u[1])
        return LineSample(self._on_paper(ink, height, plain), line.label, line.kind, line.writer)

    def written(self, text: str, kind: str, plain: bool = False) -> LineSample | None:
        """``text`` by a random hand; None when it would be too wide or too tall."""
        rng = self.rng
        hand = self.hands.any_hand(rng, TYPEFACE_HANDS)
        height = 24 + 32 * rng.random()
        ink = write(text, hand, rng, height, draw_style(rng, hand))
        return self._finish(ink, height, text, kind, hand.name, plain)

    def grafted(self) -> LineSample | None:
        """A number or word as a person wrote it, with composed characters round it."""
        rng = self.rng
        line = self._real.word_or_number(rng)
        ready = make_glyph(list(line.strokes))
        if line.label[0].isdigit():
            before, after = grammar.around_number(rng)
        else:
            before, after = grammar.before_word(rng), ""
        label = normalise(before + line.label + after)
        if not is_well_formed(label):
            return None
        hand = self.hands.near(line.writer, rng)
        height = 24 + 32 * rng.random()
        parts = [p for p in (before, ready, after) if p]
        ink = write_parts(parts, hand, rng, height)
        return self._finish(ink, height, label, "graft", line.writer, False)

    def outlined(self) -> LineSample | None:
        """A label set in the outlines of a handwriting typeface."""
        rng = self.rng
        kind = OUTLINE_KINDS[int(rng.random() * len(OUTLINE_KINDS))]
        text = grammar.sample(rng, kind)
        face = self.hand_fonts.face_that_prints(text, rng)
        if face is None:
            return None
        return self.printed(text, kind, (30, 72), face=face)

    def _finish(
        self, ink: Ink, height: float, text: str, kind: str, writer: str, plain: bool
    ) -> LineSample | None:
        if ink.box[2] > 2 * WIDEST or ink.box[3] > 2 * TALLEST:
            return None
        shrink = min(1.0, WIDEST / max(1.0, ink.box[2]), TALLEST / max(1.0, ink.box[3]))
        if shrink < 1.0:
            ink = _scaled(ink, shrink)
            height *= shrink
        return LineSample(self._on_paper(ink, height, plain), text, kind, writer)

    def printed(
        self,
        text: str,
        kind: str,
        em: tuple[float, float] = (14, 64),
        plain: bool = False,
        face: Face | None = None,
    ) -> LineSample:
        """``text`` in ``face`` or a random typeface."""
        rng = self.rng
        face = face or self.fonts.any_face(rng)
        u = rng.random(8)
        size = round(em[0] * (em[1] / em[0]) ** u[0])
        if len(text) * size * 0.5 > 1.3 * WIDEST:
            size = max(12, int(WIDEST / len(text) / 0.5))
        margin = tuple(round(size * m) for m in 0.02 + 0.5 * rng.random(4) ** 2)
        beside = ("", "")
        if not plain and kind.endswith("span") and u[1] < 0.3:
            beside = (grammar.word(rng), grammar.word(rng))
            # No more than a sliver of a neighbouring word may show: it is not in the label.
            edge = round(size * 0.3 + size * 0.1 * u[2])
            margin = (min(margin[0], edge), margin[1], min(margin[2], edge), margin[3])
        shade = int(70 * u[3] ** 2)
        image = set_in_type(text, self.fonts, face, size, rng, margin, beside, shade)
        if not plain and u[5] < 0.14:
            image = self._with_neighbour(image, face, size, shade)
        if not plain and u[4] < 0.12:
            image = _with_frame(image, rng, size)
        writer = f"typeface:{face.family} {face.style}"
        return LineSample(image, text, kind, writer)

    def _with_neighbour(self, image: np.ndarray, face: Face, size: int, shade: int) -> np.ndarray:
        """A sliver of the printed line above or below, in rows added to the crop."""
        rng = self.rng
        text = grammar.sample(rng, "words")
        if not all(face.file_for(c) for c in text if c != " "):
            return image
        other = set_in_type(text, self.fonts, face, size, rng, (0, 0, 0, 0), shade=shade)
        rows = max(2, min(len(other), round(size * (0.08 + 0.17 * rng.random()))))
        strip = np.full((rows, image.shape[1]), 255, np.uint8)
        across = min(image.shape[1], other.shape[1])
        if rng.random() < 0.5:
            strip[:, :across] = other[-rows:, :across]
            return np.concatenate([strip, image])
        strip[:, :across] = other[:rows, :across]
        return np.concatenate([image, strip])

    def _on_paper(self, ink: Ink, height: float, plain: bool) -> np.ndarray:
        """Ink cropped as a scanner would, on plain, ruled or squared paper, neighbours showing."""
        rng = self.rng
        u = rng.random(8)
        edges = height * (0.05 + 0.55 * rng.random(4) ** 1.7)
        if u[0] < 0.12:
            edges = height * (0.08 * rng.random(4) - 0.02)
        left, top, right, bottom = edges + ink.pen / 2
        width = max(10, round(left + ink.box[2] + right))
        tall = max(10, round(top + ink.box[3] + bottom))
        sheet = Image.new("L", (width * SCALE_UP, tall * SCALE_UP), 255)
        base = (top + ink.baseline) * SCALE_UP
        pitch = height * SCALE_UP
        shade = int(100 * u[1] ** 2)
        if not plain:
            if u[2] < 0.42:
                _rule(sheet, rng, base, pitch)
            if u[3] < 0.16 and self._last is not None:
                self._poke(sheet, ink, top, height, shade)
        put_ink(sheet, ink, (left, top), rng, pressure=0.9 * u[4] ** 2, shade=shade)
        if not plain and u[5] < 0.05:
            _speck(sheet, rng, shade)
        self._last = ink
        image = np.asarray(sheet.reduce(SCALE_UP))
        if u[6] < 0.2:
            image = _pencil(image, rng)
        return image

    def _poke(self, sheet: Image.Image, ink: Ink, top: float, height: float, shade: int) -> None:
        """Strokes of the line above or below that reach into this crop, but not into the ink."""
        rng = self.rng
        other = self._last
        assert other is not None
        reach = height * (0.1 + 0.25 * rng.random())
        x = ink.box[2] * (rng.random() - 0.5)
        if rng.random() < 0.5:
            y = min(top - other.box[3], reach - other.box[3])
        else:
            below = sheet.height / SCALE_UP - reach
            y = max(top + ink.box[3], below)
        put_ink(sheet, other, (x, y), rng, shade=shade)


def _bent(line: RealLine, rng: Generator) -> list[np.ndarray]:
    """The line's strokes leaned, stretched unevenly and shaken a little, still one hand's."""
    n = rng.standard_normal(8).astype(np.float32)
    u = rng.random(4).astype(np.float32)
    across, lean, slope = np.exp(0.12 * n[0]), 0.1 * n[1], 0.01 * n[2]
    points = np.concatenate(line.strokes)
    lengths = [len(s) for s in line.strokes]
    shake = np.repeat(
        0.018 * UNIT * rng.standard_normal((len(lengths), 2)).astype(np.float32), lengths, axis=0
    )
    x, y = points[:, 0], points[:, 1]
    phase = 6.28 * u[0] + x / (UNIT * (0.8 + 3 * u[1]))
    x = x * across + 0.06 * UNIT * n[3] * np.sin(phase) - lean * y
    swell = 1 + 0.06 * n[4] * np.sin(6.28 * u[2] + phase)
    y = y * swell + 0.04 * UNIT * n[5] * np.sin(6.28 * u[3] + 0.7 * phase) + slope * x
    bent = np.stack([x, y], axis=1) + shake
    return np.split(bent, np.cumsum(lengths)[:-1])


def _scaled(ink: Ink, scale: float) -> Ink:
    return Ink(
        tuple(p * np.float32(scale) for p in ink.polylines),
        ink.baseline * scale,
        tuple(v * scale for v in ink.box),
        max(1.0, ink.pen * scale),
    )


def _rule(sheet: Image.Image, rng: Generator, base: float, pitch: float) -> None:
    """Ruled or squared paper, a margin line or a box, fainter than the ink."""
    canvas = ImageDraw.Draw(sheet)
    u = rng.random(7)
    grey = int(130 + 110 * u[0])
    wide = 1 + int(2.4 * u[1])
    tilt = (u[2] - 0.5) * 0.02 * sheet.width
    if u[3] < 0.72:
        step = pitch * (1.5 + 1.2 * u[4])
        y = base + pitch * (0.15 * u[5]) - 4 * step
        while y < sheet.height + step:
            canvas.line((0, y - tilt, sheet.width, y + tilt), fill=grey, width=wide)
            y += step
    elif u[3] < 0.9:
        step = pitch * (0.55 + 0.7 * u[4])
        for k in range(int(sheet.height / step) + 3):
            y = (k - 1 + u[5]) * step
            canvas.line((0, y - tilt, sheet.width, y + tilt), fill=grey, width=wide)
        for k in range(int(sheet.width / step) + 2):
            x = (k + u[6]) * step
            canvas.line((x, 0, x, sheet.height), fill=grey, width=wide)
    else:
        inset = SCALE_UP * (1 + 3 * u[4])
        if u[5] < 0.5:
            box = (inset, inset, sheet.width - inset, sheet.height - inset)
            canvas.rectangle(box, outline=grey // 2, width=wide)
        else:
            x = inset if u[6] < 0.7 else sheet.width - inset
            canvas.line((x, 0, x + tilt, sheet.height), fill=grey, width=wide + 1)


def _speck(sheet: Image.Image, rng: Generator, shade: int) -> None:
    """A stray dot near the edge of the crop, smaller than a decimal point."""
    u = rng.random(3)
    x = u[0] * sheet.width
    y = sheet.height * (0.04 if u[1] < 0.5 else 0.96)
    ImageDraw.Draw(sheet).ellipse((x, y, x + 3, y + 3), fill=shade)


def _pencil(image: np.ndarray, rng: Generator) -> np.ndarray:
    """Graphite: grain and a lighter, uneven stroke."""
    light = np.float32(0.35 + 0.4 * rng.random())
    grain = rng.random(image.shape, dtype=np.float32)
    ink = (255 - image.astype(np.float32)) * (light + (1 - light) * grain)
    return (255 - ink).astype(np.uint8)


def _with_frame(image: np.ndarray, rng: Generator, size: int) -> np.ndarray:
    """A table rule, an underline or part of a box at the edge of a printed crop."""
    image = image.copy()
    thick = max(1, size // 18)
    u = rng.random(3)
    grey = int(120 * u[0])
    if u[1] < 0.4:
        image[-thick:, :] = grey
    elif u[1] < 0.6:
        image[:thick, :] = grey
    elif u[1] < 0.8:
        image[:, :thick] = grey
    else:
        image[:, -thick:] = grey
    return image


# --- evaluation sets ----------------------------------------------------------------------------

PRINT_AT_150_DPI = (19.0, 27.0)  # em in pixels of 9 to 13 point type


def _written_set(kind: str) -> Callable[[LineSource, int], list[LineSample]]:
    return lambda source, n: [source.sample_kind(kind) for _ in range(n)]


def _printed_set(source: LineSource, n: int) -> list[LineSample]:
    lines = []
    while len(lines) < n:
        text = grammar.sample(source.rng, "span")
        line = source.printed(text, "print:span", PRINT_AT_150_DPI, plain=True)
        if line is not None:
            lines.append(line)
    return lines


def _checked_set(name: str) -> Callable[[LineSource, int], list[LineSample]]:
    def lines(source: LineSource, n: int) -> list[LineSample]:
        ids = checked_ids(name)[:n]
        return [source.real(source.real_lines.by_id(i)) for i in ids]

    return lines


def checked_ids(name: str) -> list[int]:
    """Ids of validation lines whose labels were checked by eye (``checked_lines.txt``)."""
    for line in CHECKED_LINES.read_text(encoding="utf-8").splitlines():
        head, _, rest = line.partition(":")
        if head == name:
            return [int(i) for i in rest.split()]
    raise KeyError(name)


EVALUATION_SETS: dict[str, Callable[[LineSource, int], list[LineSample]]] = {
    "answers": _written_set("answer"),
    "formulas": _written_set("formula"),
    "sums": _written_set("sum"),
    "substitutions": _written_set("substitution"),
    "plausible": _written_set("plausible"),
    "implausible": _written_set("implausible"),
    "struck": _written_set("struck"),
    "directions": _written_set("direction"),
    "printed": _printed_set,
    "real-numbers": _checked_set("numbers"),
    "real-words": _checked_set("words"),
}


def evaluation_set(
    name: str, n: int = 1000, seed: int = 1, data_folder: Path | str = DATA_FOLDER
) -> list[LineSample]:
    """``n`` lines of a named set, from held-out writers and typefaces only.

    The ``real-`` sets hold only lines whose labels were checked by eye, so they may have fewer.
    """
    return EVALUATION_SETS[name](LineSource(data_folder, "validation", seed), n)


# --- command line -------------------------------------------------------------------------------


def contact_sheet(samples: list[LineSample], columns: int = 2, width: int = 760) -> Image.Image:
    """Samples with their labels, for looking at."""
    fonts = sorted((DATA_FOLDER / "fonts").glob("dejavusans__*regular*"))
    fonts += sorted((DATA_FOLDER / "fonts").glob("dejavusans__*"))
    font = ImageFont.truetype(str(fonts[0]), 13)
    cells = []
    for line in samples:
        picture = Image.fromarray(line.image)
        scale = min((width - 10) / picture.width, 90 / picture.height, 1.6)
        size = (max(1, int(picture.width * scale)), max(1, int(picture.height * scale)))
        cell = Image.new("L", (width, size[1] + 22), 225)
        cell.paste(picture.resize(size), (4, 2))
        ImageDraw.Draw(cell).text((4, size[1] + 4), f"{line.label}   [{line.kind}]", 0, font=font)
        cells.append(cell)
    rows = [cells[i : i + columns] for i in range(0, len(cells), columns)]
    tall = sum(max(c.height for c in row) for row in rows)
    sheet = Image.new("L", (width * columns, tall), 225)
    y = 0
    for row in rows:
        for i, cell in enumerate(row):
            sheet.paste(cell, (i * width, y))
        y += max(c.height for c in row)
    return sheet


def main() -> None:
    parser = argparse.ArgumentParser(description="Labelled lines for training the line reader.")
    parser.add_argument("--prepare", action="store_true", help="gather ink and typefaces")
    parser.add_argument("--ink", type=Path, help="folder of the .jsonl.gz ink files")
    parser.add_argument("--fonts", type=Path, help="folder with print/ and handwriting/")
    parser.add_argument("--data", type=Path, default=DATA_FOLDER, help="what --prepare writes")
    parser.add_argument("--sheet", type=Path, help="draw a contact sheet to this file")
    parser.add_argument("--time", action="store_true", help="time 2000 lines")
    parser.add_argument("--kind", help="only this kind of line")
    parser.add_argument("--split", default="train", choices=("train", "validation"))
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--count", type=int, default=48)
    given = parser.parse_args()
    if given.prepare:
        if not (given.ink and given.fonts):
            parser.error("--prepare needs --ink FOLDER and --fonts FOLDER")
        from scanner.training.gather import gather

        gather(given.ink, given.fonts, given.data)
    if given.sheet or given.time:
        mixture = {given.kind: 1.0} if given.kind else None
        source = LineSource(given.data, given.split, given.seed, mixture)
        if given.sheet:
            contact_sheet([source.sample() for _ in range(given.count)]).save(given.sheet)
        if given.time:
            start = time.process_time()
            for _ in range(2000):
                source.sample()
            print(f"{(time.process_time() - start) / 2:.2f} ms a line")


if __name__ == "__main__":
    main()
