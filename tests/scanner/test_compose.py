"""Writing and drawing labels: structure lands where it is read, and labels stay what they say."""

import numpy as np
import pytest

from scanner.reader.notation import is_well_formed, normalise, tokenise
from scanner.training import grammar
from scanner.training.compose import curve, draw, parse, write, write_parts
from scanner.training.hands import UNIT, Hand, drawn_signs, is_validation, make_glyph
from scanner.training.real_lines import on_baseline, segments


def ring(wide: float, top: float, bottom: float) -> np.ndarray:
    turn = np.linspace(0, 2 * np.pi, 9)
    x = wide / 2 * (1 + np.cos(turn))
    y = (top + bottom) / 2 + (bottom - top) / 2 * np.sin(turn)
    return np.stack([x, y], axis=1) * UNIT


@pytest.fixture
def hand() -> Hand:
    """A writer whose every letter and figure is a ring: small letters low, the rest tall."""
    small = "acemnorsuvwxz"
    own = {}
    for char in "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789()":
        top = -0.6 if char in small else -1.0
        own[char] = [make_glyph([ring(0.5, top, 0.0)])]
    own["."] = [make_glyph([np.array([[0.0, -20.0]])])]
    own[","] = [make_glyph([np.array([[40.0, -60.0], [0.0, 120.0]])])]
    signs = Hand("signs", False, drawn_signs(np.random.default_rng(0)))
    return Hand("rings", False, own, (signs,))


def boxes(text: str, hand: Hand, seed: int = 0) -> list[tuple[np.ndarray, np.ndarray]]:
    ink = write(text, hand, np.random.default_rng(seed), 40.0)
    return [(p.min(axis=0), p.max(axis=0)) for p in ink.polylines]


def test_the_same_seed_writes_the_same_ink(hand):
    one = write(r"F=\frac{kQ_{1}}{r^{2}}", hand, np.random.default_rng(7), 40.0)
    two = write(r"F=\frac{kQ_{1}}{r^{2}}", hand, np.random.default_rng(7), 40.0)
    assert all((a == b).all() for a, b in zip(one.polylines, two.polylines, strict=True))


@pytest.mark.parametrize("seed", range(20))
def test_raised_ink_is_smaller_and_higher_than_what_it_follows(hand, seed):
    base, raised = boxes("8^{8}", hand, seed)
    assert raised[1][1] < base[1][1]
    assert raised[0][0] > base[0][0]
    assert np.ptp(np.stack(raised)[:, 1]) < np.ptp(np.stack(base)[:, 1])


@pytest.mark.parametrize("seed", range(20))
def test_lowered_ink_hangs_below_the_baseline(hand, seed):
    base, lowered = boxes("Q_{1}", hand, seed)
    assert lowered[1][1] > base[1][1]


@pytest.mark.parametrize("seed", range(20))
def test_a_fraction_has_its_bar_between_its_halves(hand, seed):
    above, below, bar = boxes(r"\frac{1}{2}", hand, seed)
    middle = (bar[0][1] + bar[1][1]) / 2
    assert above[1][1] < middle < below[0][1]


def test_a_root_covers_what_stands_under_it(hand):
    inside, root = boxes(r"\sqrt{8}", hand)
    assert root[0][1] < inside[0][1]
    assert root[0][0] < inside[0][0]


def test_struck_out_ink_has_a_stroke_across_it(hand):
    plain, struck = boxes("44", hand), boxes(r"\struck{44}", hand)
    assert len(struck) > len(plain)


def test_the_box_holds_all_ink_and_the_baseline_is_at_the_feet(hand):
    ink = write("8888", hand, np.random.default_rng(3), 40.0)
    points = np.concatenate(ink.polylines)
    assert points.min() >= 0
    assert points[:, 0].max() <= ink.box[2] + 1e-3
    assert points[:, 1].max() <= ink.box[3] + 1e-3
    assert abs(ink.baseline - ink.box[3]) < 12


def test_times_and_micro_are_made_from_the_writers_own_letters(hand):
    assert hand.samples("×")[0].bottom - hand.samples("×")[0].top < UNIT
    assert hand.samples("µ")[0].bottom > 0.2 * UNIT


def test_a_hand_without_a_character_says_so():
    bare = Hand("bare", False, {"1": [make_glyph([ring(0.5, -1, 0)])]})
    with pytest.raises(ValueError, match="no ink"):
        write("2", bare, np.random.default_rng(0), 40.0)


def test_ready_ink_keeps_its_shape_among_composed_characters(hand):
    ready = make_glyph([ring(2.0, -1.0, 0.0)])
    ink = write_parts(["F=", ready, " N"], hand, np.random.default_rng(1), 40.0)
    widths = [np.ptp(p[:, 0]) for p in ink.polylines]
    assert max(widths) > 1.6 * np.median(widths)


def test_a_broken_label_is_refused():
    with pytest.raises(ValueError, match="not well formed"):
        parse("10^{2}}")


def test_a_curve_passes_through_its_points_and_keeps_corners():
    corner = np.array([[0, 0], [0, 10], [10, 10]], np.float32)
    path, ends = curve((corner,))
    assert ends.tolist() == [len(path)]
    for point in corner:
        assert np.abs(path - point).sum(axis=1).min() < 1e-4
    assert path[:, 1].max() <= 10 + 1e-4


def test_ink_is_dark_on_white_inside_its_margin(hand):
    rng = np.random.default_rng(0)
    ink = write("808", hand, rng, 40.0)
    image = draw(ink, rng, margin=(10, 10, 10, 10))
    assert image.dtype == np.uint8
    assert image.min() < 60
    assert (image[:5] == 255).all() and (image[:, :5] == 255).all()


@pytest.mark.parametrize("kind", sorted(grammar.KINDS))
def test_labels_are_well_formed_and_in_the_one_spelling(kind, hand):
    rng = np.random.default_rng(5)
    for _ in range(300):
        label = grammar.sample(rng, kind)
        assert label and is_well_formed(label)
        assert normalise(label) == label
        assert tokenise(label)


def test_held_out_writers_are_about_an_eighth():
    names = [f"writer-{i}" for i in range(4000)]
    share = sum(is_validation(n) for n in names) / len(names)
    assert 0.10 < share < 0.14


def test_real_ink_falls_apart_into_characters_only_where_the_label_has_as_many():
    ink = tuple(ring(0.5, -1.0, 0.0) + [[700.0 * i, 0.0]] for i in range(3))
    assert segments(ink, "258") == (("2", (0,)), ("5", (1,)), ("8", (2,)))
    assert segments(ink, "25") == ()
    assert segments(ink, "2.8") == ()
    assert segments(ink, "2 5") == ()


def test_a_line_without_tall_letters_is_set_at_the_height_of_small_ones():
    box = np.array([[0.0, 0.0], [500.0, 1000.0]], np.float32)
    small = on_baseline([box], "can")[0]
    tall = on_baseline([box], "258")[0]
    assert np.ptp(small[:, 1]) < np.ptp(tall[:, 1]) == UNIT
    assert small[:, 1].max() == tall[:, 1].max() == 0
