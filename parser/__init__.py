"""Pages or typed text in, a worksheet out: questions, givens, asks and working lines.

Knows nothing of images or of how to solve. ``parser.worksheet`` holds the output
language; ``parser.assemble`` is the entry.
"""
