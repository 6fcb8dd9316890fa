"""Start the Streamlit server for the page, on this computer only."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.request
import webbrowser
from pathlib import Path

from scanner.errors import ExitCode, UserError
from ui import words

ROOT = Path(__file__).resolve().parent.parent
_PATIENCE = 60  # seconds to wait for the server before giving up on the browser


class PortTaken(UserError):
    """Another program listens on the port that was asked for."""

    exit_code = ExitCode.USAGE


def serve(port: int, open_browser: bool) -> ExitCode:
    """Run the server until it is stopped; open the page in a browser where there is one.

    Raises:
        PortTaken: the port is in use.
    """
    if _is_taken(port):
        raise PortTaken(
            f"Port {port} is in use, perhaps by another page; close that one or choose another "
            f"with --port {port + 1}."
        )
    address = f"http://localhost:{port}"
    paths = [str(ROOT), *filter(None, [os.environ.get("PYTHONPATH")])]
    server = subprocess.Popen(
        [sys.executable, "-m", "ui.server", str(port)],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(paths)},
        stdout=subprocess.DEVNULL,
    )
    threading.Thread(target=_announce, args=(server, address, open_browser), daemon=True).start()
    try:
        status = server.wait()
    except KeyboardInterrupt:
        server.terminate()
        status = server.wait() and 0
    return ExitCode.OK if status == 0 else ExitCode.MISSING_PART


def _is_taken(port: int) -> bool:
    with socket.socket() as trying:
        trying.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            trying.bind(("localhost", port))
        except OSError:
            return True
    return False


def _announce(server: subprocess.Popen[bytes], address: str, open_browser: bool) -> None:
    if not is_up(address, server, _PATIENCE):
        return
    print(words.PAGE_AT.format(address=address), flush=True)
    if open_browser:
        webbrowser.open(address)


def is_up(address: str, server: subprocess.Popen[bytes], patience: float) -> bool:
    """Wait until the server answers; False when it ended or ``patience`` seconds passed."""
    until = time.monotonic() + patience
    while time.monotonic() < until and server.poll() is None:
        try:
            with urllib.request.urlopen(f"{address}/_stcore/health", timeout=2):
                return True
        except (urllib.error.URLError, OSError):
            time.sleep(0.1)
    return False
