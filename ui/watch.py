"""Folders that photos arrive in, from a scanner, a phone or a shared drive."""

from __future__ import annotations

import threading
from collections.abc import Generator, Sequence
from pathlib import Path

from watchdog.events import FileSystemEvent, FileSystemEventHandler
from watchdog.observers.polling import PollingObserver

LOOK_EVERY = 1.0  # seconds
SETTLED = 3.0  # seconds without a change: a photo that is still being copied changes all the time


def arrivals(
    folders: Sequence[Path], look_every: float = LOOK_EVERY, settled: float = SETTLED
) -> Generator[None]:
    """Ends never; gives a turn each time that files came or changed and are then left alone.

    Folders are looked through again and again rather than reported by the system, which says
    nothing of files that another computer puts on a shared drive.
    """
    changes = _Changes()
    observer = PollingObserver(timeout=look_every)
    for folder in folders:
        observer.schedule(changes, str(folder), recursive=True)
    observer.start()  # now, not at the first turn: what comes in between counts
    return _turns(changes, observer, settled)


def _turns(changes: _Changes, observer: PollingObserver, settled: float) -> Generator[None]:
    try:
        while True:
            changes.seen.wait()
            while changes.seen.is_set():
                changes.seen.clear()
                changes.seen.wait(settled)
            yield
    finally:
        observer.stop()
        observer.join()


class _Changes(FileSystemEventHandler):
    def __init__(self) -> None:
        self.seen = threading.Event()

    def on_any_event(self, event: FileSystemEvent) -> None:
        self.seen.set()
