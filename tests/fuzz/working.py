"""A share of the inputs, put through one after the other under limits on time and memory."""

from __future__ import annotations

import resource
import signal
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st

from doorlint.reviewing import Result

from . import through
from .faults import Tally, keep, signature
from .inputs import KINDS, Input
from .sources import Seeded, Source

HANGS_S = 15.0
MEMORY = 3 * 1024**3
WHOLE_EVERY = 500
"""Every so many inputs all rules judge, all documents are made, and everything is done twice."""


class Hang(BaseException):
    """An input takes so long that it is given up. No Exception, so that nothing on the way swallows it."""


class Drawn:
    """Choices that hypothesis draws."""

    def __init__(self, draw: Callable[[Any], Any]) -> None:
        self._draw = draw

    def below(self, bound: int) -> int:
        found: int = self._draw(st.integers(0, bound - 1))
        return found


@st.composite
def drawn(draw: Any, kind: str) -> Input:
    """Inputs of a kind as a strategy."""
    return KINDS[kind](Drawn(draw))


def limit_memory() -> None:
    """Let the process have so much address space and no more: a run-away is a MemoryError, not a slow machine."""
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))


@contextmanager
def limited() -> Iterator[None]:
    """Give up what hangs."""

    def stop(*_: Any) -> None:
        raise Hang(f"no end after {HANGS_S:.0f} s of processor time")

    before = signal.signal(signal.SIGVTALRM, stop)
    signal.setitimer(signal.ITIMER_VIRTUAL, HANGS_S)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)
        signal.signal(signal.SIGVTALRM, before)


def _nobody(number: int) -> None:
    """Nobody is told."""


class Work:
    """Puts inputs through and counts. `folder`: where the inputs of faults are kept; None keeps none."""

    def __init__(self, folder: Path | None) -> None:
        self.folder = folder
        self.tally = Tally()
        self.before: Result | None = None

    def one(self, given: Input, number: int, label: str, *, only_read: bool = False) -> None:
        """Put one input through; whatever goes wrong is counted, none of it raised."""
        tally = self.tally
        whole = not only_read and number % WHOLE_EVERY == WHOLE_EVERY - 1
        began = time.process_time()
        tally.inputs += 1
        tally.whole += whole
        try:
            with limited():
                if only_read:
                    passed = through.read(given)
                else:
                    passed, self.before = through.put(given, number, whole=whole, before=self.before)
        except (Exception, Hang) as error:
            fault = signature(error)
            tally.faults[fault] += 1
            if self.folder is not None and tally.faults[fault] == 1:
                keep(self.folder, given, label, error)
        else:
            tally.reviewed += passed.reviewed
            tally.put += bool(passed.reports)
            tally.outcomes += passed.outcomes
            tally.cures += passed.cures
            tally.reports += passed.reports
            step, seconds = max(passed.seconds.items(), key=lambda one: one[1])
            if seconds > tally.slowest:
                tally.slowest, tally.slowest_step = seconds, f"{step}, {label}"
        tally.seconds += time.process_time() - began
        if tally.inputs % 100 == 0:
            tally.memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024

    def seeded(self, kind: str, start: int, stop: int, at: Callable[[int], None] = _nobody) -> Tally:
        """The inputs of a kind with these numbers. `at` is told each number before."""
        for number in range(start, stop):
            at(number)
            source: Source = Seeded(number)
            # hardly any raw text is a spec: nine in ten are only read
            turn, rest = divmod(number, 10) if kind == "text" else (number, 0)
            self.one(KINDS[kind](source), turn, f"{kind}-{number}", only_read=rest > 0)
        return self.tally

    def drawn(self, kind: str, start: int, stop: int, at: Callable[[int], None] = _nobody) -> Tally:
        """As many inputs of a kind as hypothesis draws them, with `start` as the seed."""
        numbers = iter(range(start, stop))

        @seed(start)
        @settings(
            max_examples=stop - start, database=None, deadline=None, phases=(Phase.generate,),
            suppress_health_check=list(HealthCheck),
        )  # fmt: skip
        @given(drawn(kind))
        def run(given: Input) -> None:
            number = next(numbers, None)
            if number is not None:
                at(number)
                self.one(given, number, f"drawn-{kind}-{number}")

        run()
        return self.tally
