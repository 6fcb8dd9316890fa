"""The page's server process: ``python -m ui.server PORT``.

Everything heavy is imported before the server answers, so that the first page comes at once.
"""

from __future__ import annotations

import sys

from streamlit.web import cli

import ui.app  # noqa: F401


def main(port: str, script: str = "ui/app.py") -> None:
    """Serve a Streamlit script from the project root until stopped."""
    cli.main(["run", script, "--server.port", port])


if __name__ == "__main__":
    main(*sys.argv[1:])
