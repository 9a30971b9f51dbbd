"""A fire door that nothing latches: a magnet, a deadbolt or a closer does not count."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.events import Event, Latch
from doorlint.outcome import Cited, Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.model import Opening

from ..failure.doors import lock_place, open_for, row_of, way
from .doors import CAUTION, grounds, unrated

RULE = Rule(
    "fire/no-positive-latch",
    title="Nothing latches a fire door positively",
    level=Level.ERROR,
    over=Opening,
    basis=(
        Cited("NFPA 80", "2010 to 2022", "latching of swinging fire doors"),
        Practice("a fire door has an active latch bolt", physics="a magnet holds only while it has current"),
    ),
    evidence=("what holds the leaf", "fire rating"),
    why="The fire cuts the magnet's power, and the door that should hold back the fire swings open.",
    cure="Add a latch that engages by itself whenever the door closes, listed for the rating.",
    limits="Devices that are not listed as items are not seen. " + CAUTION,
    life_safety=True,
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    if unrated(opening):
        yield not_applicable("the opening is not fire-rated")
        return
    row = row_of(opening, context, Event.NORMAL)
    basis = grounds(context.spec.project, "fire_door/active_latch")
    if row.latch is Latch.LATCHED:
        yield ok("the leaf latches", lock_place(opening), basis=basis)
    elif row.latch is None:
        yield open_for((row,), opening)
    else:
        held = [item for leaf in context.door(opening).leaves for item in leaf.holders]
        related = tuple(Related(item.place.key, f"{item.name} holds, and is no latch") for item in held[:3])
        text = way(row.event.title, (), f"no latch holds a door rated {known(opening, 'fire_rating', str)}")
        yield failed(text, lock_place(opening), related=related, basis=basis)
