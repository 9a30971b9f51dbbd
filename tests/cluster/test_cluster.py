"""A review over the workers of a cluster (dask.distributed): the same report byte for byte, also when one is killed."""

from __future__ import annotations

import os
import signal
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future
from pathlib import Path
from typing import Any

import pytest
from bench.portfolio import write
from distributed import Client, LocalCluster

from doorlint.cli import run
from doorlint.cluster import ClusterProblem, cluster
from doorlint.report import json_report, text
from doorlint.reviewing import Result, review_root
from doorlint.rulebook import collect

WORKERS = 3
BOOK = collect()


class Watched(Executor):
    """Hands tasks on, and calls `upset` once, beside, when the first is out."""

    def __init__(self, to: Executor, upset: Callable[[list[Future[Any]]], None]) -> None:
        self.to = to
        self.futures: list[Future[Any]] = []
        self.thread = threading.Thread(target=upset, args=(self.futures,))

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        future = self.to.submit(fn, *args, **kwargs)
        self.futures.append(future)
        if len(self.futures) == 1:
            self.thread.start()
        return future


@pytest.fixture(scope="module")
def client() -> Iterator[Client]:
    with (
        LocalCluster(
            n_workers=WORKERS, threads_per_worker=1, host="127.0.0.1", dashboard_address=None, memory_limit=0
        ) as cluster,
        Client(cluster) as client,
    ):
        yield client


@pytest.fixture(scope="module")
def root(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The root file of an invented portfolio of 32 openings after 20 sets."""
    return write(tmp_path_factory.mktemp("portfolio"), openings=32, sets=20, files=3)


@pytest.fixture(scope="module")
def alone(root: Path) -> tuple[str, str]:
    """Its reports by a review that works alone."""
    return reports(review_root(root, BOOK))


def reports(result: Result) -> tuple[str, str]:
    return text.render((result,)), json_report.render((result,))


def test_cluster_says_the_same(client: Client, root: Path, alone: tuple[str, str]) -> None:
    watched = Watched(client.get_executor(), lambda _: None)
    assert reports(review_root(root, BOOK, executor=watched, workers=WORKERS)) == alone
    assert len(watched.futures) > WORKERS
    assert all(future.result().found for future in watched.futures), "the workers did what was asked of them"


def test_nothing_is_lost_with_a_worker_that_is_killed(client: Client, root: Path, alone: tuple[str, str]) -> None:
    processes = client.run(os.getpid)
    killed: list[tuple[int, int]] = []

    def kill(futures: list[Future[Any]]) -> None:
        until = time.monotonic() + 20
        while not killed and time.monotonic() < until:
            for address, tasks in client.processing().items():
                if tasks and not killed:
                    os.kill(processes[address], signal.SIGKILL)
                    killed.append((processes[address], sum(not future.done() for future in futures)))
            time.sleep(0.01)

    watched = Watched(client.get_executor(), kill)
    result = review_root(root, BOOK, executor=watched, workers=WORKERS)
    watched.thread.join()
    ((process, undone),) = killed
    assert undone, "it was killed while there was work to do"
    assert text.render((result,)) == alone[0]
    assert process not in client.run(os.getpid).values()
    assert all(future.result().found for future in watched.futures), "another worker did what it had been given"


def test_command_judges_on_a_cluster(
    client: Client, root: Path, alone: tuple[str, str], capfd: pytest.CaptureFixture[str]
) -> None:
    shown = os.path.relpath(root)
    assert run(["review", shown, "--fresh", "--workers", "1"]) == 1
    by_itself = capfd.readouterr().out
    assert run(["review", shown, "--fresh", "--cluster", client.scheduler.address]) == 1
    assert capfd.readouterr().out == by_itself


def test_command_tells_that_nobody_answers(
    root: Path, capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("doorlint.cluster.WAIT", "1 s")
    assert run(["review", str(root), "--cluster", "tcp://127.0.0.1:9"]) == 2
    told = capfd.readouterr()
    assert not told.out
    assert "tcp://127.0.0.1:9: no scheduler of a cluster answers" in told.err


def test_workers_with_another_doorlint_are_refused(client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("doorlint.cluster.__version__", "0.0.9")  # here, not at the workers
    told = r"worker tcp://.* has doorlint .*; doorlint 0\.0\.9 on Python"
    with pytest.raises(ClusterProblem, match=told), cluster(client.scheduler.address):
        pass
