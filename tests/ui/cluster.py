"""A Dask cluster of two workers on this computer."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from distributed import LocalCluster

from ui.workers import ClusterWorkers


@contextmanager
def two_worker_cluster() -> Iterator[ClusterWorkers]:
    """Two single-threaded worker processes and this process's way to them."""
    with LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None
    ) as running:
        workers = ClusterWorkers(running.scheduler_address)
        yield workers
        workers.close()
