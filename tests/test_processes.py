"""Reviews with other processes, threads, and workers that fail: the report is the same byte for byte."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future, ProcessPoolExecutor, ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
from bench.portfolio import write

from doorlint.processes import ENOUGH, MOST, Processes, processes, processors
from doorlint.report import json_report, text
from doorlint.reviewing import Result, review_all, review_root
from doorlint.rulebook import collect
from doorlint.typical.tasks import Workplace

BOOK = collect()


class Failing(Executor):
    """Takes every task and does none."""

    taken = 0

    def submit(self, *_task: Any, **_more: Any) -> Future[Any]:
        self.taken += 1
        future: Future[Any] = Future()
        future.set_exception(OSError("this worker has gone"))
        return future


class Refusing(Executor):
    """Takes no task."""

    def submit(self, *_task: Any, **_more: Any) -> Future[Any]:
        raise BlockingIOError("no process can be started")


class Counting(ThreadPoolExecutor):
    """Counts what it is given."""

    taken = 0

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        self.taken += 1
        return super().submit(fn, *args, **kwargs)


def reports(result: Result) -> tuple[str, str]:
    return text.render((result,)), json_report.render((result,))


@pytest.fixture(scope="module")
def root(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The root file of an invented portfolio of 60 openings after 12 sets."""
    return write(tmp_path_factory.mktemp("portfolio"), openings=60, sets=12, files=3)


@pytest.fixture(scope="module")
def alone(root: Path) -> tuple[str, str]:
    """Its reports by a review that works alone."""
    return reports(review_root(root, BOOK))


@pytest.fixture
def working() -> Iterator[Counting]:
    with Counting(2) as executor:
        yield executor


@pytest.mark.parametrize("count", [1, 2, 3])
def test_any_count_of_processes_says_the_same(root: Path, alone: tuple[str, str], count: int) -> None:
    with processes(count) as place:
        (result,) = review_all([root], rulebook=BOOK, executor=place, workers=place.count)
    assert text.render((result,)) == alone[0]
    if count == 2:  # the long report once is enough: both are of the same outcomes
        assert json_report.render((result,)) == alone[1]


def test_threads_say_the_same(root: Path, alone: tuple[str, str], working: Counting) -> None:
    assert text.render((review_root(root, BOOK, executor=working, workers=2),)) == alone[0]
    assert working.taken > 1


def test_what_workers_do_not_bring_back_is_worked_out(root: Path, alone: tuple[str, str]) -> None:
    failing = Failing()
    assert reports(review_root(root, BOOK, executor=failing, workers=2)) == alone
    assert failing.taken > 1


def test_where_no_process_can_be_started_the_review_works_alone(root: Path, alone: tuple[str, str]) -> None:
    assert text.render((review_root(root, BOOK, executor=Refusing(), workers=2),)) == alone[0]


def test_command_writes_the_same_with_any_count(root: Path) -> None:
    def written(count: int) -> bytes:
        done = subprocess.run(
            [sys.executable, "-m", "doorlint", "review", str(root), "--fresh", "--workers", str(count)],
            capture_output=True,
            check=False,
        )
        assert done.returncode == 1, done.stderr
        return done.stdout

    assert written(1) == written(2)


def test_processes_start_only_where_they_pay() -> None:
    place = Processes(2, ENOUGH)
    assert place(ENOUGH - 1) is None
    assert Processes(1, 0)(10 * ENOUGH) is None
    assert Processes(2, 0)(1) is None, "one family cannot be shared out"
    try:
        assert isinstance(place(ENOUGH), ProcessPoolExecutor)
        assert place(ENOUGH + 1) is place(ENOUGH)
    finally:
        place.close(wait=True)


@pytest.mark.parametrize(("found", "count"), [(1, 1), (2, 1), (3, 3), (8, 8)])
def test_count_is_by_processors_where_none_is_given(monkeypatch: pytest.MonkeyPatch, found: int, count: int) -> None:
    monkeypatch.setattr("doorlint.processes.processors", lambda: found)
    with processes(None) as place:
        assert (place.count, place.enough) == (count, ENOUGH)


def test_processors_are_those_that_this_process_may_use() -> None:
    assert 1 <= processors() <= MOST


def test_executor_is_asked_for_with_the_number_of_unlike_openings(root: Path, working: Counting) -> None:
    asked: list[int] = []

    def place(families: int) -> Executor:
        asked.append(families)
        return working

    given: Workplace = place
    result = review_root(root, BOOK, executor=given, workers=2)
    assert result.kept is not None
    assert 1 < asked[0] <= len(result.kept.known.found)


@pytest.mark.skipif(sys.platform == "win32", reason="kills by signal")
def test_helpers_end_with_the_command_that_is_killed() -> None:
    code = (
        "import os, time\n"
        "from doorlint.processes import Processes\n"
        "if __name__ == '__main__':\n"
        "    pool = Processes(2, 0)(9)\n"
        "    print(*{f.result() for f in [pool.submit(os.getpid) for _ in range(2)]}, flush=True)\n"
        "    time.sleep(60)\n"
    )
    with subprocess.Popen(
        [sys.executable, "-c", code], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
    ) as parent:
        assert parent.stdout is not None
        helpers = [int(number) for number in parent.stdout.readline().split()]
        assert helpers
        parent.send_signal(signal.SIGKILL)
    until = time.monotonic() + 20
    while any(map(_runs, helpers)) and time.monotonic() < until:
        time.sleep(0.05)
    assert not any(map(_runs, helpers))


def _runs(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    stat = Path(f"/proc/{process}/stat")
    return not stat.exists() or stat.read_text().rpartition(")")[2].split()[0] != "Z"
