"""The page's server process: ``python -m ui.server PORT [SCRIPT [HOST]]``.

Everything heavy is imported before the server answers, so that the first page comes at once.
"""

from __future__ import annotations

import os
import sys
import threading

from streamlit import net_util
from streamlit.web import cli

import ui.app  # noqa: F401


def main(port: str, script: str = "ui/app.py", host: str | None = None) -> None:
    """Serve a Streamlit script from the project root until stopped.

    With a ``host`` it listens to that address of a network, and ends with the process that
    started it.
    """
    # To judge an unknown origin Streamlit would ask a site for this computer's outer address.
    net_util.get_external_ip = lambda: None
    options = ["run", script, "--server.port", port]
    if host is not None:
        threading.Thread(target=_end_with_parent, daemon=True).start()
        options += ["--server.address", host, "--browser.serverAddress", host]
    cli.main(options)


def _end_with_parent() -> None:
    """Standard input ends when the process that started this one does."""
    sys.stdin.buffer.read()
    os._exit(0)


if __name__ == "__main__":
    main(*sys.argv[1:])
