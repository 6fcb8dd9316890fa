"""Reads one line of print or handwriting into the notation of ``notation.py``.

In: grey images of one line each. Out: a ``Reading`` each (n-best strings with
calibrated probabilities). Needs ONNX Runtime and Pillow, no training library.
"""

from scanner.reader.reader import LineReader

__all__ = ["LineReader"]
