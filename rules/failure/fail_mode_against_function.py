"""A lock that holds people in must let go when its current goes; only a fail-safe one does."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.events.door import MAGNETS, Door, kind_of
from doorlint.outcome import Cited, Level, Place, Practice, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec.model import Item

from ..egress.lists import CAUTION, clauses, nobody_leaves
from .doors import is_lock, with_fail_mode

RULE = Rule(
    "failure/fail-mode-against-function",
    title="The fail mode of a lock contradicts what the lock is there for",
    level=Level.ERROR,
    over=Item,
    applies=is_lock,
    scope="electric locks",
    basis=(
        Practice(
            "what holds people in electrically is fail-safe; a magnet can be nothing else",
            physics="a lock that needs current to release stays locked when there is none",
        ),
        Cited("International Building Code", "2015 to 2024", "special locking arrangements", "clause by edition"),
    ),
    evidence=("lock", "fail mode", "what it holds"),
    why="A fail-secure lock that holds the egress side needs power to let people out, and today there is none.",
    cure="Choose the fail-safe version of the lock, or hardware that opens from inside without electricity.",
    limits="Strikes on fire doors and locks of stair doors have rules of their own. " + CAUTION,
    life_safety=True,
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    opening = context.opening(item)
    door = context.door(opening)
    stated = door.fail_mode(item)
    if kind_of(item) in MAGNETS and stated not in ("safe", None):
        yield failed(f"{item.name} is a magnet, which cannot be fail-{stated}: it holds by its current", _at(item))
        return
    if nobody_leaves(opening):
        yield not_applicable("nobody leaves through this opening")
        return
    held = door.held_inside(item)
    if held.value is None:
        raise held.gaps[0]
    if held.value is False:
        yield not_applicable(f"people get out past {item.name} by hardware, whatever its fail mode")
        return
    yield _judged(item, stated, door, context)


def _judged(item: Item, mode: str | None, door: Door, context: Context) -> Verdict:
    if mode is None:
        raise door.fail_gap(item)
    if mode == "safe":
        return ok(f"{item.name} holds people in and is fail-safe", _at(item))
    word = "keeps its state" if mode == "as_is" else "is fail-secure"
    grounds, _ = clauses(context.spec.project, "locks_and_latches")
    text = f"{item.name} holds people in and {word}: without current it does not let them out"
    return failed(text, _at(item), basis=(*RULE.basis[:1], *grounds), repairs=tuple(with_fail_mode(item, "safe")))


def _at(item: Item) -> Place:
    return item.at("fail") if item.fail is not None else item.at("product")
