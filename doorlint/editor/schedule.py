"""When to review: a little after the last change, one run at a time, a run given up once its texts have changed."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import TypeAlias

_STEP = 0.005
"""How often a waiting run looks whether it is still wanted, s."""


class Superseded(Exception):  # noqa: N818 - it is no error: a newer text waits
    """What a run looks at has changed; it is abandoned."""


class Turn:
    """One run: what it is about, and whether it is still wanted."""

    __slots__ = ("changed", "moved", "wanted")

    def __init__(self, changed: frozenset[Path], moved: bool) -> None:
        self.changed = changed
        self.moved = moved
        self.wanted = True

    def rest(self, seconds: float) -> None:
        """Wait, as long as the run is wanted. Raises Superseded once it is not."""
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            self.go_on("waiting", 0, 1)
            time.sleep(_STEP)

    def go_on(self, what: str, done: int, of: int) -> None:
        """The progress of a review. Raises Superseded once the run is not wanted any more."""
        if not self.wanted:
            raise Superseded(f"{what}, {done} of {of}")


Work: TypeAlias = Callable[[Turn], Callable[[], None]]
"""Done in the worker's thread; what it returns is called in the thread of the event loop."""


class Schedule:
    """Runs `prepare()` in the loop's thread, and the work that this returns in a thread of its own."""

    def __init__(self, prepare: Callable[[], Work], failed: Callable[[BaseException], None], delay: float) -> None:
        self._prepare = prepare
        self._failed = failed
        self._delay = delay
        self._changed: set[Path] = set()
        self._moved = False
        self._due = False
        self._turn: Turn | None = None
        self._timer: asyncio.TimerHandle | None = None
        self._worker = ThreadPoolExecutor(1, "review")
        self._settled: asyncio.Event | None = None
        self.closed = False

    def touch(self, *paths: Path, moved: bool = False, delay: float | None = None) -> None:
        """Something has changed: a review is due after the delay, and one under way is given up."""
        if self.closed:
            return
        self._changed.update(paths)
        self._moved = self._moved or moved
        self._due = True
        if self._turn is not None:
            self._turn.wanted = False
        self._event().clear()
        if self._timer is not None:
            self._timer.cancel()
        loop = asyncio.get_running_loop()
        self._timer = loop.call_later(self._delay if delay is None else delay, self._start)

    async def settled(self) -> None:
        """Wait until no review is due or under way."""
        await self._event().wait()

    def close(self) -> None:
        """Give up what is under way and start nothing more."""
        self.closed = True
        if self._turn is not None:
            self._turn.wanted = False
        if self._timer is not None:
            self._timer.cancel()
        self._event().set()
        self._worker.shutdown(wait=False, cancel_futures=True)

    def _event(self) -> asyncio.Event:
        if self._settled is None:
            self._settled = asyncio.Event()
            self._settled.set()
        return self._settled

    def _start(self) -> None:
        self._timer = None
        if self._turn is not None or self.closed:
            return  # the end of the run under way starts the next
        self._turn = Turn(frozenset(self._changed), self._moved)
        self._changed.clear()
        self._moved = self._due = False
        work = self._prepare()
        future = asyncio.get_running_loop().run_in_executor(self._worker, work, self._turn)
        future.add_done_callback(self._ended)

    def _ended(self, future: asyncio.Future[Callable[[], None]]) -> None:
        turn, self._turn = self._turn, None
        if self.closed or future.cancelled():
            return
        error = future.exception()
        if isinstance(error, Superseded) and turn is not None:
            self._changed |= turn.changed
            self._moved = self._moved or turn.moved
        elif error is not None:
            self._failed(error)
        elif turn is not None and turn.wanted:
            future.result()()
        elif turn is not None:
            # finished, but for texts that are not those of now: what they found is not shown
            self._changed |= turn.changed
            self._moved = self._moved or turn.moved
        if not self._due:
            self._event().set()
        elif self._timer is None:
            self._start()
