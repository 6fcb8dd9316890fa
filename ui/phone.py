"""A second server for a phone on the same network: off until switched on, behind a password.

The page itself listens to this computer only. Switched on, a process of its own listens to the
network and shows nothing before the one-time password. It ends with the switch or with the page.
The two processes share a private folder: a secret, and how many passwords are used up.
"""

from __future__ import annotations

import hashlib
import hmac
import os
import secrets
import shutil
import socket
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
from PIL import Image
from reportlab.graphics.barcode.qr import QrCodeWidget

from scanner.errors import ExitCode, UserError
from ui.serve import ROOT, is_up

GUEST_FOLDER_VARIABLE = "WORKSHEET_CHECK_GUESTS"
"""Set for the second server alone: the folder it shares with the first."""
PASSWORD_FIELD = "password"

_PATIENCE = 60  # seconds to wait for the second server
_DIGITS = 8
_USUAL_PORT = 8599  # beside Streamlit's own 8501 and those that people take for it
_MOST_WRONG = 5  # guesses in all; then the switch must be turned again
_QUIET_ZONE = 4  # cells of white around a code, as the standard asks
_CELL = 6  # pixels
_UNROUTED = ("192.0.2.1", 9)  # RFC 5737: an address for documentation; nothing is sent to it


class NoNetwork(UserError):
    """The computer is on no network that a phone could share."""

    exit_code = ExitCode.USAGE


# --- what both sides know -----------------------------------------------------------------


class Door:
    """The passwords of one switching on, in a private folder."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    @classmethod
    def make(cls) -> Door:
        """A new door with a new secret."""
        folder = Path(tempfile.mkdtemp(prefix="worksheet-check-"))
        (folder / "secret").write_bytes(secrets.token_bytes(32))
        return cls(folder)

    @property
    def folder(self) -> Path:
        return self._folder

    @property
    def password(self) -> str:
        """The password that opens the door next; each opens it once."""
        digest = self._digest(f"password {self.opened}")
        return str(int.from_bytes(digest, "big") % 10**_DIGITS).zfill(_DIGITS)

    @property
    def opened(self) -> int:
        """How often it was opened."""
        return self._count("opened")

    @property
    def is_locked(self) -> bool:
        """True after too many wrong guesses."""
        return self._count("wrong") >= _MOST_WRONG

    def open(self, password: str) -> str | None:
        """A pass that stays good until the switch is turned off; None for a wrong password."""
        if self.is_locked:
            return None
        digits = "".join(c for c in password if c.isdecimal())
        if not hmac.compare_digest(digits.encode(), self.password.encode()):
            self._note("wrong")
            return None
        number = self.opened
        self._note("opened")
        return f"{number}-{self._digest(f'pass {number}').hex()}"

    def knows(self, given: str) -> bool:
        """True for a pass that ``open`` gave."""
        number = given.partition("-")[0]
        if not number.isdecimal() or int(number) >= self.opened:
            return False
        right = f"{number}-{self._digest(f'pass {number}').hex()}"
        return hmac.compare_digest(given.encode(), right.encode())

    def remove(self) -> None:
        shutil.rmtree(self._folder, ignore_errors=True)

    def _digest(self, about: str) -> bytes:
        secret = (self._folder / "secret").read_bytes()
        return hmac.digest(secret, about.encode(), hashlib.sha256)

    def _count(self, what: str) -> int:
        file = self._folder / what
        return file.stat().st_size if file.exists() else 0

    def _note(self, what: str) -> None:
        with (self._folder / what).open("ab") as file:
            file.write(b".")


def guests_door() -> Door | None:
    """The door of this process, when it is the server for phones."""
    folder = os.environ.get(GUEST_FOLDER_VARIABLE)
    return Door(Path(folder)) if folder else None


# --- the first server's side --------------------------------------------------------------


class PhoneAccess:
    """The switch: the second server while it is on."""

    def __init__(self) -> None:
        self.door: Door | None = None
        self.address = ""
        self._server: subprocess.Popen[bytes] | None = None

    @property
    def is_on(self) -> bool:
        return self._server is not None and self._server.poll() is None

    def switch_on(self) -> None:
        """Start the second server.

        Raises:
            NoNetwork: there is no network, or the server did not start.
        """
        self.switch_off()
        host = network_address()
        port = _free_port(host)
        self.door = Door.make()
        self.address = f"http://{host}:{port}"
        environment = {**os.environ, GUEST_FOLDER_VARIABLE: str(self.door.folder)}
        self._server = subprocess.Popen(
            [sys.executable, "-m", "ui.server", str(port), "ui/app.py", host],
            cwd=ROOT,
            env=environment,
            stdin=subprocess.PIPE,
            stdout=subprocess.DEVNULL,
        )
        if not is_up(self.address, self._server, _PATIENCE):
            self.switch_off()
            raise NoNetwork(
                "The page could not be opened to the network; a firewall may forbid it."
            )

    def switch_off(self) -> None:
        """Stop the second server; every pass is void."""
        if self._server is not None:
            self._server.terminate()
            self._server.wait(20)
        if self.door is not None:
            self.door.remove()
        self._server, self.door, self.address = None, None, ""

    @property
    def address_with_password(self) -> str:
        """What the QR code says: the phone need not type anything."""
        assert self.door is not None
        return f"{self.address}/?{PASSWORD_FIELD}={self.door.password}"


def network_address() -> str:
    """This computer's address on its network.

    Raises:
        NoNetwork: it has none.
    """
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        try:
            asking.connect(_UNROUTED)
            host = str(asking.getsockname()[0])
        except OSError:
            host = ""
    if not host or host.startswith(("0.", "127.")):
        raise NoNetwork("This computer is on no network; connect it to the phone's network first.")
    return host


def _free_port(host: str) -> int:
    """The usual port, so that a firewall needs to be told once; another where it is in use."""
    for port in (_USUAL_PORT, 0):
        with socket.socket() as listening:
            try:
                listening.bind((host, port))
            except OSError:
                continue
            return int(listening.getsockname()[1])
    raise NoNetwork("No port is free on this computer's network; close other programs first.")


def qr_code(text: str) -> Image.Image:
    """A QR code (ISO/IEC 18004) with its quiet zone, dark on white whatever the theme."""
    widget = QrCodeWidget(text, barLevel="M")
    widget.qr.make()
    cells = np.pad(np.array(widget.qr.modules, dtype=bool), _QUIET_ZONE)
    grey = np.where(cells, 0, 255).astype(np.uint8)
    return Image.fromarray(grey.repeat(_CELL, axis=0).repeat(_CELL, axis=1))
