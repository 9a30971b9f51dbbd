"""When a review runs: once after the last of several changes, and never to its end for texts that have changed."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable
from pathlib import Path

from doorlint.editor.schedule import Schedule, Turn

A, B = Path("a.yaml"), Path("b.yaml")


class Work:
    """Runs that last as long as they are told, and what became of them."""

    def __init__(self, lasting: float) -> None:
        self.lasting = lasting
        self.started: list[frozenset[Path]] = []
        self.taken: list[frozenset[Path]] = []
        self.broken: list[BaseException] = []
        self.breaks = False

    def prepare(self) -> Callable[[Turn], Callable[[], None]]:
        def work(turn: Turn) -> Callable[[], None]:
            self.started.append(turn.changed)
            end = time.monotonic() + self.lasting
            while time.monotonic() < end:
                turn.go_on("judging", 0, 1)
                time.sleep(0.005)
            if self.breaks:
                raise ValueError("seeded")
            return lambda: self.taken.append(turn.changed)

        return work

    def schedule(self, delay: float) -> Schedule:
        return Schedule(self.prepare, self.broken.append, delay)


def test_changes_close_together_are_reviewed_once() -> None:
    work = Work(0.0)

    async def session() -> None:
        schedule = work.schedule(0.1)
        schedule.touch(A)
        schedule.touch(B)
        assert work.started == []
        await schedule.settled()
        schedule.close()

    asyncio.run(session())
    assert work.started == work.taken == [frozenset({A, B})]


def test_a_run_whose_texts_change_is_given_up_and_its_files_are_reviewed_with_the_next() -> None:
    work = Work(30.0)

    async def session() -> None:
        schedule = work.schedule(0.0)
        schedule.touch(A)
        while not work.started:
            await asyncio.sleep(0.005)
        work.lasting = 0.0
        begun = time.monotonic()
        schedule.touch(B)
        await schedule.settled()
        assert time.monotonic() - begun < 20, "the first run would have lasted 30 s"
        schedule.close()

    asyncio.run(session())
    assert work.started == [frozenset({A}), frozenset({A, B})]
    assert work.taken == [frozenset({A, B})]
    assert work.broken == []


def test_a_run_that_breaks_is_told_and_the_next_runs() -> None:
    work = Work(0.0)

    async def session() -> None:
        schedule = work.schedule(0.0)
        work.breaks = True
        schedule.touch(A)
        await schedule.settled()
        work.breaks = False
        schedule.touch(B)
        await schedule.settled()
        schedule.close()

    asyncio.run(session())
    assert [str(error) for error in work.broken] == ["seeded"]
    assert work.taken == [frozenset({B})]


def test_when_closed_it_stops_what_runs_and_starts_nothing() -> None:
    work = Work(30.0)

    async def session() -> None:
        schedule = work.schedule(0.0)
        await schedule.settled()
        schedule.touch(A)
        while not work.started:
            await asyncio.sleep(0.005)
        schedule.close()
        schedule.touch(B)
        await schedule.settled()

    begun = time.monotonic()
    asyncio.run(session())
    assert time.monotonic() - begun < 20
    assert work.taken == [] and len(work.started) == 1
