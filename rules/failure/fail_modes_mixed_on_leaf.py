"""Two electric locks of different fail modes on one leaf."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.events.door import Leaf
from doorlint.outcome import Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec.model import Opening

from .doors import WORN, locks_of

RULE = Rule(
    "failure/fail-modes-mixed-on-leaf",
    title="Locks of different fail modes hold one leaf",
    level=Level.WARNING,
    over=Opening,
    applies=lambda opening: len(locks_of(opening)) > 1,
    scope="openings with more than one electric lock",
    basis=(
        Practice(
            "one leaf has one electric lock, or locks of one fail mode",
            physics="to get through, every lock of a leaf has to let go; to hold it, one is enough",
        ),
    ),
    evidence=("locks of the leaf", "their fail modes"),
    why="Power goes; the magnet lets go and the strike does not. Half the sequence has been written for each.",
    cure="Take one of the locks away, or choose both of one fail mode.",
    limits="Whether two locks on a leaf are wanted at all is the owner's matter. " + WORN,
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    door = context.door(opening)
    several = [leaf for leaf in door.leaves if len(leaf.locks) > 1]
    if not several:
        yield not_applicable("no leaf has more than one electric lock")
    for leaf in several:
        modes = {lock.name: door.fail_mode(lock) for lock in leaf.locks}
        unknown = [lock for lock in leaf.locks if modes[lock.name] is None]
        if len({mode for mode in modes.values() if mode is not None}) > 1:
            yield _mixed(leaf, modes)
        elif unknown:
            raise door.fail_gap(unknown[0])
        else:
            yield ok(f"the locks of the {leaf.name} leaf have one fail mode", leaf.locks[0].place.key)


def _mixed(leaf: Leaf, modes: dict[str, str | None]) -> Verdict:
    listed = " and ".join(f"{name} is fail-{mode or 'unknown'}" for name, mode in modes.items())
    related = tuple(Related(lock.place.key, f"fail-{modes[lock.name] or 'unknown'}") for lock in leaf.locks[1:])
    return failed(f"on one leaf, {listed}", leaf.locks[0].place.key, related=related)
