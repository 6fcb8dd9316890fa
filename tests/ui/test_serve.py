"""Starting the page's server."""

from __future__ import annotations

import socket
import tomllib

import pytest

from scanner.errors import ExitCode
from ui import command_line, serve


def test_port_in_use_gets_one_sentence(capsys):
    with socket.socket() as listening:
        listening.bind(("localhost", 0))
        listening.listen()
        port = listening.getsockname()[1]
        assert command_line.main(["page", "--port", str(port)]) == ExitCode.USAGE
    assert f"Port {port} is in use" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("section", "option", "value"),
    [
        ("browser", "gatherUsageStats", False),
        ("server", "address", "localhost"),
        ("server", "enableXsrfProtection", True),
    ],
)
def test_page_stays_on_this_computer(section, option, value):
    settings = tomllib.loads((serve.ROOT / ".streamlit" / "config.toml").read_text("utf-8"))
    assert settings[section][option] == value
