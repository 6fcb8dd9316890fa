"""Who does the work of a stack: processes of this computer, or the workers of a Dask cluster.

Both run pieces of work, each on one thread, and hand results back as they finish. What a piece
gives depends on its arguments alone, so it is the same whoever does it.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

import cv2
import joblib

from scanner.errors import ExitCode, MissingPart, UserError

if TYPE_CHECKING:
    from distributed import Client

_ANSWER_WITHIN = 10  # seconds in which a scheduler must answer


class NoCluster(UserError):
    """A cluster that does not answer, or whose workers cannot see the stack."""

    exit_code = ExitCode.MISSING_PART


class Workers(Protocol):
    """Whoever does pieces of work."""

    def need(self, paths: Iterable[Path]) -> None:
        """Make sure that the workers can see these files and folders.

        Raises:
            NoCluster: a worker cannot.
        """

    def each(
        self, work: Callable[..., Any], jobs: Sequence[tuple[Any, ...]]
    ) -> Iterator[tuple[int, Any]]:
        """(index of the job, its result) as they finish; ``work`` must be importable there."""


class LocalWorkers:
    """So many processes of this computer; with one, the work is done in this process."""

    def __init__(self, count: int | None = None) -> None:
        self.count = count or joblib.cpu_count()

    def need(self, paths: Iterable[Path]) -> None:
        """What this computer can see, its processes can see."""

    def each(
        self, work: Callable[..., Any], jobs: Sequence[tuple[Any, ...]]
    ) -> Iterator[tuple[int, Any]]:
        if self.count == 1:
            yield from (_one_job(work, index, job) for index, job in enumerate(jobs))
            return
        with joblib.parallel_config("loky", n_jobs=self.count, inner_max_num_threads=1):
            parallel = joblib.Parallel(return_as="generator_unordered", batch_size=1)
            yield from parallel(
                joblib.delayed(_one_job)(work, index, job) for index, job in enumerate(jobs)
            )


class ClusterWorkers:
    """The workers of the Dask cluster at ``address`` (``tcp://host:8786``).

    They need this project on their path, and the records' folder and the photos under the same
    names as here: a shared folder.
    """

    def __init__(self, address: str) -> None:
        try:
            from distributed import Client
        except ImportError:
            raise MissingPart(
                "A cluster needs the package distributed; install it with pip, here and on "
                "each of the cluster's computers."
            ) from None
        try:
            self._client: Client = Client(address, timeout=_ANSWER_WITHIN)
        except (OSError, ValueError, TypeError) as error:
            raise NoCluster(
                f"No Dask scheduler answers at {address}; start one, or leave --cluster out."
            ) from error
        if not self._client.scheduler_info()["workers"]:
            self.close()
            raise NoCluster(f"The cluster at {address} has no workers yet; start one or more.")

    def close(self) -> None:
        self._client.close()

    def need(self, paths: Iterable[Path]) -> None:
        wanted = sorted({str(path) for path in paths})
        try:
            blind = [who for who, sees in self._client.run(_see, wanted).items() if not sees]
        except ImportError as error:
            raise NoCluster(
                "The cluster's workers do not have this program; start them with its folder "
                "on their PYTHONPATH."
            ) from error
        if blind:
            raise NoCluster(
                f"The worker at {blind[0]} does not see the photos or the records' folder; put "
                "both in a folder that all computers share."
            )

    def each(
        self, work: Callable[..., Any], jobs: Sequence[tuple[Any, ...]]
    ) -> Iterator[tuple[int, Any]]:
        from distributed import as_completed

        waiting = [
            self._client.submit(_one_job, work, index, job, pure=False)
            for index, job in enumerate(jobs)
        ]
        try:
            for done in as_completed(waiting):
                yield done.result()
                done.release()
        finally:
            self._client.cancel(waiting)


def _see(paths: Sequence[str]) -> bool:
    return all(os.path.exists(path) for path in paths)


def _one_job(work: Callable[..., Any], index: int, arguments: tuple[Any, ...]) -> tuple[int, Any]:
    with _one_thread():
        return index, work(*arguments)


@contextmanager
def _one_thread() -> Iterator[None]:
    """OpenCV and Tesseract on one thread: the workers are what runs side by side."""
    threads, limit = cv2.getNumThreads(), os.environ.get("OMP_THREAD_LIMIT")
    cv2.setNumThreads(1)
    os.environ["OMP_THREAD_LIMIT"] = "1"
    try:
        yield
    finally:
        cv2.setNumThreads(threads)
        if limit is None:
            os.environ.pop("OMP_THREAD_LIMIT", None)
        else:
            os.environ["OMP_THREAD_LIMIT"] = limit
