"""Photos in, pages out: the flattened sheet, its lines and what each may say.

Knows nothing of physics or of questions. ``scanner.page`` holds the output language;
``scanner.scan.scan_files`` is the entry: files -> pages.
"""
