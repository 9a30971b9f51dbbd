"""The judging of families as tasks that any executor can run: pure functions of data that can be sent.

A task goes by itself to another process or machine, where the rules are imported by name. What comes back is taken as
it is; what does not come back (a worker was killed, a rule is not importable there) is worked out by the caller.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from importlib import import_module
from typing import TYPE_CHECKING, Any, TypeAlias

from ..facts import MissingFact
from ..judging import Judge
from ..outcome import Level, Related
from .families import Families
from .signs import Likeness
from .world import World

if TYPE_CHECKING:
    from concurrent.futures import Executor, Future

Workplace: TypeAlias = "Executor | Callable[[int], Executor | None]"
"""Where families are worked out: an executor, or what gives one for so many families (None: the caller works alone)."""

CHUNKS_EACH = 4
"""Tasks for each worker: enough that none waits long for the slowest."""


@dataclass(frozen=True)
class Task:
    """Openings to be judged in a world. rules: the modules by name, with the level and notes of house standards."""

    world: World
    rules: tuple[tuple[str, Level, tuple[Related, ...]], ...]
    likenesses: tuple[Likeness, ...]


def run(task: Task) -> Families:
    """The families of a task's openings. Openings whose rules ask for a fact that the task lacks are left out."""
    judges = {}
    for name, level, notes in task.rules:
        module: Any = import_module(name)
        judges[module.RULE.id] = Judge(module, None, level, notes)
    families = Families()
    world = replace(task.world)  # what is solved stays with this task
    for likeness in task.likenesses:
        try:
            families.bundles(likeness, judges, world)
        except MissingFact:
            families.found.pop(likeness.key, None)
    families.facts.clear()  # functions of modules need not be sendable; the caller has them
    return families


@dataclass(frozen=True)
class Gathering:
    """Tasks on their way."""

    futures: tuple[Future[Families], ...] = ()

    def families(self) -> Iterator[Families]:
        """What comes back, whatever became of the other tasks."""
        for future in self.futures:
            try:
                yield future.result()
            except Exception:  # a worker that fails costs time, never outcomes: the caller works out what is lacking
                continue


def dispatch(
    place: Workplace, workers: int, likenesses: Sequence[Likeness], judges: Mapping[str, Judge], world: World
) -> Gathering:
    """Send the families of some openings to an executor, each with the first opening that is met of it: what is left to
    be judged of others is little, and known only once the family is."""
    if not likenesses or not all(_importable(each) for each in judges.values()):
        return Gathering()
    names = tuple((_name(each), each.level, each.notes) for each in judges.values())
    first = list({each.key: each for each in reversed(likenesses)}.values())[::-1]
    executor = place(len(first)) if callable(place) else place
    if executor is None:
        return Gathering()
    chunks = max(1, min(workers * CHUNKS_EACH, len(first)))
    drawn = [replace(each, draw=each.drawn) for each in first]
    try:
        tasks = (Task(world, names, tuple(drawn[start::chunks])) for start in range(chunks))
        return Gathering(tuple(executor.submit(run, task) for task in tasks))
    except (RuntimeError, OSError):  # the executor has been shut down, or no process can be started
        return Gathering()


def _name(judge: Judge) -> str:
    return str(getattr(judge.module, "__name__", ""))


def _importable(judge: Judge) -> bool:
    name = _name(judge)
    try:
        module: object = import_module(name) if name else None
        return module is judge.module
    except ImportError:
        return False
