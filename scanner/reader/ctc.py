"""The likeliest class sequences of a frame-by-frame recogniser (connectionist temporal
classification; A. Graves et al., ICML 2006, doi 10.1145/1143844.1143891), by prefix beam search.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

import numpy as np

from scanner.reader.classes import BLANK

BEAM = 6
_LEAST = 1e-3  # classes less likely than this in a frame are not followed
_MOST_CLASSES = 6  # a frame


def likeliest(log_probabilities: np.ndarray) -> list[tuple[tuple[int, ...], float]]:
    """Class sequences and their log-probabilities, best first, at most ``BEAM``.

    Args:
        log_probabilities: shape (frame, class), each frame sums to 1 in probability.
    """
    none = -np.inf
    # prefix -> (log-probability ending in blank, ending in its last class)
    beam: dict[tuple[int, ...], tuple[float, float]] = {(): (0.0, none)}
    floor = np.log(_LEAST)
    for frame in log_probabilities:
        likeliest = np.argpartition(-frame, _MOST_CLASSES)[:_MOST_CLASSES]
        followed = [int(c) for c in likeliest if frame[c] > floor] or [int(frame.argmax())]
        found: dict[tuple[int, ...], list[float]] = defaultdict(lambda: [none, none])
        for prefix, (in_blank, in_class) in beam.items():
            either = np.logaddexp(in_blank, in_class)
            for index in followed:
                score = float(frame[index])
                if index == BLANK:
                    own = found[prefix]
                    own[0] = np.logaddexp(own[0], either + score)
                elif prefix and prefix[-1] == index:
                    own, longer = found[prefix], found[(*prefix, index)]
                    own[1] = np.logaddexp(own[1], in_class + score)
                    longer[1] = np.logaddexp(longer[1], in_blank + score)
                else:
                    longer = found[(*prefix, index)]
                    longer[1] = np.logaddexp(longer[1], either + score)
        best = sorted(found.items(), key=lambda item: -np.logaddexp(item[1][0], item[1][1]))[:BEAM]
        beam = {prefix: (scores[0], scores[1]) for prefix, scores in best}
    ranked = [(prefix, float(np.logaddexp(*scores))) for prefix, scores in beam.items()]
    return sorted(ranked, key=lambda item: -item[1])


def log_probability(log_probabilities: np.ndarray, classes: Sequence[int]) -> float:
    """Log-probability of one class sequence over all its alignments (the forward algorithm).

    Args:
        log_probabilities: shape (frame, class), each frame sums to 1 in probability.
        classes: without blanks; minus infinity when the frames are too few for them.
    """
    states = np.full(2 * len(classes) + 1, BLANK)
    states[1::2] = classes
    may_skip = np.zeros(len(states), bool)
    may_skip[2:] = (states[2:] != BLANK) & (states[2:] != states[:-2])
    by_state = log_probabilities[:, states]
    alpha = np.full(len(states), -np.inf)
    alpha[:2] = by_state[0, :2]
    with np.errstate(invalid="ignore"):
        for frame in by_state[1:]:
            before = np.full_like(alpha, -np.inf)
            before[1:] = alpha[:-1]
            skipped = np.full_like(alpha, -np.inf)
            skipped[2:] = np.where(may_skip[2:], alpha[:-2], -np.inf)
            alpha = np.logaddexp(np.logaddexp(alpha, before), skipped) + frame
    return float(np.logaddexp.reduce(alpha[-2:]))
