"""Processes of this machine that work out families of like openings, started when a review has enough of them.

What they give back is the same as without them; where none can be started, the review works alone.
"""

from __future__ import annotations

import gc
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from concurrent.futures import Executor, ProcessPoolExecutor

ENOUGH: Final = 64
"""From so many unlike openings on, processes may pay unasked: starting one takes the time in which ten are judged."""
FEW_PROCESSORS: Final = 2
"""With so few, none is started unasked. Measured with 66 unlike openings among 10,000 and 139 among 2,000: what the
second processor takes over is lost again by starting, sending and fetching."""
MOST: Final = 61
"""What the standard library starts at most on every system."""


@dataclass
class Processes:
    """An executor for those reviews of a run that have `enough` families to work out; the same one for all."""

    count: int
    enough: int
    _pool: ProcessPoolExecutor | None = field(default=None, init=False)

    def __call__(self, families: int) -> Executor | None:
        """The executor for so many families; None where the caller had better work alone."""
        if self.count < 2 or families < max(2, self.enough):
            return None
        if self._pool is None:
            try:
                import multiprocessing
                from concurrent.futures import ProcessPoolExecutor

                # a fresh interpreter in each: the caller may have threads, a lock held by one would be held for ever
                fresh = multiprocessing.get_context("spawn")
                self._pool = ProcessPoolExecutor(
                    self.count, mp_context=fresh, initializer=prepare, initargs=(gc.get_threshold(),)
                )
            except (ImportError, NotImplementedError, OSError):  # a system without semaphores, or none left
                self.count = 1
        return self._pool

    def close(self, *, wait: bool) -> None:
        """End the processes; without `wait`, what is still to be done is dropped."""
        if self._pool is not None:
            self._pool.shutdown(wait=wait, cancel_futures=True)


@contextmanager
def processes(count: int | None) -> Iterator[Processes]:
    """Up to `count` processes; None: one for each processor, where they pay."""
    if count is None:
        found = processors()
        made = Processes(found if found > FEW_PROCESSORS else 1, ENOUGH)
    else:
        made = Processes(count, 0)
    try:
        yield made
    except BaseException:
        made.close(wait=False)
        raise
    made.close(wait=True)


def processors() -> int:
    """How many processors this process may use."""
    affinity = getattr(os, "sched_getaffinity", None)
    return min(MOST, len(affinity(0)) if affinity is not None else os.cpu_count() or 1)


def prepare(threshold: tuple[int, int, int]) -> None:
    """Make a process that was started a quiet helper: what a rule prints is no part of the report, Ctrl-C ends it
    without a word, and it does not outlive the one that started it. `threshold`: how often it collects garbage."""
    import multiprocessing
    import signal
    import threading

    sys.stdout = sys.stderr
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    gc.set_threshold(*threshold)
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_end_with, args=(parent.sentinel,), daemon=True).start()


def _end_with(sentinel: int) -> None:
    from multiprocessing.connection import wait

    wait([sentinel])
    os._exit(1)
