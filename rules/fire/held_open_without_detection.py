"""A fire or smoke door that is held open, and that no detection lets go."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.context import Context
from doorlint.events.door import kind_of
from doorlint.outcome import Cited, Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import UNKNOWN, Undecided, known
from doorlint.spec.model import Item, Opening

from ..failure.doors import fire_contacts_of
from .doors import CAUTION, grounds, is_rated

RULE = Rule(
    "fire/held-open-without-detection",
    title="A fire door is held open and no detection lets it go",
    level=Level.ERROR,
    over=Item,
    applies=lambda item: (
        kind_of(item) == "hold_open_magnet"
        or (kind_of(item) == "closer" and item.sheet is not None and item.sheet.hold_open in (True, UNKNOWN))
    ),
    scope="devices that hold a door open",
    basis=(
        Cited("NFPA 80", "2010 to 2022", "closing devices", from_memory=True),
        Practice("what holds a fire door open lets go on smoke", physics="an open fire door stops no fire"),
    ),
    evidence=("what releases the holder",),
    why="The magnet on a wall switch holds the door open through the whole fire.",
    cure="Break the feed of the holder by smoke detection.",
    limits="Whether the detectors stand where they must is judged on site. " + CAUTION,
    life_safety=True,
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    opening = context.opening(item)
    if opening.smoke_control is UNKNOWN and not is_rated(opening):
        known(opening, "smoke_control", bool)
    if opening.smoke_control is not True and not is_rated(opening):
        yield not_applicable("the opening is neither fire-rated nor for smoke control")
        return
    basis = grounds(context.spec.project, "fire_door/self_closing")
    door = context.door(opening)
    if kind_of(item) == "closer":
        if item.sheet is not None:
            known(item.sheet, "hold_open", bool)
        at = item.sheet.at("hold_open") if item.sheet is not None else item.place.key
        text = f"{item.name} holds the leaf open by itself, and no detection lets it go"
        yield failed(text, item.at("product"), related=(Related(at, "it holds open"),), basis=basis)
        return
    if not door.feeds(item):
        raise door.feed_gap(item)
    uses = fire_contacts_of(item, door)
    if uses:
        yield ok(f"fire detection breaks the feed of {item.name}", uses[0].place, basis=basis)
    elif doubts := [*uncounted.where_unknown("released_by", "switched_by")(item, context), *_unnamed(item, context)]:
        raise doubts[0]
    else:
        yield failed(f"no fire detection breaks the feed of {item.name}", item.at("fed_from"), **_more(opening, basis))


def _unnamed(item: Item, context: Context) -> Iterator[Undecided]:
    """The devices whose contacts are in the feed of an item, and of which it is not known what they are."""
    items = context.opening(item).items
    for listed in (item.released_by, item.switched_by):
        for word in listed if isinstance(listed, tuple) else ():
            device = items.get(word.partition(".")[0])
            if device is not None and device.product is UNKNOWN:
                yield Undecided("product", device.at("product"), stated=True)


def _more(opening: Opening, basis: tuple[Cited, ...]) -> dict[str, object]:
    rating = known(opening, "fire_rating", str) if opening.smoke_control is not True else "smoke control"
    field = "fire_rating" if opening.smoke_control is not True else "smoke_control"
    return {"related": (Related(opening.at(field), rating),), "basis": basis}
