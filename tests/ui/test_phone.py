"""The switch for a phone on the same network: a password that opens once, a code that says it."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from ui.phone import Door, qr_code


@pytest.fixture()
def door():
    made = Door.make()
    yield made
    made.remove()


def test_password_opens_once_and_its_pass_stays_good(door):
    password = door.password
    given = door.open(f"{password[:4]} {password[4:]}")
    assert given is not None
    assert door.knows(given)
    assert door.password != password
    assert door.open(password) is None


def test_made_up_pass_is_not_known(door):
    given = door.open(door.password)
    assert not door.knows("")
    assert not door.knows("0-")
    assert not door.knows("1" + given[1:])
    assert not Door.make().knows(given)


def test_five_wrong_guesses_lock_the_door(door):
    right = door.password
    wrong = "0" * 8 if right != "0" * 8 else "1" * 8
    for _ in range(5):
        assert door.open(wrong) is None
    assert door.is_locked
    assert door.open(right) is None


def test_folder_is_private(door):
    assert door.folder.stat().st_mode & 0o077 == 0


def test_qr_code_is_read_back_by_another_library():
    text = "http://192.0.2.7:8502/?password=12345678"
    assert cv2.QRCodeDetector().detectAndDecode(np.asarray(qr_code(text)))[0] == text
