"""The line reader: whole lines through the shipped weights, and what stands around them."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageDraw, ImageFont

from scanner.errors import MissingPart
from scanner.reader import LineReader
from scanner.reader.classes import BLANK, CLASSES, to_classes, to_text
from scanner.reader.ctc import likeliest, log_probability
from scanner.reader.cuts import label_tree, paired
from scanner.reader.fractions import Piece, Stack, split
from scanner.reader.notation import is_well_formed
from scanner.reader.piece_image import HEIGHT, MAX_WIDTH, MIN_WIDTH, piece_image, trimmed
from scanner.reader.reader import WEIGHTS_FILES, Calibration, Hypothesis, calibrated


def drawn(*runs: tuple[str, int, int], size: int = 40, width: int = 500) -> np.ndarray:
    """Text runs (text, x, y) in Pillow's own typeface on white."""
    sheet = Image.new("L", (width, 130), 255)
    canvas = ImageDraw.Draw(sheet)
    for text, x, y in runs:
        canvas.text((x, y), text, 20, font=ImageFont.load_default(size))
    return np.asarray(sheet)


@pytest.fixture(scope="module")
def reader() -> LineReader:
    return LineReader.load()


def test_plain_print_is_read_to_the_letter(reader):
    readings = reader.read([drawn(("830-1167", 10, 30)), drawn(("0.25 N", 10, 30))])
    assert [reading.text for reading in readings] == ["830-1167", "0.25 N"]


def test_a_stacked_fraction_is_read_above_then_below(reader):
    page = np.array(drawn(("5.6", 60, 5), ("2.4", 60, 75), width=200))
    page[60:63, 50:140] = 20
    assert reader.read([page])[0].text == r"\frac{5.6}{2.4}"


def test_readings_come_in_the_order_of_the_images_with_blanks_in_place(reader):
    blank = np.full((60, 300), 250, np.uint8)
    readings = reader.read([blank, drawn(("1995", 10, 30)), np.full((1, 1), 9, np.uint8)])
    assert [reading.text for reading in readings] == ["", "1995", ""]


def test_candidates_fall_in_probability_and_never_pass_one(reader):
    noisy = drawn(("8.31 J", 10, 30)).astype(np.int16)
    noisy += np.random.default_rng(0).integers(-60, 60, noisy.shape, dtype=np.int16)
    candidates = reader.read([noisy.clip(0, 255).astype(np.uint8)])[0].candidates
    chances = [candidate.probability for candidate in candidates]
    assert chances == sorted(chances, reverse=True)
    assert sum(chances) <= 1.0 + 1e-9


def test_missing_weights_are_said_in_one_sentence(tmp_path):
    with pytest.raises(MissingPart, match="recogniser.onnx is missing"):
        LineReader.load(folder=tmp_path)


def test_damaged_weights_are_said_in_one_sentence(tmp_path):
    for name in WEIGHTS_FILES:
        (tmp_path / name).write_bytes(b"not a model")
    with pytest.raises(MissingPart, match="weights file of the line reader is damaged"):
        LineReader.load(folder=tmp_path)


def test_colour_pictures_are_refused(reader):
    with pytest.raises(ValueError, match="two-dimensional"):
        reader.read([np.zeros((40, 80, 3), np.uint8)])


@settings(max_examples=40, deadline=None)
@given(st.integers(2, 400), st.integers(2, 3000))
def test_a_piece_image_keeps_to_its_sizes(height, width):
    shape = piece_image(np.full((height, width), 200, np.uint8)).shape
    assert shape[0] == HEIGHT
    assert MIN_WIDTH <= shape[1] <= MAX_WIDTH


def test_trimming_cuts_no_ink():
    page = np.full((200, 600), 240, np.uint8)
    page[90:130, 200:420] = 60
    page[100:103, 30:33] = 60  # a decimal point or minus far to the left
    cut = trimmed(page)
    assert (cut < 100).sum() == (page < 100).sum()
    assert cut.shape[0] < 60


def test_a_line_without_a_bar_comes_back_whole():
    page = drawn(("7-3=4", 10, 30))
    parts = split(page)
    assert len(parts) == 1
    assert isinstance(parts[0], Piece)
    assert parts[0].image is page


def test_a_bar_parts_what_stands_before_above_below_and_after():
    page = np.array(drawn(("F =", 10, 40), ("12", 110, 5), ("34", 110, 75), ("N", 200, 40)))
    page[60:63, 100:170] = 20
    before, stack, after = split(page)
    assert isinstance(before, Piece)
    assert isinstance(stack, Stack)
    assert isinstance(after, Piece)
    assert len(stack.above) == len(stack.below) == 1


@pytest.mark.parametrize(
    "label",
    ["F=2,07×10^{-3} N to the left", r"\sqrt{x^{2}+y^{2}}", "Q_{1}", r"\struck{4,5}4,7", "-3 µC"],
)
def test_a_label_survives_the_classes(label):
    assert to_text(to_classes(label)) == label


def test_labels_that_nest_deeper_have_no_classes():
    assert to_classes("e^{x^{2}}") is None
    assert to_classes(r"\frac{1}{2}") is None


@settings(max_examples=100, deadline=None)
@given(st.lists(st.integers(0, len(CLASSES) - 1), max_size=20))
def test_any_class_sequence_spells_balanced_notation(ids):
    text = to_text(ids)
    assert text.count("{") == text.count("}")
    if r"\sqrt{}" not in text:
        assert is_well_formed(text)


def test_repeats_need_a_blank_between_them():
    one, two = 11, 12
    frames = np.full((5, len(CLASSES)), 1e-6)
    for frame, index in enumerate([one, one, BLANK, one, two]):
        frames[frame, index] = 1.0
    sequence, score = likeliest(np.log(frames / frames.sum(axis=1, keepdims=True)))[0]
    assert sequence == (one, one, two)
    assert score == pytest.approx(0.0, abs=0.01)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.integers(1, 4), min_size=1, max_size=4), st.integers(0, 10**6))
def test_the_probability_of_a_sequence_is_the_sum_over_its_alignments(sequence, seed):
    """Checked against every path of six frames over five classes, spelt out."""
    frames = np.random.default_rng(seed).dirichlet(np.ones(5), 6)
    total = 0.0
    for path in product(range(5), repeat=6):
        merged = [c for i, c in enumerate(path) if c != BLANK and (i == 0 or c != path[i - 1])]
        if merged == sequence:
            total += float(np.prod([frames[i, c] for i, c in enumerate(path)]))
    found = log_probability(np.log(frames), sequence)
    assert np.exp(found) == pytest.approx(total, rel=1e-6, abs=1e-12)


@pytest.mark.parametrize(
    ("left", "above", "below"), [("F=", "kQ_{1}Q_{2}", "r^{2}"), ("", "1", "2")]
)
def test_a_reading_is_laid_on_the_pieces_of_a_cut(left, above, below):
    above_piece, below_piece, before = (Piece(np.zeros((n, 9), np.uint8)) for n in (3, 4, 5))
    stack = Stack((above_piece,), (below_piece,))
    parts = (before, stack) if left else (stack,)
    text = rf"{left}\frac{{{above}}}{{{below}}}"
    pairs = paired(parts, label_tree(text))
    wanted = [(above_piece, above), (below_piece, below)]
    assert [(id(p), t) for p, t in pairs][-2:] == [(id(p), t) for p, t in wanted]
    assert paired((before,), label_tree(text)) is None


def test_what_is_weighed_is_what_was_written(reader):
    """The decoder with its memory of what it wrote, against all tokens at once."""
    line = piece_image(drawn(("E = 830 N", 10, 30)))
    _, features = reader._recognise(line[None])
    memory = reader._decoder.look(features)
    (written,) = reader._decoder.write(memory)
    (weighed,) = reader._decoder.weigh(memory, [written.tokens])
    assert weighed.as_written
    assert weighed.score == pytest.approx(written.score, abs=1e-3)


def test_a_line_is_read_alike_alone_and_beside_a_longer_one(reader):
    short, long = drawn(("41.5", 10, 30), width=140), drawn(("12 345 678 - 90 123", 5, 30))
    assert reader.read([short])[0].text == reader.read([short, long])[0].text == "41.5"


def test_the_chance_left_over_is_shared_among_the_others():
    reading = calibrated(
        [Hypothesis(t, 0.0, float(np.log(p))) for t, p in (("7", 0.5), ("1", 0.3), ("2", 0.1))],
        Calibration(weights=(0.0, 1.0, 0.0, 0.0, 0.0, 0.0), others=0.5),
    )
    assert [candidate.text for candidate in reading.candidates] == ["7", "1", "2"]
    assert reading.confidence == pytest.approx(1 / 3)  # logistic of log 0.5
    assert reading.candidates[1].probability == pytest.approx((1 - 1 / 3) * 0.5 * 0.75)


def test_faint_pencil_is_read_like_dark_ink(reader):
    dark = drawn(("7.25", 10, 30), width=140).astype(np.float64)
    faint = (235 - (255 - dark) * 0.12).astype(np.uint8)
    assert [reading.text for reading in reader.read([faint])] == ["7.25"]


def test_ink_that_gave_no_text_is_never_surely_empty():
    assert calibrated([Hypothesis("", -0.001, -0.001)], Calibration()).confidence < 0.05
