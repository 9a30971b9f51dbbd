"""A fire door that nothing latches: a magnet, a deadbolt or a closer does not count."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.events import Event, Latch
from doorlint.events.door import BOLTS, Leaf, kind_of
from doorlint.outcome import Cited, Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.fields import Undecided
from doorlint.spec.model import Item, Opening
from doorlint.spec.model import Leaf as Leaves

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
    limits="Devices that are not listed as items are not seen; nor is a coordinator. " + CAUTION,
    life_safety=True,
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    if unrated(opening):
        yield not_applicable("the opening is not fire-rated")
        return
    row = row_of(opening, context, Event.NORMAL)
    basis = grounds(context.spec.project, "fire_door/active_latch")
    leaves = context.door(opening).leaves
    if isinstance(opening.leaf, Leaves) and opening.leaf.count == 2 and len(leaves) == 1:
        raise Undecided("what latches the inactive leaf", opening.leaf.at("count"), stated=False)
    bolts = [item for leaf in leaves for item in _bolts_alone(leaf)]
    if row.latch is Latch.LATCHED and bolts:
        yield _by_bolt(bolts[0], opening, basis)
    elif row.latch is Latch.LATCHED:
        yield ok("the leaf latches", lock_place(opening), basis=basis)
    elif row.latch is None:
        yield open_for((row,), opening)
    else:
        held = [item for leaf in leaves for item in leaf.holders]
        related = tuple(Related(item.place.key, f"{item.name} holds, and is no latch") for item in held[:3])
        text = way(row.event.title, (), f"no latch holds a door rated {known(opening, 'fire_rating', str)}")
        yield failed(text, lock_place(opening), related=related, basis=basis)


def _bolts_alone(leaf: Leaf) -> list[Item]:
    """What holds a leaf where that is bolts and nothing else."""
    bolts = [item for item in leaf.holders if kind_of(item) in BOLTS]
    return [] if leaf.latchers or leaf.strikes or len(bolts) < len(leaf.holders) else bolts


def _by_bolt(item: Item, opening: Opening, basis: tuple[Cited, ...]) -> Verdict:
    """A bolt that is driven is no latch; a lock that drives a bolt may have a latch as well."""
    if item.sheet is not None and kind_of(item) != "electric_bolt" and known(item.sheet, "latch", bool):
        return ok(f"{item.name} has a latch", item.at("product"), basis=basis)
    text = f"{item.name} drives a bolt, which is no latch: nothing else latches a door rated"
    return failed(f"{text} {known(opening, 'fire_rating', str)}", item.at("product"), basis=basis)
