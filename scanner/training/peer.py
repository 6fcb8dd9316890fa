"""Reads lines with a general neural recogniser, for comparison; run by ``evaluate``.

    PYTHON peer.py LINES.npz

where PYTHON has ``rapidocr`` (its default model, PP-OCR v6 small) and
``onnxruntime`` but need not have this project. Prints JSON: ``texts``, their ``scores`` and the
milliseconds a line, ``milliseconds``.
"""

import json
import sys
import time

import numpy as np
from rapidocr import RapidOCR
from rapidocr.ch_ppocr_rec import TextRecInput

THREADS, BATCH = 2, 20


def main() -> None:
    stored = np.load(sys.argv[1])
    colour = [np.repeat(stored[name][:, :, None], 3, axis=2) for name in stored.files]
    engine = RapidOCR(
        params={
            "EngineConfig.onnxruntime.intra_op_num_threads": THREADS,
            "Global.log_level": "error",
            "Global.use_det": False,
            "Global.use_cls": False,
        }
    )
    engine(colour[0], use_det=False, use_cls=False, use_rec=True)  # loads the model
    texts, scores = [], []
    start = time.perf_counter()
    for first in range(0, len(colour), BATCH):
        found = engine.text_rec(TextRecInput(img=colour[first : first + BATCH]))
        texts += found.txts
        scores += found.scores
    milliseconds = (time.perf_counter() - start) / len(colour) * 1e3
    print(json.dumps({"texts": texts, "scores": scores, "milliseconds": milliseconds}))


if __name__ == "__main__":
    main()
