from __future__ import annotations

import os
from collections.abc import Iterator

import cv2
import pytest

from tests.ui.cluster import two_worker_cluster
from ui.workers import ClusterWorkers, LocalWorkers, NoCluster, Workers


@pytest.fixture(scope="module")
def on_cluster() -> Iterator[ClusterWorkers]:
    with two_worker_cluster() as workers:
        yield workers


def half(number: int) -> tuple[float, int, str]:
    return number / 2, cv2.getNumThreads(), os.environ["OMP_THREAD_LIMIT"]


def check_halves(workers: Workers) -> None:
    done = dict(workers.each(half, [(number,) for number in range(5)]))
    assert done == {number: (number / 2, 1, "1") for number in range(5)}


def test_work_in_this_process_leaves_its_threads_as_they_were():
    before = cv2.getNumThreads(), os.environ.get("OMP_THREAD_LIMIT")
    check_halves(LocalWorkers(1))
    assert (cv2.getNumThreads(), os.environ.get("OMP_THREAD_LIMIT")) == before


def test_work_is_done_by_two_processes():
    check_halves(LocalWorkers(2))


def test_work_is_done_on_a_cluster(on_cluster):
    check_halves(on_cluster)


def test_a_folder_that_the_cluster_does_not_see_is_said(on_cluster, tmp_path):
    on_cluster.need([tmp_path])
    with pytest.raises(NoCluster, match="does not see the photos"):
        on_cluster.need([tmp_path / "only here"])


def test_a_scheduler_that_does_not_answer_is_said(monkeypatch):
    monkeypatch.setattr("ui.workers._ANSWER_WITHIN", 0.5)
    with pytest.raises(NoCluster, match="No Dask scheduler answers at tcp://127.0.0.1:1"):
        ClusterWorkers("tcp://127.0.0.1:1")
