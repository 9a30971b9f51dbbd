"""Code of packages that are not ours: run within limits of time and memory, and told of in one line if it breaks.

A limit is kept by a thread that watches. It raises an exception in the thread that is over the limit, which works in
any thread, between two steps of Python. What is inside one long call of C code is stopped when the call comes back.
"""

from __future__ import annotations

import os
import threading
import time
import traceback
from collections.abc import Callable
from pathlib import Path
from typing import Final, TypeVar

T = TypeVar("T")

POLL_S: Final = 0.05
"""How often the limits are looked at."""
AGAIN_S: Final = 0.2
"""After this time, code that caught the exception is stopped again and again, until it is hit where it catches none."""
HARD_S: Final = 0.001
"""How long lies between those attempts."""
IDLE_S: Final = 2.0
"""The watching thread ends when there was nothing to watch for this long."""
MEMORY: Final = 1 << 30
"""Bytes by which the process may grow while one piece of foreign code runs."""
_LONGEST_TOLD: Final = 300
_FRAMES: Final = 200


class TookTooMuch(Exception):  # noqa: N818 - it says what became of the code
    """Code was stopped because it took too much. frames: file and line of each call, the innermost last."""

    def __init__(self, text: str, frames: tuple[tuple[str, int], ...] = ()) -> None:
        super().__init__(text)
        self.frames = frames


class Left(Exception):  # noqa: N818 - same
    """Code tried to leave the program, or raised what is no Exception."""

    def __init__(self, text: str, frames: tuple[tuple[str, int], ...] = ()) -> None:
        super().__init__(text)
        self.frames = frames


class _Stop(BaseException):
    """Raised in code that is over a limit. No Exception, so that `except Exception` does not stop it on its way."""


class Box:
    """Runs code within limits, one piece at a time. seconds: how long it may take; memory: bytes that it may take."""

    def __init__(self, seconds: float, memory: int = MEMORY) -> None:
        self.seconds = seconds
        self.memory = memory
        self._lock = threading.Lock()
        self._watcher: threading.Thread | None = None
        self._thread = 0
        self._began = 0.0
        self._base: int | None = None
        self._next = 0.0
        self._over = ""
        self._runs = False
        self._stops = 0
        self._used = 0.0

    def run(self, work: Callable[[], T]) -> T:
        """What `work` gives.

        Raises TookTooMuch when it was over a limit, whatever came of it then; Left for anything raised that is no
        Exception, apart from KeyboardInterrupt; else what `work` raises.
        """
        over, left = "", ""
        frames: tuple[tuple[str, int], ...] = ()
        try:
            self._begin()
            try:
                made = work()
            finally:
                self._runs = False  # nothing comes between this and the work; after it no stop is set off
                over = self._end()
        except _Stop as stop:  # nothing is raised in here: the frames, and all that they hold, must go first
            over, frames = self._end() or over, frames_of(stop)
        except KeyboardInterrupt:
            raise
        except Exception as error:
            if not over:
                raise
            frames = frames_of(error)
        except BaseException as error:
            left, frames = told(error), frames_of(error)
        if over:
            raise TookTooMuch(over, frames)
        if left:
            raise Left(left, frames)
        return made

    def _begin(self) -> None:
        with self._lock:
            self._thread, self._began, self._over = threading.get_ident(), time.monotonic(), ""
            self._next, self._base, self._stops, self._runs = self._began + self.seconds, None, 0, True
            if self._watcher is None:
                self._watcher = threading.Thread(target=self._watch, name="doorlint limits", daemon=True)
                self._watcher.start()

    def _end(self) -> str:
        """Nothing is left behind that would stop what runs next."""
        try:
            with self._lock:
                return self._close()
        except _Stop:  # the last one that had been set off
            with self._lock:
                return self._close()

    def _close(self) -> str:
        self._runs, self._used = False, time.monotonic()
        if self._over:
            _raise_in(self._thread, None)
        return self._over

    def _watch(self) -> None:
        while True:
            time.sleep(HARD_S if self._runs and self._over else POLL_S)
            with self._lock:
                now = time.monotonic()
                if self._runs:
                    self._look(now)
                elif now - self._used > IDLE_S:
                    self._watcher = None
                    return

    def _look(self, now: float) -> None:
        here = _resident()
        if self._base is None:
            self._base = here
        if not self._over and here is not None and self._base is not None and here - self._base > self.memory:
            self._over, self._next = f"took more than {self.memory >> 20} MiB of memory", now
        if now < self._next:
            return
        self._next = now + (HARD_S if self._stops else AGAIN_S)
        self._over = self._over or f"took longer than {self.seconds:g} s"
        self._stops += 1
        _raise_in(self._thread, _Stop)


def _raise_in(thread: int, error: type[BaseException] | None) -> None:
    """Have an exception raised in a thread at its next step; None takes back one that was not raised yet."""
    try:
        import ctypes
    except ImportError:  # a Python that was built without it has no limits
        return
    what = ctypes.py_object() if error is None else ctypes.py_object(error)
    ctypes.pythonapi.PyThreadState_SetAsyncExc(ctypes.c_ulong(thread), what)


def _resident() -> int | None:
    """Bytes of memory that the process holds; None where the system does not tell (it is told by Linux alone)."""
    try:
        return int(Path("/proc/self/statm").read_bytes().split()[1]) * os.sysconf("SC_PAGE_SIZE")
    except (OSError, ValueError, IndexError, AttributeError):
        return None


def frames_of(error: BaseException) -> tuple[tuple[str, int], ...]:
    """File and line of each call on the way to where something was raised, the innermost last."""
    if isinstance(error, TookTooMuch | Left):
        return error.frames
    last: list[tuple[str, int]] = []
    for frame, line in traceback.walk_tb(error.__traceback__):
        last.append((frame.f_code.co_filename, line))
        if len(last) > 2 * _FRAMES:
            del last[:_FRAMES]
    return tuple(last[-_FRAMES:])


def one_line(text: str) -> str:
    """A text of somebody else's in one line that can be written anywhere, of a length that people read."""
    line = " ".join(text[: 4 * _LONGEST_TOLD].split()).encode("utf-8", "backslashreplace").decode()
    line = "".join(c if c.isprintable() else repr(c)[1:-1] for c in line)
    return line if len(line) <= _LONGEST_TOLD else f"{line[:_LONGEST_TOLD]}..."


def told(error: BaseException) -> str:
    """What was raised, in one line: its type, and its text if it has one."""
    if isinstance(error, TookTooMuch | Left):
        return str(error)
    try:
        text = one_line(str(error))
    except Exception:  # even that is foreign code
        text = "its text cannot be told"
    return f"{type(error).__name__}: {text}" if text else type(error).__name__
