"""A reader for tests of everything around the reading: quick, and the same for the same image."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from scanner.page import Candidate, Reading


class FixedReader:
    """Reads every line as a value that hangs on how wide and how dark its image is."""

    def read(self, images: Sequence[np.ndarray]) -> list[Reading]:
        return [_reading(image) for image in images]


def _reading(image: np.ndarray) -> Reading:
    figure = f"{image.shape[1] % 9 + 1}.{int((255 - image).mean()) % 10}"
    return Reading((Candidate(f"={figure}×10^{{-9}} C", 0.9), Candidate(f"={figure} C", 0.06)))


def load_fixed_reader() -> FixedReader:
    return FixedReader()
