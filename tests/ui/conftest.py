"""Tests keep their records and settings to themselves."""

from __future__ import annotations

import os

import pytest

from ui.records import DATA_FOLDER_VARIABLE


@pytest.fixture(scope="session", autouse=True)
def own_data_folder(tmp_path_factory):
    """Nobody's own settings change a test, and no test changes them."""
    os.environ[DATA_FOLDER_VARIABLE] = str(tmp_path_factory.mktemp("data"))
    yield
    del os.environ[DATA_FOLDER_VARIABLE]
