"""An operator on a fire door goes on opening it in a fire alarm."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.context import Context
from doorlint.events.door import kind_of
from doorlint.outcome import Cited, Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec.model import Item

from ..failure.doors import fire_contacts_of
from .doors import CAUTION, is_rated

RULE = Rule(
    "fire/operator-opens-in-fire",
    title="The operator of a fire door goes on opening it in a fire alarm",
    level=Level.ERROR,
    over=Item,
    applies=lambda item: kind_of(item) in ("swing_operator", "sliding_operator"),
    scope="door operators",
    basis=(
        Cited("NFPA 80", "2010 to 2022", "power-operated fire doors", from_memory=True),
        Practice("the fire alarm takes the power from the operator", physics="an open fire door stops no fire"),
    ),
    evidence=("feed of the operator", "contact of the fire alarm"),
    why="Each person who flees past the sensor opens the compartment again.",
    cure="Break the feed of the operator by a contact of the fire alarm.",
    limits="An operator that listens to the fire alarm at an input of its own needs that input in the spec. " + CAUTION,
    life_safety=True,
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    opening = context.opening(item)
    if not is_rated(opening):
        yield not_applicable("the opening is not fire-rated")
        return
    door = context.door(opening)
    if not door.feeds(item):
        raise door.feed_gap(item)
    uses = fire_contacts_of(item, door)
    if uses:
        yield ok(f"the fire alarm takes the power from {item.name}", uses[0].place)
    else:
        uncounted.insist(uncounted.in_feed(item, context, depth=3))
        related = (Related(opening.at("fire_rating"), f"rated {opening.fire_rating}"),)
        text = f"no contact of the fire alarm breaks the feed of {item.name}"
        yield failed(text, item.at("fed_from"), related=related)
