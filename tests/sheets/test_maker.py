"""The maker of sheets: its arithmetic, its truth and its photos hold together."""

import io
import json

import numpy as np
import pytest
from PIL import Image, ImageOps

from scanner.reader.notation import is_supported, is_well_formed

from .amounts import Amount, Style
from .learner import expected_results, fill_in, judge, someone
from .make import FULL_SET_OF_SIGNS, make_one, make_stack
from .photo import conditions, take
from .questions import (
    TEMPLATES,
    charge_change,
    coulomb,
    electron_count,
    point_field,
    product,
    shared_charge,
)
from .typefaces import print_faces
from .typeset import characters_of
from .working import Manner, Prior, Step, Task, exact, possible_slips, work_out


@pytest.fixture(scope="module")
def made():
    return make_one(5, "scan")


def value_of(*chain, magnitude=True):
    return exact(Task(chain, "any", magnitude=magnitude), {})[0]


# Problems from OpenStax, College Physics 2e and University Physics Volume 2, CC BY 4.0,
# access for free at openstax.org.
@pytest.mark.parametrize(
    ("chain", "published"),
    [
        # College Physics 2e, example 18.2: field of 2.00 nC at 5.00 mm, with k = 8.99e9
        ((point_field("E", Amount("2.00", "nC"), Amount("5.00", "mm")),), 7.19e5),
        # College Physics 2e, problem 18.28: 3.50 µC in 250 N/C
        ((product("F", "qE", Amount("3.50", "µC"), Amount("250", "N/C"), "N"),), 8.75e-4),
        # University Physics Volume 2, problem 5.77: the field of 50 µC alone, 0.50 m away, is two
        # thirds of the published sum of two fields in one direction, 2.70e6 N/C
        ((point_field("E", Amount("50", "µC"), Amount("0.50", "m")),), 2.70e6 * 2 / 3),
    ],
)
def test_right_results_are_the_published_ones(chain, published):
    assert value_of(*chain) == pytest.approx(published, rel=3e-3)


def test_force_is_the_field_times_the_charge():
    q, r = Amount("4.8", "nC"), Amount("12", "cm")
    one = value_of(coulomb("F", Amount("3.6", "nC"), q, r))
    assert one == pytest.approx(1.08e-5, rel=1e-3)
    assert one == pytest.approx(value_of(point_field("E", Amount("3.6", "nC"), r)) * 4.8e-9)


def test_shared_charge_keeps_the_sum_and_counts_electrons():
    first, second = Amount("6.4", "nC", sign="+"), Amount("2.0", "nC", sign="-")
    each = value_of(shared_charge("Q", first, second), magnitude=False)
    assert each == pytest.approx(2.2e-9)
    moved = exact(
        Task((charge_change("ΔQ", Prior("q", False), first), electron_count(Step(0))), "count"),
        {"q": each},
    )[0]
    assert moved == pytest.approx(4.2e-9 / 1.6e-19)


@pytest.mark.parametrize("template", TEMPLATES, ids=lambda t: t.__name__)
def test_every_slip_changes_the_answer_or_breaks_a_line(template):
    for seed in range(6):
        rng = np.random.default_rng(seed)
        problem = template(rng, Style())
        results = expected_results(problem)
        prior = {key: r.value for key, r in results.items()}
        for part in problem.parts:
            if part.task is None:
                continue
            right = work_out(part.task, Manner(Style()), rng, prior, None)
            assert judge(part.task, right, results[part.key]) == "agrees"
            assert all(row.follows for row in right.rows)
            for slip in possible_slips(part.task):
                slipped = work_out(part.task, Manner(Style()), rng, prior, slip)
                verdict = judge(part.task, slipped, results[part.key])
                if slip in ("unit-missing", "direction-missing"):
                    assert (slipped.first_broken, verdict) == (None, "incomplete")
                    continue
                assert slipped.first_broken == slipped.slips[0][1], (slip, slipped)
                if slip in ("unit-wrong", "direction-reversed", "power-of-ten-off"):
                    assert verdict == "differs"


def test_a_learner_without_slips_is_right_whatever_their_manner():
    for template in TEMPLATES:
        for seed in range(8):
            rng = np.random.default_rng(seed)
            problem = template(rng, Style())
            learner = someone(rng, Style())
            plans = {part.key: None for part in problem.parts}
            for written in fill_in(problem, learner, rng, plans).values():
                assert written.verdict in ("agrees", "unsolved"), written


@pytest.mark.parametrize("mark", [".", ","])
def test_all_labels_are_well_formed_notation(mark):
    for template in TEMPLATES:
        rng = np.random.default_rng(3)
        problem = template(rng, Style(mark))
        prior = {key: r.value for key, r in expected_results(problem).items()}
        for part in problem.parts:
            if part.task is not None:
                for row in work_out(part.task, Manner(Style(mark)), rng, prior, None).rows:
                    assert is_well_formed(row.text) and is_supported(row.text), row.text
                    assert ("." if mark == "," else ",") not in row.text


def test_the_same_seed_makes_the_same_sheet(made):
    again = make_one(5, "scan")
    assert again[0] == made[0]
    assert json.dumps(again[1]) == json.dumps(made[1])


def test_a_stack_shares_its_print_and_not_its_answers():
    first, second = (truth for _, truth in make_stack(5, 2, "scan"))
    assert first["print_lines"] == second["print_lines"]
    assert first["pen_lines"] != second["pen_lines"]
    assert [q["expected"] for q in first["questions"]] == [
        q["expected"] for q in second["questions"]
    ]


def test_boxes_of_the_truth_hold_ink_in_the_photo(made):
    jpeg, truth = made
    photo = np.asarray(Image.open(io.BytesIO(jpeg)).convert("L")).astype(float)
    to_photo = np.array(truth["mm_to_photo"])
    for line in truth["pen_lines"] + truth["print_lines"]:
        x, y, width, height = line["box"]
        corners = np.array([[x, y, 1], [x + width, y + height, 1]]) @ to_photo.T
        (x0, y0), (x1, y1) = corners[:, :2] / corners[:, 2:]
        inside = photo[int(y0) : int(y1) + 1, int(x0) : int(x1) + 1]
        assert inside.min() < 0.7 * np.median(photo), line


def test_photos_carry_orientation_tags_and_places_to_drop():
    drawn = [conditions("good", np.random.default_rng(seed)) for seed in range(12)]
    assert {how.orientation_tag for how in drawn} > {1}
    assert {how.gps for how in drawn} == {True, False}
    seed = next(i for i, how in enumerate(drawn) if how.gps and how.orientation_tag != 1)
    rng = np.random.default_rng(seed)
    how = conditions("good", rng)
    photo = take(np.full((594, 420, 3), 250, np.uint8), how, rng)
    image = Image.open(io.BytesIO(photo.jpeg))
    assert image.getexif().get_ifd(0x8825)
    assert ImageOps.exif_transpose(image).size == photo.size


def test_every_print_typeface_can_draw_every_sign():
    for face in print_faces():
        for sign in FULL_SET_OF_SIGNS:
            path, drawn = face.font_for(sign)
            assert drawn in characters_of(path), (face.path.name, sign)
