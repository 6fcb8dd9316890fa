"""Gather handwriting and typefaces into one small folder that the line makers load quickly.

Runs once, at set-up (``python -m scanner.training.lines --prepare``); it needs fontTools.  What it
writes needs only NumPy and Pillow: ``hands.npz`` (characters as strokes, see ``hands.HandBook``),
``real_lines.npz`` (see ``real_lines``), and ``fonts/`` with ``fonts.json`` (see ``printed``).
"""

from __future__ import annotations

import gzip
import json
import re
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from scanner.reader.notation import CHARACTERS, is_supported, is_well_formed, normalise
from scanner.training.hands import UNIT
from scanner.training.real_lines import on_baseline, segments

GREEK_NAMES = dict(
    zip(
        (
            *("mu", "theta", "lambda", "rho", "epsilon", "pi", "sigma", "alpha", "beta"),
            *("phi", "omega", "gamma", "tau", "eta", "nu"),
        ),
        "µθλρεπσαβφωγτην",
        strict=True,
    )
)
# Top and bottom of lower-case Greek in digit heights (y down, baseline 0).
GREEK_EXTENT = {
    **dict.fromkeys("θλ", (-1.0, 0.0)),
    **dict.fromkeys("µρηγ", (-0.62, 0.36)),
    **dict.fromkeys("βφ", (-1.0, 0.33)),
    **dict.fromkeys("επσαωτν", (-0.62, 0.0)),
}
SMALL = set(".,'\"-~·`_:;=+")
TALLEST = 2.0
SHORTEST = 0.45

SKELETON_EM = 130
WIDEST_PEN = 0.2  # digit heights; the centre line of a broader brush is not a pen stroke
FONT_CHARS = "".join(sorted(CHARACTERS - {" "}))


def read_ink(path: Path) -> Iterator[dict]:
    """The samples of one ``.jsonl.gz`` file of pen strokes."""
    with gzip.open(path, "rt") as lines:
        for line in lines:
            yield json.loads(line)


# --- characters ---------------------------------------------------------------------------------


def gather_hands(ink_folder: Path, handwriting_fonts: list[Path], out: Path) -> None:
    """Write ``hands.npz`` from the ink files and the centre lines of handwriting typefaces."""
    inventories: dict[str, list[tuple[str, list[np.ndarray], float]]] = defaultdict(list)
    for char, writer, strokes in _placed_characters(ink_folder):
        inventories[writer].append((char, strokes, -1.0))
    for char, writer, strokes in _line_characters(ink_folder, set(inventories)):
        inventories[writer].append((char, strokes, -1.0))
    pens = dict.fromkeys(inventories, 0.055)
    for family, paths in _families(handwriting_fonts).items():
        for name, glyphs, pen in typeface_hands(family, paths):
            inventories[name] = glyphs
            pens[name] = pen
    _write_hands(inventories, pens, out)


def _placed_characters(folder: Path) -> Iterator[tuple[str, str, list[np.ndarray]]]:
    samples = list(read_ink(folder / "unipen_chars.train.jsonl.gz"))
    tops, bottoms, widths = defaultdict(list), defaultdict(list), defaultdict(list)
    for sample in samples:
        points = np.array([p for s in sample["strokes"] for p in s], np.float32)
        sample["height"], sample["wide"] = float(points[:, 1].max()), float(points[:, 0].max())
        widths[sample["label"]].append(sample["wide"])
        if sample["base"] is not None:
            tops[sample["label"]].append(-sample["base"])
            bottoms[sample["label"]].append(sample["height"] - sample["base"])
    top = {c: float(np.median(v)) for c, v in tops.items()}
    bottom = {c: float(np.median(v)) for c, v in bottoms.items()}
    for sample in samples:
        char = sample["label"]
        if char not in CHARACTERS:
            continue
        usual = bottom[char] - top[char]
        usual_width = float(np.median(widths[char]))
        if char not in SMALL and not (SHORTEST < sample["height"] / max(usual, 1) < TALLEST):
            continue
        if sample["wide"] > 2.2 * max(usual_width, 250) or sample["height"] > 2.5 * max(usual, 120):
            continue
        middle = (top[char] + bottom[char] - sample["height"]) / 2
        start = middle if sample["base"] is None else -sample["base"]
        if abs(start + sample["height"] / 2 - (top[char] + bottom[char]) / 2) > 0.28 * UNIT:
            start = middle
        lift = np.array([0, start], np.float32)
        yield char, sample["writer"], [np.array(s, np.float32) + lift for s in sample["strokes"]]
    for sample in read_ink(folder / "pendigits.train.jsonl.gz"):
        lift = np.array([0, -UNIT], np.float32)
        yield (
            sample["label"],
            sample["writer"],
            [np.array(s, np.float32) + lift for s in sample["strokes"]],
        )
    for sample in read_ink(folder / "omniglot_greek_latin.train.jsonl.gz"):
        char = GREEK_NAMES.get(sample["label"].lstrip("\\"))
        if char:
            high, low = GREEK_EXTENT[char]
            strokes = [
                np.array(s, np.float32) * (low - high) + [[0, high * UNIT]]
                for s in sample["strokes"]
            ]
            yield char, sample["writer"], [_round_off(s) for s in strokes]


def _line_characters(folder: Path, known: set[str]) -> Iterator[tuple[str, str, list[np.ndarray]]]:
    """Characters of writers who left only lines, from lines that fall apart into characters."""
    for sample in read_ink(folder / "unipen_lines.train.jsonl.gz"):
        label = sample["label"].replace(" ", "")
        if sample["writer"] in known or sample["kind"] not in ("number", "numpunct", "math"):
            continue
        strokes = [np.array(s, np.float32) for s in sample["strokes"]]
        if UNSUPPORTED.search(label) or PROGRAM_TEXT.search(label):
            continue
        placed = on_baseline(strokes, label)
        for char, numbers in segments(placed, label):
            glyph = [placed[i] for i in numbers]
            points = np.concatenate(glyph)
            tall = -float(points[:, 1].min()) / UNIT
            if char.isdigit() and 0.6 < tall < 1.25 and abs(float(points[:, 1].max())) < 350:
                yield char, sample["writer"], glyph


def _round_off(stroke: np.ndarray) -> np.ndarray:
    """Mouse-drawn stairs made smooth: a moving average that keeps both ends."""
    if len(stroke) < 4:
        return stroke.astype(np.float32)
    steps = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(stroke, axis=0).T))])
    even = np.linspace(0, steps[-1], max(6, int(steps[-1] / 60)))
    path = np.stack([np.interp(even, steps, stroke[:, i]) for i in (0, 1)], axis=1)
    padded = np.concatenate([path[:1], path[:1], path, path[-1:], path[-1:]])
    smooth = sum(padded[i : i + len(path)] for i in range(5)) / 5
    smooth[0], smooth[-1] = path[0], path[-1]
    return smooth.astype(np.float32)


def _style(glyphs: list[tuple[str, list[np.ndarray], float]]) -> list[float]:
    """Slant, x-height and width of a hand, each about 0..1 apart between unlike hands."""
    lean = weight = 0.0
    small, wide = [], []
    for char, strokes, _ in glyphs:
        points = np.concatenate(strokes)
        for stroke in strokes:
            step = np.diff(stroke, axis=0)
            steep = np.abs(step[:, 1]) > 1.2 * np.abs(step[:, 0])
            lean += float(-(step[steep, 0] * np.sign(step[steep, 1])).sum())
            weight += float(np.abs(step[steep, 1]).sum())
        if char in "aceimnorsuvwxz":
            small.append(-points[:, 1].min() / UNIT)
        if char in "023456789anou":
            wide.append(np.ptp(points[:, 0]) / UNIT)
    return [
        2.0 * lean / max(weight, 1.0),
        2.0 * float(np.median(small)) if small else 1.2,
        2.0 * float(np.median(wide)) if wide else 1.2,
    ]


def _write_hands(inventories: dict, pens: dict[str, float], out: Path) -> None:
    points, stroke_ends, glyph_ends, chars, owners, advances = [], [], [], [], [], []
    names = sorted(inventories)
    total = strokes_total = 0
    for owner, name in enumerate(names):
        for char, strokes, advance in inventories[name]:
            shift = 0.0 if advance >= 0 else min(float(s[:, 0].min()) for s in strokes)
            for stroke in strokes:
                points.append(np.round(stroke - [[shift, 0]]).astype(np.int16))
                total += len(stroke)
                stroke_ends.append(total)
            strokes_total += len(strokes)
            glyph_ends.append(strokes_total)
            chars.append(char)
            owners.append(owner)
            advances.append(advance)
    np.savez_compressed(
        out / "hands.npz",
        points=np.concatenate(points),
        stroke_ends=np.array(stroke_ends, np.int32),
        glyph_ends=np.array(glyph_ends, np.int32),
        glyph_chars=np.array(chars),
        glyph_hands=np.array(owners, np.int16),
        glyph_advances=np.array(advances, np.float32),
        hand_names=np.array(names),
        hand_pens=np.array([pens[n] for n in names], np.float32),
        hand_styles=np.array([_style(inventories[n]) for n in names], np.float32),
    )


# --- centre lines of handwriting typefaces ------------------------------------------------------


def typeface_hands(
    family: str, paths: list[Path]
) -> Iterator[tuple[str, list[tuple[str, list[np.ndarray], float]], float]]:
    path = paths[0]
    font = ImageFont.truetype(str(path), SKELETON_EM)
    chars = [c for c in FONT_CHARS if c in _characters_of(path)]
    if "0" not in chars:
        return
    digit = font.getbbox("0", anchor="ls")
    tall = max(digit[3] - digit[1], 10)
    font = ImageFont.truetype(str(path), max(8, int(SKELETON_EM * 90 / tall)))
    digit = font.getbbox("0", anchor="ls")
    unit = UNIT / (digit[3] - digit[1])
    glyphs, ink_area, ink_length = [], 0.0, 0.0
    for char in chars:
        left, top, right, bottom = font.getbbox(char, anchor="ls")
        if right <= left or bottom <= top:
            continue
        image = Image.new("L", (right - left + 4, bottom - top + 4), 0)
        ImageDraw.Draw(image).text((2 - left, 2 - top), char, fill=255, font=font, anchor="ls")
        mask = np.asarray(image) > 127
        if not mask.any():
            continue
        thin = _thin(mask)
        width = mask.sum() / max(thin.sum(), 1)
        ink_area += mask.sum()
        ink_length += thin.sum()
        strokes = [
            (s + np.array([left - 2, top - 2], np.float32)) * unit for s in _trace(thin, width)
        ]
        if strokes:
            glyphs.append((char, strokes, float(font.getlength(char)) * unit))
    pen = float(ink_area / max(ink_length, 1) * unit / UNIT)
    if pen < WIDEST_PEN:
        yield f"typeface:{family}", glyphs, pen


def _thin(mask: np.ndarray) -> np.ndarray:
    """Centre lines, one pixel wide (Zhang and Suen, 1984, doi 10.1145/357994.358023)."""
    m = np.pad(mask, 1)
    while True:
        removed = False
        for odd in (False, True):
            n, s, w, e = m[:-2, 1:-1], m[2:, 1:-1], m[1:-1, :-2], m[1:-1, 2:]
            nw, ne, sw, se = m[:-2, :-2], m[:-2, 2:], m[2:, :-2], m[2:, 2:]
            ring = [n, ne, e, se, s, sw, w, nw]
            count = sum(r.astype(np.int8) for r in ring)
            turns = sum((~ring[i] & ring[(i + 1) % 8]).astype(np.int8) for i in range(8))
            drop = m[1:-1, 1:-1] & (count >= 2) & (count <= 6) & (turns == 1)
            drop &= ~(n & w & (e | s)) & ~(s & e & (n | w)) if odd else ~(n & e & s) & ~(e & s & w)
            if odd:
                drop &= ~(n & e & w) & ~(n & s & w)
            if drop.any():
                m[1:-1, 1:-1] &= ~drop
                removed = True
        if not removed:
            return m[1:-1, 1:-1]


def _trace(thin: np.ndarray, width: float) -> list[np.ndarray]:
    """Polylines (x, y) along one-pixel-wide centre lines; spurs shorter than the pen are cut."""
    pixels = {(int(x), int(y)) for y, x in zip(*np.nonzero(thin), strict=True)}
    near = {p: _neighbours(p, pixels) for p in pixels}
    seen: set[frozenset] = set()
    lines = []
    ends = [p for p in pixels if len(near[p]) != 2]
    for start in ends + list(pixels):
        for step in near[start]:
            if frozenset((start, step)) in seen:
                continue
            path = [start, step]
            seen.add(frozenset((start, step)))
            while len(near[path[-1]]) == 2 and path[-1] != start:
                a, b = near[path[-1]]
                following = b if a == path[-2] else a
                seen.add(frozenset((path[-1], following)))
                path.append(following)
            tips = {len(near[path[0]]), len(near[path[-1]])}
            if 1 in tips and max(tips) > 2 and len(path) < 0.7 * width:
                continue
            lines.append(np.array(path, np.float32))
    lines += [np.array([p], np.float32) for p in pixels if not near[p]]
    return [_simplify(_even(line), 0.7) for line in lines]


def _neighbours(p: tuple[int, int], pixels: set) -> list[tuple[int, int]]:
    x, y = p
    straight = [q for q in ((x + 1, y), (x - 1, y), (x, y + 1), (x, y - 1)) if q in pixels]
    slanted = [
        (x + a, y + b)
        for a in (-1, 1)
        for b in (-1, 1)
        if (x + a, y + b) in pixels and (x + a, y) not in pixels and (x, y + b) not in pixels
    ]
    return straight + slanted


def _even(line: np.ndarray) -> np.ndarray:
    if len(line) < 7:
        return line
    padded = np.concatenate([line[:1]] * 2 + [line] + [line[-1:]] * 2)
    smooth = sum(padded[i : i + len(line)] for i in range(5)) / 5
    smooth[0], smooth[-1] = line[0], line[-1]
    return smooth


def _simplify(line: np.ndarray, tolerance: float) -> np.ndarray:
    """Fewer points within ``tolerance`` (Douglas and Peucker, 1973)."""
    if len(line) < 3:
        return line
    chord = line[-1] - line[0]
    length = float(np.hypot(*chord))
    away = line - line[0]
    if length < 1e-6:
        distance = np.hypot(away[:, 0], away[:, 1])
    else:
        distance = np.abs(away[:, 0] * chord[1] - away[:, 1] * chord[0]) / length
    far = int(distance.argmax())
    if distance[far] <= tolerance:
        return line[[0, -1]]
    return np.concatenate(
        [_simplify(line[: far + 1], tolerance)[:-1], _simplify(line[far:], tolerance)]
    )


# --- real lines ---------------------------------------------------------------------------------

# Copied program text: two rows of writing often stand under one label.
UNSUPPORTED = re.compile(r"[\\`^_{}]")
PROGRAM_TEXT = re.compile(
    r"printf|scanf|stdin|sleep|! ?=|ch =|cp \[|\b(?:krud|FILE|fp|arg[cv]|ctime|ungetc"
    r"|isatty|endif|elif|goto|pnum|NULL|char|int|hash|void|exit|num|str|que)\b"
)
# Writers who print in capitals whatever the label's case says (found by eye).
CAPITALS_ONLY = frozenset({"pap-004", "apple-019", "apple-055", "pcl-007"})
KINDS_KEPT = ("number", "numpunct", "math", "word", "text", "single")
LONGEST_LINE = 25  # widths over height
# Ink width over height, divided by the number of characters; medians by kind are near 0.5.
WIDTH_PER_CHARACTER = (0.12, 2.2)


def gather_real_lines(ink_folder: Path, out: Path) -> None:
    """Write ``real_lines.npz``: lines whose labels our notation can hold and whose ink fits them.

    Arrays: ``points`` int16, ``stroke_ends``, ``line_ends``, ``labels``, ``kinds``, ``writers``,
    ``ids`` (position in the source file) and ``cuts``: a JSON list a line of
    ``[symbol, [stroke indices]]`` where the source gives the segmentation, else empty.
    """
    points, stroke_ends, line_ends = [], [], []
    labels, kinds, writers, ids, cuts = [], [], [], [], []
    total = strokes_total = 0
    for number, sample in enumerate(read_ink(ink_folder / "unipen_lines.train.jsonl.gz")):
        label = sample["label"]
        if sample["kind"] not in KINDS_KEPT or _is_unwanted(label, sample["kind"]):
            continue
        if sample["writer"] in CAPITALS_ONLY and any(c.islower() for c in label):
            continue
        strokes = [np.array(s, np.int32) for s in sample["strokes"]]
        if max(s.max() for s in strokes) > LONGEST_LINE * UNIT:
            continue
        label = _settle_spaces(normalise(label), sample["kind"], strokes)
        if label is None or not _ink_fits(label, sample["kind"], strokes):
            continue
        for stroke in strokes:
            points.append(stroke.astype(np.int16))
            total += len(stroke)
            stroke_ends.append(total)
        strokes_total += len(strokes)
        line_ends.append(strokes_total)
        labels.append(label)
        kinds.append(sample["kind"])
        writers.append(sample["writer"])
        ids.append(number)
        cuts.append(json.dumps(sample["chars"]) if sample.get("chars") else "")
    np.savez_compressed(
        out / "real_lines.npz",
        points=np.concatenate(points),
        stroke_ends=np.array(stroke_ends, np.int32),
        line_ends=np.array(line_ends, np.int32),
        labels=np.array(labels),
        kinds=np.array(kinds),
        writers=np.array(writers),
        ids=np.array(ids, np.int32),
        cuts=np.array(cuts),
    )


def _is_unwanted(label: str, kind: str) -> bool:
    if UNSUPPORTED.search(label):
        return True
    return kind not in ("word", "single") and bool(PROGRAM_TEXT.search(label))


def _gaps(strokes: list[np.ndarray]) -> list[float]:
    """Blank stretches between the ink's columns, widest first, in line heights."""
    spans = sorted((float(s[:, 0].min()), float(s[:, 0].max())) for s in strokes)
    gaps, reach = [], spans[0][1]
    for low, high in spans[1:]:
        if low > reach:
            gaps.append((low - reach) / UNIT)
        reach = max(reach, high)
    return sorted(gaps, reverse=True)


def _settle_spaces(label: str, kind: str, strokes: list[np.ndarray]) -> str | None:
    """The label with its spaces confirmed by the ink, without them, or None when undecided."""
    if kind in ("word", "text", "single"):
        return label
    label = re.sub(r"([$#]) ", r"\1", label)
    gaps = _gaps(strokes)
    spaces = label.count(" ")
    if spaces == 0:
        wide = gaps and gaps[0] > 1.3 and gaps[0] > 3 * float(np.median(gaps))
        return None if wide and label.isdigit() else label
    if len(gaps) < spaces:
        return None
    rest = gaps[spaces] if len(gaps) > spaces else 0.0
    if gaps[spaces - 1] > max(1.25 * rest, 0.3):
        return label
    return None


def _ink_fits(label: str, kind: str, strokes: list[np.ndarray]) -> bool:
    if not label or not is_supported(label) or not is_well_formed(label):
        return False
    if kind == "single":
        return len(label) == 1 and label.isalnum() and label not in "lIoO0cCsSvVwWxXzZpPkKuU1"
    width = max(float(s[:, 0].max()) for s in strokes) / UNIT
    low, high = WIDTH_PER_CHARACTER
    if kind == "text":
        low = 0.22  # narrower ink is two lines of writing, one under the other
    if kind in ("number", "numpunct"):
        low, high = 0.25, 1.7
        if len(label) < 2:
            return False
    return low < width / len(label) < high


# --- typefaces ----------------------------------------------------------------------------------


def _characters_of(path: Path) -> set[str]:
    from fontTools.ttLib import TTFont

    with TTFont(str(path), fontNumber=0, lazy=True) as font:
        return {chr(code) for code in (font.getBestCmap() or {})}


def _families(paths: list[Path]) -> dict[str, list[Path]]:
    families: dict[str, list[Path]] = defaultdict(list)
    for path in sorted(paths):
        families[path.stem.split("__")[0]].append(path)
    return families


def gather_fonts(font_folder: Path, out: Path) -> None:
    """Subset every typeface under ``font_folder/{print,handwriting}`` to the notation.

    Takes TrueType, OpenType and WOFF2 files, ``@fontsource`` packages (``latin`` and ``greek``
    files, regular and bold, upright and italic) among them.  A file without the digits is taken
    only beside one of the same family and style that has them.
    """
    from fontTools import subset
    from fontTools.ttLib import TTFont

    target = out / "fonts"
    target.mkdir(parents=True, exist_ok=True)
    for old in target.iterdir():
        old.unlink()
    wanted = CHARACTERS | set("\\^_{}−–—‘’“”½¼⁰¹²³⁴⁵⁶⁷⁸⁹⁻⁺₀₁₂₃₄μΩ⋅")
    entries = []
    for use in ("print", "handwriting"):
        faces: dict[tuple[str, str], list[Path]] = defaultdict(list)
        for path in sorted((font_folder / use).rglob("*")):
            face = _face_of(path, font_folder / use)
            if face:
                faces[face].append(path)
        for (family, style), paths in sorted(faces.items()):
            files = []
            for path in sorted(paths, key=lambda p: "greek" in p.name):
                try:
                    font = TTFont(str(path), fontNumber=0)
                    options = subset.Options()
                    options.hinting = False
                    options.layout_features = []
                    options.notdef_outline = True
                    options.drop_tables += ["GPOS", "GSUB", "GDEF", "DSIG", "kern", "FFTM"]
                    maker = subset.Subsetter(options)
                    have = {chr(c) for c in (font.getBestCmap() or {})} & wanted
                    if _has_one_case(path, have):
                        have -= set("abcdefghijklmnopqrstuvwxyz")
                    if not files and not set("0123456789NC=") <= have:
                        break
                    if len(have) < 3:
                        continue
                    maker.populate(text="".join(have))
                    maker.subset(font)
                    font.flavor = None
                    name = f"{family}__{style}__{len(files)}.{'otf' if 'CFF ' in font else 'ttf'}"
                    font.save(str(target / name))
                    files.append({"file": name, "characters": "".join(sorted(have))})
                except Exception as error:
                    print(f"left out {path.name}: {error}")
            if files:
                entries.append({"family": family, "style": style, "use": use, "files": files})
    (target / "fonts.json").write_text(json.dumps(entries, ensure_ascii=False))


def _has_one_case(path: Path, have: set[str]) -> bool:
    """True for typefaces whose small letters are drawn as capitals."""
    if not set("aegrAEGR") <= have:
        return False
    font = ImageFont.truetype(str(path), 60)
    alike = 0
    for small in "aegr":
        shapes = []
        for char in (small, small.upper()):
            left, top, right, bottom = font.getbbox(char, anchor="ls")
            image = Image.new("L", (max(right - left, 1), max(bottom - top, 1)), 0)
            ImageDraw.Draw(image).text((-left, -top), char, fill=255, font=font, anchor="ls")
            shapes.append(np.asarray(image.resize((24, 24)), np.float32).ravel())
        alike += float(np.corrcoef(shapes[0], shapes[1])[0, 1]) > 0.6
    return alike >= 3


_FONTSOURCE = re.compile(
    r"^(?P<family>.+?)-(?P<set>latin|greek)-(?P<weight>400|700)-(?P<slope>normal|italic)\.woff2$"
)
_DESKTOP_STYLE = re.compile(
    r"(?P<family>.*?)[-_ ]?"
    r"(?P<style>(?:Condensed|Narrow|Regular|Roman|Bold|Italic|Oblique|Light)*)$",
    re.IGNORECASE,
)


def _face_of(path: Path, root: Path) -> tuple[str, str] | None:
    match = _FONTSOURCE.match(path.name)
    if match:
        style = ("bold" if match["weight"] == "700" else "regular") + (
            "-italic" if match["slope"] == "italic" else ""
        )
        return match["family"], style
    if path.suffix.lower() in (".ttf", ".otf"):
        match = _DESKTOP_STYLE.match(path.stem)
        family = (match["family"] if match else path.stem) or path.stem
        return family.lower(), ((match["style"] if match else "") or "regular").lower()
    return None


def gather(ink_folder: Path, font_folder: Path, out: Path) -> None:
    """Write everything that ``LineSource`` loads into ``out``."""
    out.mkdir(parents=True, exist_ok=True)
    ready = out / "READY"
    ready.unlink(missing_ok=True)
    gather_real_lines(ink_folder, out)
    gather_fonts(font_folder, out)
    entries = json.loads((out / "fonts" / "fonts.json").read_text())
    handwriting = [
        out / "fonts" / e["files"][0]["file"]
        for e in entries
        if e["use"] == "handwriting" and e["style"] == "regular"
    ]
    gather_hands(ink_folder, handwriting, out)
    ready.touch()
