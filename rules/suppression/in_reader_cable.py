"""The wires of a lock in the same cable as a reader's data."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Level, Practice, Related, Verdict, failed, not_applicable, ok, undecided
from doorlint.rulebook import Rule
from doorlint.spec import Coil, Item, Undecided, known
from doorlint.spec.read import chosen_coil

READERS = ("reader", "keypad", "reader_controller", "intercom")

RULE = Rule(
    "suppression/coil-in-reader-cable",
    title="The lock's wires run in the same cable as a reader's",
    level=Level.WARNING,
    over=Item,
    applies=lambda item: item.shares_cable_with is not None,
    scope="items that share a cable with another",
    basis=(
        Practice(
            "the pair of a lock has a cable of its own, or a cable with a screen between it and data",
            physics="the steep edges of a switched coil couple into wires that run beside it",
        ),
    ),
    evidence=("what shares the cable", "screen of the cable"),
    why="Readers send odd bits or lose their bus whenever the lock is switched.",
    cure="Give the lock a cable of its own, or use a screened cable.",
    limits="Sees only what the spec says with `shares_cable_with`; cables laid side by side are not in a spec.",
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    name = known(item, "shares_cable_with", str)
    other = context.opening(item).items.get(name)
    if other is None:
        yield undecided(
            f"cannot be decided: this opening has no item {name!r}",
            ("shares_cable_with",),
            item.at("shares_cable_with"),
        )
        return
    pair = (item, other)
    coils = [one for one in pair if isinstance(chosen_coil(one), Coil)]
    readers = [one for one in pair if one.sheet is not None and one.sheet.kind in READERS]
    if not coils or not readers:
        yield not_applicable(f"{item.name} and {other.name} are not a coil and a reader")
        return
    lock, reader = coils[0], readers[0]
    holder = item if item.cable_sheet is not None else other
    cable = holder.cable_sheet
    if cable is None:
        raise Undecided("cable", item.at("cable"), stated=item.cable is not None)
    related = (Related(cable.at("screen"), f"the screen of {cable.id}"),)
    if known(cable, "screen", str) != "none":
        yield ok(f"{lock.name} and {reader.name} share {cable.id}, which is screened", item.at("shares_cable_with"))
        return
    text = f"{lock.name} and {reader.name} share {cable.id}, which has no screen"
    yield failed(text, item.at("shares_cable_with"), related=related)
