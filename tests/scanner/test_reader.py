"""What the line reader does around its network: sizes, grammar, candidates, missing files."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scanner.errors import MissingPart
from scanner.page import Candidate
from scanner.reader import LineReader
from scanner.reader.line_image import AREA, HEIGHTS, MAX_WIDTH, MIN_WIDTH, line_image, trimmed
from scanner.reader.notation import TOKEN_IDS, TOKENS, is_well_formed
from scanner.reader.reader import Calibration, Grammar, Hypothesis, calibrated


def test_missing_weights_are_said_in_one_sentence(tmp_path):
    with pytest.raises(MissingPart, match="encoder.onnx is missing"):
        LineReader.load(folder=tmp_path)


def test_damaged_weights_are_said_in_one_sentence(tmp_path):
    (tmp_path / "encoder.onnx").write_bytes(b"not a model")
    with pytest.raises(MissingPart, match="encoder.onnx is damaged"):
        LineReader.load(folder=tmp_path)


@settings(max_examples=40, deadline=None)
@given(st.integers(1, 400), st.integers(1, 3000))
def test_a_line_image_keeps_to_its_sizes(height, width):
    shape = line_image(np.full((height, width), 200, np.uint8)).shape
    assert shape[0] in HEIGHTS
    assert MIN_WIDTH <= shape[1] <= MAX_WIDTH
    assert shape[0] == HEIGHTS[-1] or shape[0] * shape[1] <= AREA + shape[0]


def test_trimming_cuts_no_ink():
    page = np.full((200, 600), 240, np.uint8)
    page[90:130, 200:420] = 60
    page[100:103, 30:33] = 60  # a decimal point or minus far to the left
    cut = trimmed(page)
    assert (cut < 100).sum() == (page < 100).sum()
    assert cut.shape[0] < 60


@settings(max_examples=60, deadline=None)
@given(st.lists(st.integers(3, len(TOKENS) - 1), max_size=30))
def test_the_grammar_lets_only_well_formed_lines_end(choices):
    grammar, text = Grammar(), ""
    for choice in choices:
        if np.isfinite(grammar.penalties()[choice]):
            grammar, text = grammar.after(choice), text + TOKENS[choice]
    if np.isfinite(grammar.penalties()[TOKEN_IDS["<end>"]]):
        assert is_well_formed(text)


def test_equal_texts_are_merged_and_share_the_chance_left_over():
    def hypothesis(text: str, chance: float) -> Hypothesis:
        tokens = tuple(TOKEN_IDS[character] for character in text)
        return Hypothesis(tokens, (float(np.log(chance)),))

    reading = calibrated(
        [hypothesis("7", 0.5), hypothesis("1", 0.3), hypothesis("1", 0.1)],
        sure=False,
        calibration=Calibration(searched=(0.0, 1.0, 0.0, 0.0), others=0.5),
    )
    assert [candidate.text for candidate in reading.candidates] == ["7", "1"]
    assert reading.candidates[0] == Candidate("7", pytest.approx(1 / 3))
    assert reading.candidates[1].probability == pytest.approx((1 - 1 / 3) * 0.5)
