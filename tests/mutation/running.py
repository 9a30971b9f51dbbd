"""Runs tests against mutants: a plug-in of pytest that forks one child for each mutant.

The tests are collected once. A first child runs them all under coverage, so that for each line the tests are known
that run it. Then each mutant gets a child of its own, which puts it in place and runs those tests until one fails: the
nearest first, the quick ones before the slow. A mutant whose child takes far longer than the same tests took before is
killed too: the fault would be noticed.
"""

from __future__ import annotations

import ast
import gc
import math
import os
import pickle
import resource
import select
import signal
import sys
import time
from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from pathlib import Path
from typing import Any

import coverage
import pytest

from .mutants import Mutant
from .swapping import PlacingError, Running


class Fate(StrEnum):
    """What became of a mutant."""

    KILLED = "killed"
    TIMED_OUT = "timed out"
    SURVIVED = "survived"
    NOT_RUN = "no test runs it"
    BROKEN = "could not be put in place"

    @property
    def dead(self) -> bool:
        return self in (Fate.KILLED, Fate.TIMED_OUT)


@dataclass(frozen=True, slots=True)
class Result:
    """What became of one mutant, by which test or why, and the seconds that it took."""

    mutant: Mutant
    fate: Fate
    by: str = ""
    seconds: float = 0.0


@dataclass(slots=True)
class Covering:
    """Which tests run which lines: `lines` by file and line to the numbers of the items, `took` seconds of each item;
    `failed` those that fail without any mutant."""

    lines: dict[str, dict[int, set[int]]] = field(default_factory=dict)
    took: dict[int, float] = field(default_factory=dict)
    failed: list[str] = field(default_factory=list)


class Driver:
    """The plug-in. `results` holds what came out; `covering` what the first child told.

    mutants: those to run. root: the folder that their files are named from. distance: of a file and the name of a
    test, how far they are from each other, from 0. budget: seconds of tests (as they took without a mutant) that one
    mutant is given of each distance, four times as many of near ones. told: called with each result.
    """

    def __init__(
        self,
        mutants: Sequence[Mutant],
        root: Path,
        distance: Callable[[str, str], int],
        budget: float,
        told: Callable[[Result], None] = lambda _: None,
    ) -> None:
        self.mutants, self.root, self.distance, self.budget, self.told = mutants, root, distance, budget, told
        self.results: list[Result] = []
        self.covering = Covering()

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """In place of running the tests: run them once, then against each mutant."""
        files = {str(self.root / mutant.file): "" for mutant in self.mutants}
        for path in files:
            files[path] = Path(path).read_text(encoding="utf-8")
        running = Running(files)
        session.config.pluginmanager.register(Noted(), "noted")
        gc.collect()
        gc.freeze()
        self.covering = _told_by_child(lambda: _covered(session, running))
        if self.covering.failed:
            return True
        for mutant in self.mutants:
            path = str(self.root / mutant.file)
            chosen = self._chosen(session, path, mutant, running)
            result = _tried(session, running, path, mutant, chosen, self.covering)
            self.results.append(result)
            self.told(result)
        return True

    def _chosen(self, session: pytest.Session, path: str, mutant: Mutant, running: Running) -> list[int]:
        """The numbers of the tests for a mutant, in the order in which they are run."""
        lines, took = self.covering.lines.get(path, {}), self.covering.took
        if mutant.warm:
            items = set(lines.get(mutant.line, ()))
        else:
            items = {item for line in _users(running.files[path], mutant.at) for item in lines.get(line, ())}
        if len(items) < 3:  # run while importing, or behind a cache that another test filled; nearest first, as ever
            items |= set(took)
        if not mutant.warm:  # a table may be looked at by a test that runs no line of the module
            items |= {item for item in took if self.distance(mutant.file, session.items[item].nodeid) < 2}
        far = {item: self.distance(mutant.file, session.items[item].nodeid) for item in items}
        chosen: list[int] = []
        spent: dict[int, float] = defaultdict(float)  # by distance: slow tests nearby leave time for quick ones far off
        for item in sorted(items, key=lambda one: (far[one], took.get(one, 0.0))):
            cost = took.get(item, 0.0)
            if chosen and spent[far[item]] + cost > (4 if far[item] < 2 else 1) * self.budget:
                continue
            spent[far[item]] += cost
            chosen.append(item)
        return chosen


class Noted:
    """What failed since the list was last emptied."""

    def __init__(self) -> None:
        self.failed: list[str] = []

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """A part of a test was run."""
        if report.failed:
            self.failed.append(report.nodeid)


def _users(source: str, name: str) -> Iterator[int]:
    """The lines within functions that use a name of the module's level, or what is built on it."""
    tree = ast.parse(source)
    names = {name}
    for statement in tree.body:
        used = {node.id for node in ast.walk(statement) if isinstance(node, ast.Name)}
        if isinstance(statement, ast.Assign | ast.AnnAssign) and used & names:
            names |= used & {
                node.id
                for node in ast.walk(statement)
                if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store)
            }
    for node in ast.walk(tree):
        if isinstance(node, ast.Name) and node.id in names and isinstance(node.ctx, ast.Load):
            yield node.lineno


def _run(session: pytest.Session, item: pytest.Item) -> str:
    """Run one collected test in this process; what failed, empty where it passed."""
    noted = session.config.pluginmanager.get_plugin("noted")
    assert isinstance(noted, Noted)
    noted.failed.clear()
    item.config.hook.pytest_runtest_protocol(item=item, nextitem=None)
    return noted.failed[0] if noted.failed else ""


def _covered(session: pytest.Session, running: Running) -> Covering:
    """Run every test once under coverage."""
    found = Covering()
    measured = coverage.Coverage(data_file=None, include=list(running.files), config_file=False)
    running.forget()
    caches = _caches_of_tests(session)
    for number, item in enumerate(session.items):
        measured.start()
        measured.switch_context(str(number))
        started = time.process_time()
        failed = _run(session, item)
        found.took[number] = time.process_time() - started
        measured.stop()
        for cache in caches:
            cache.cache_clear()
        if failed:
            found.failed.append(failed)
    data = measured.get_data()
    for path in data.measured_files():
        by_line: dict[int, set[int]] = defaultdict(set)
        for line, contexts in data.contexts_by_lineno(path).items():
            by_line[line] = {int(context) for context in contexts if context}
        found.lines[path] = dict(_spread(Path(path), by_line))
    return found


def _spread(path: Path, by_line: Mapping[int, set[int]]) -> Iterator[tuple[int, set[int]]]:
    """Coverage names the first line of a statement or of a part of it; a mutant may stand on any of its lines."""
    yield from by_line.items()
    for statement in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(statement, ast.stmt) and not hasattr(statement, "body"):
            lines = range(statement.lineno, (statement.end_lineno or statement.lineno) + 1)
            together = set().union(*(by_line.get(line, set()) for line in lines))
            for line in lines:
                yield line, together
        elif isinstance(statement, ast.If | ast.While | ast.For | ast.With):
            last = statement.body[0].lineno - 1
            lines = range(statement.lineno, max(statement.lineno, last) + 1)
            together = set().union(*(by_line.get(line, set()) for line in lines))
            for line in lines:
                yield line, together


def _caches_of_tests(session: pytest.Session) -> list[Any]:
    """The caches of test modules; emptied after each test, so that the next is seen to run what it rests on."""
    modules = {id(item.module): item.module for item in session.items if isinstance(item, pytest.Function)}.values()
    return [
        thing
        for module in modules
        for thing in vars(module).values()
        if hasattr(thing, "cache_clear") and getattr(thing, "__module__", "") == module.__name__
    ]


def _tried(
    session: pytest.Session,
    running: Running,
    path: str,
    mutant: Mutant,
    chosen: Sequence[int],
    covering: Covering,
) -> Result:
    """One mutant in a child of its own."""
    if not chosen:
        return Result(mutant, Fate.NOT_RUN)
    started = time.perf_counter()
    limit = 5 + 5 * sum(covering.took.get(item, 0.0) for item in chosen)

    def work() -> tuple[str, str]:
        try:
            running.put(path, mutant)
        except PlacingError as error:
            return Fate.BROKEN, str(error)
        except Exception as error:  # what an import of the module would end with
            return Fate.KILLED, f"does not load: {type(error).__name__}: {error}"
        for number in chosen:
            if failed := _run(session, session.items[number]):
                return Fate.KILLED, failed
        return Fate.SURVIVED, f"{len(chosen)} tests"

    try:
        fate, by = _told_by_child(work, limit)
    except TimeoutError:
        fate, by = Fate.TIMED_OUT, ""
    except EOFError:
        fate, by = Fate.KILLED, "the process ended"
    return Result(mutant, Fate(fate), by, time.perf_counter() - started)


def _told_by_child(work: Callable[[], Any], limit: float | None = None) -> Any:
    """What `work` gives in a forked child.

    TimeoutError where the child computes for longer than `limit` seconds (or waits for ten times as long, so that a
    busy machine kills no mutant); EOFError where it ends without an answer.
    """
    reading, writing = os.pipe()
    sys.stdout.flush()
    sys.stderr.flush()
    child = os.fork()
    if child == 0:
        status = 1
        try:
            os.close(reading)
            if limit is not None:
                resource.setrlimit(resource.RLIMIT_CPU, (math.ceil(limit), math.ceil(limit) + 1))
            quiet = os.open(os.devnull, os.O_WRONLY)
            os.dup2(quiet, 1)
            os.dup2(quiet, 2)
            with os.fdopen(writing, "wb") as pipe:
                pickle.dump(work(), pipe)
            status = 0
        finally:
            os._exit(status)
    os.close(writing)
    parts, until = [], time.monotonic() + 10 * limit if limit is not None else None
    try:
        while True:
            wait = None if until is None else max(0.0, until - time.monotonic())
            if not select.select([reading], [], [], wait)[0]:
                raise TimeoutError
            part = os.read(reading, 1 << 16)
            if not part:
                break
            parts.append(part)
    finally:
        os.close(reading)
        os.kill(child, signal.SIGKILL)  # not waited for yet, so the number is still its own
        _, status = os.waitpid(child, 0)
    if os.WIFSIGNALED(status) and os.WTERMSIG(status) == signal.SIGXCPU:
        raise TimeoutError
    if not parts:
        raise EOFError
    return pickle.loads(b"".join(parts))
