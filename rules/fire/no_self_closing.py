"""A fire door that does not close by itself, or with a closer too weak for one."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import codes, uncounted
from doorlint.context import Context
from doorlint.events.door import kind_of
from doorlint.outcome import Cited, Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import Undecided
from doorlint.spec.model import Item, Leaf, Opening

from .doors import CAUTION, grounds, is_rated

CLOSING = ("closer", "swing_operator", "sliding_operator")
EN_1154 = "EN-1154-1996"

RULE = Rule(
    "fire/no-self-closing",
    title="A fire door does not close by itself, or its closer is too weak",
    level=Level.ERROR,
    over=Opening,
    basis=(
        Cited("NFPA 80", "2010 to 2022", "closing devices", from_memory=True),
        Practice("each leaf of a fire door has a closer that latches it", physics="an open fire door stops no fire"),
    ),
    evidence=("leaves", "closers", "size"),
    why="The door stands ajar on the day of the fire because nothing shuts it.",
    cure="Fit a closer of size 3 or more to each leaf.",
    limits="Whether the door latches from every angle is tried on site. " + CAUTION,
    life_safety=True,
    incomplete=uncounted.where_unknown("leaf.count", "items.sheet.closer_size"),
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    if not is_rated(opening):
        yield not_applicable("the opening is not fire-rated")
        return
    basis = grounds(context.spec.project, "fire_door/self_closing")
    closers = [item for item in opening.items.values() if kind_of(item) in CLOSING]
    leaves = opening.leaf.count if isinstance(opening.leaf, Leaf) and isinstance(opening.leaf.count, int) else 1
    if len(closers) < leaves:
        uncounted.insist(uncounted.devices(opening, context))  # what seems to be absent may be one of these
    if not opening.items:
        raise Undecided("items", opening.place.key, stated=False)  # the same: not a single item is listed
    if len(closers) < leaves:
        at = opening.leaf.at("count") if isinstance(opening.leaf, Leaf) else opening.place.key
        counted = "1 closer" if len(closers) == 1 else f"{len(closers)} closers"
        text = f"{leaves} leaves and {counted} on" if leaves > 1 else "nothing closes the leaf of"
        related = (Related(opening.at("fire_rating"), f"rated {opening.fire_rating}"),)
        yield failed(f"{text} a door rated {opening.fire_rating}", at, related=related, basis=basis)
        return
    weak = [item for item in closers if _too_weak(item)]
    for item in weak:
        assert item.sheet is not None
        least = codes.published("fire_door/closer_size", EN_1154)
        related = (Related(item.sheet.at("closer_size"), "the size"),)
        text = f"{item.name} is of size {item.sheet.closer_size}; a fire door takes {least.text} or more"
        yield failed(text, item.at("product"), related=related, basis=(least.basis,))
    if not weak:
        yield ok("every leaf closes by itself", closers[0].place.key, basis=basis)


def _too_weak(item: Item) -> bool:
    size = item.sheet.closer_size if item.sheet is not None else None
    return isinstance(size, int) and codes.published("fire_door/closer_size", EN_1154).admits(size) is codes.Answer.NO
