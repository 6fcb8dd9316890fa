from __future__ import annotations

import threading
import time

from PIL import Image

from ui.stack_intake import with_photos
from ui.watch import arrivals

SETTLED = 0.6


def test_a_photo_counts_as_arrived_once_it_no_longer_grows(tmp_path):
    photo = tmp_path / "in" / "late.jpg"
    photo.parent.mkdir()
    turns = arrivals([photo.parent], look_every=0.05, settled=SETTLED)

    def copy_slowly() -> None:
        for _ in range(6):
            with photo.open("ab") as stream:
                stream.write(b"x" * 1000)
            time.sleep(SETTLED / 3)

    copying = threading.Thread(target=copy_slowly)
    copying.start()
    next(turns)
    assert photo.stat().st_size == 6000
    copying.join()
    turns.close()


def test_what_comes_while_work_goes_on_gives_another_turn(tmp_path):
    turns = arrivals([tmp_path], look_every=0.05, settled=0.1)
    (tmp_path / "first.jpg").touch()
    next(turns)
    (tmp_path / "second.jpg").touch()
    time.sleep(0.5)
    next(turns)
    turns.close()


def test_a_folder_without_photos_is_left_out_until_one_comes(tmp_path):
    assert with_photos([tmp_path]) == []
    Image.new("RGB", (300, 400)).save(tmp_path / "a.jpg")
    assert with_photos([tmp_path]) == [tmp_path]
