"""Bad files at intake: one sentence each, no picture lost, nothing written outside."""

import io

import numpy as np
import pytest
from PIL import Image, ImageOps

from scanner.errors import BadPhoto
from scanner.flatten import flatten
from scanner.intake import Photo, Refused, read_path

from . import bad_inputs
from .make import make_one


def read(path):
    items = list(read_path(path))
    pictures = [i for i in items if isinstance(i, Photo)]
    return pictures, [i for i in items if isinstance(i, Refused)]


@pytest.mark.parametrize(
    "item", bad_inputs.unreadable() + bad_inputs.usable(), ids=lambda item: item.name
)
def test_intake_makes_of_it_what_it_should(item, tmp_path):
    path = tmp_path / "inside" / item.name
    path.parent.mkdir()
    path.write_bytes(item.content)
    pictures, refused = read(path)
    assert (len(pictures), len(refused)) == (item.pictures, item.refusals)
    for refusal in refused:
        sentence = str(refusal.error)
        assert sentence.endswith(".") and "Error" not in sentence and len(sentence) < 200
    assert [p.name for p in tmp_path.rglob("*") if p.is_file()] == [item.name]


def test_a_black_photo_is_refused():
    with pytest.raises(BadPhoto):
        flatten(bad_inputs.black())


def test_a_desk_without_a_sheet_is_refused_or_said_to_hold_none():
    try:
        problems = flatten(bad_inputs.desk_without_sheet()).problems
    except BadPhoto:
        return
    assert problems


def test_a_sheet_upside_down_is_turned():
    jpeg, _ = make_one(5, "scan")
    photo = np.asarray(ImageOps.exif_transpose(Image.open(io.BytesIO(jpeg))).convert("RGB"))
    upright = np.array(flatten(photo).to_photo)
    turned = np.array(flatten(bad_inputs.upside_down(photo)).to_photo)
    assert upright[0, 0] > 0 > turned[0, 0]


def test_a_blurred_photo_is_said_to_be_blurred():
    jpeg, _ = make_one(5, "scan")
    photo = np.asarray(ImageOps.exif_transpose(Image.open(io.BytesIO(jpeg))).convert("RGB"))
    assert not flatten(photo).problems
    try:
        problems = flatten(bad_inputs.blurred(photo)).problems
    except BadPhoto:
        return
    assert problems
