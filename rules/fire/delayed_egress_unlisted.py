"""A delayed egress device on a fire door needs both listings."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.events.door import DELAYED, kind_of
from doorlint.outcome import Cited, Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.model import Item

from .doors import CAUTION, is_rated

RULE = Rule(
    "fire/delayed-egress-unlisted",
    title="A delayed egress device on a fire door is not listed for both",
    level=Level.ERROR,
    over=Item,
    applies=lambda item: kind_of(item) == DELAYED,
    scope="delayed egress devices",
    basis=(
        Cited("UL 10C", "", "positive pressure fire tests of door assemblies", from_memory=True),
        Practice("on a fire door a delayed egress device is listed for delayed egress and for fire"),
    ),
    evidence=("listings",),
    why="The device is listed for delayed egress alone, and the authority refuses the door.",
    cure="Take a device with both listings.",
    limits="What the listing says of door and frame is not in the spec. " + CAUTION,
    life_safety=True,
)

BOTH = ("UL 294", "UL 10C")


def check(item: Item, context: Context) -> Iterator[Verdict]:
    opening = context.opening(item)
    if not is_rated(opening):
        yield not_applicable("the opening is not fire-rated")
        return
    assert item.sheet is not None
    listings = known(item.sheet, "listings", tuple)
    lacking = [name for name in BOTH if not any(one == name or one.startswith(f"{name} ") for one in listings)]
    if lacking:
        related = (Related(item.sheet.at("listings"), "its listings"),)
        text = f"{item.name} is not listed to {' and '.join(lacking)}"
        yield failed(f"{text} on a door rated {opening.fire_rating}", item.at("product"), related=related)
    else:
        yield ok(f"{item.name} is listed to {' and '.join(BOTH)}", item.at("product"))
