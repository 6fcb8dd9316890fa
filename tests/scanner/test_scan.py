"""Files to pages: the whole scanner on drawn and on demonstration photos."""

import json
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image
from scipy.interpolate import RegularGridInterpolator

from scanner.errors import BadFile
from scanner.page import Page
from scanner.scan import scan_file, scan_files
from tests.scanner.drawn_sheet import (
    QUESTION,
    SayNothing,
    paper,
    photographed,
    printed,
    shaded,
    share_of_overlap,
    written,
)

DEMO = Path(__file__).parents[1] / "sheets" / "demo"
CORNERS = np.array([[210, 160], [1340, 120], [1420, 1790], [150, 1740]], float)


@pytest.fixture(scope="module")
def photo_file(tmp_path_factory) -> Path:
    page = printed(paper(), QUESTION)
    cv2.rectangle(page, (150, 380), (1500, 800), (80, 80, 80), 4)
    written(page, "They share the charge", 220, 500)
    written(page, "each has 2 nC", 220, 640)
    path = tmp_path_factory.mktemp("photos") / "beads.png"
    photo = shaded(photographed(page, CORNERS, (1560, 1900)))
    Image.fromarray(np.rot90(photo)).save(path)
    return path


def test_a_photo_becomes_a_page(photo_file):
    stages: list[tuple[str, float]] = []
    (page,) = scan_file(
        photo_file, SayNothing(), progress=lambda stage, share: stages.append((stage, share))
    )
    assert (page.photo, page.number, page.problems) == ("beads.png", 1, ())
    assert page.image is not None and page.image.shape[:2] == page.size[::-1]
    assert [line.text for line in page.print_lines][2] == QUESTION[2]
    assert len(page.pen_lines) == 2
    assert [space.kind for space in page.spaces] == ["box"]
    assert all(page.spaces[0].box.y < line.box.y for line in page.pen_lines)
    assert page.seconds > 0
    shares = [share for _, share in stages]
    assert shares == sorted(shares) and shares[-1] == 1.0


def test_bad_files_do_not_stop_the_others(photo_file, tmp_path):
    bad = tmp_path / "broken.jpg"
    bad.write_bytes(b"\xff\xd8\xff\xe0 rubbish")
    empty = tmp_path / "empty.pdf"
    empty.write_bytes(b"")
    desk = tmp_path / "desk.png"
    Image.fromarray(np.full((900, 1200, 3), 120, np.uint8)).save(desk)
    results = list(scan_files([bad, photo_file, empty, desk], SayNothing()))
    assert [len(result.pages) for result in results] == [0, 1, 0, 0]
    assert [len(result.refused) for result in results] == [1, 0, 1, 1]


def test_a_single_bad_file_raises_its_sentence(tmp_path):
    path = tmp_path / "notes.jpg"
    path.write_text("not a photo at all")
    with pytest.raises(BadFile, match=r"notes\.jpg is not a photo"):
        scan_file(path, SayNothing())


@pytest.mark.parametrize("name", ["beads", "droplets"])
def test_demo_photos_give_their_lines(name):
    truth = json.loads((DEMO / f"{name}.json").read_text(encoding="utf-8"))
    (page,) = scan_file(DEMO / f"{name}.jpg", SayNothing())
    expected = [on_page(page, truth, line["box"]) for line in truth["pen_lines"]]
    found = [
        max(share_of_overlap(line.box, box) for line in page.pen_lines) > 0.6 for box in expected
    ]
    assert np.mean(found) >= 0.9
    assert len(page.pen_lines) <= 1.3 * len(expected)


def on_page(page: Page, truth: dict, box: list[float]) -> tuple[float, float, float, float]:
    """A box in millimetres of the true sheet as a box on the flattened page."""
    grid = np.array(truth["grid"])
    columns, rows = np.unique(grid[:, 0]), np.unique(grid[:, 1])
    place = RegularGridInterpolator(
        (rows, columns),
        grid[:, 2:].reshape(len(rows), len(columns), 2),
        bounds_error=False,
        fill_value=None,
    )
    x, y, width, height = box
    corners = [[y, x], [y, x + width], [y + height, x + width], [y + height, x]]
    in_photo = np.float32(place(np.array(corners))).reshape(-1, 1, 2)
    flat = cv2.perspectiveTransform(in_photo, np.linalg.inv(np.array(page.to_photo)))
    (x0, y0), (x1, y1) = flat.reshape(-1, 2).min(axis=0), flat.reshape(-1, 2).max(axis=0)
    return x0, y0, x1 - x0, y1 - y0
