"""A worksheet in, findings out: expected results, verdicts, slips and marks.

Knows nothing of images, layout or screens. ``solver.findings`` holds the output language;
``solver.marking.check_worksheet`` is the entry.
"""
