"""The enclosure of a controller that can be opened unnoticed."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.events.door import kind_of
from doorlint.outcome import Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.model import Item

from .doors import is_high

RULE = Rule(
    "tamper/enclosure-can-be-opened",
    title="The enclosure of the controller can be opened unnoticed",
    level=Level.WARNING,
    over=Item,
    applies=lambda item: kind_of(item) == "door_controller",
    scope="door controllers",
    basis=(Practice("the controller of an opening of high security is in a locked enclosure with a tamper switch"),),
    why="Who opens the box bridges the lock relay, and the log shows nothing.",
    cure="Use a locked enclosure with a tamper switch that reports.",
    limits="Only controllers of openings of high security are judged.",
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    if not is_high(context.opening(item)):
        yield not_applicable("the opening is not of high security")
        return
    sheet = item.sheet
    assert sheet is not None
    word, at = known(sheet, "enclosure", str), sheet.at("enclosure")
    related = (Related(item.place.key, f"{item.name} of {item.opening}"),)
    if word == "locked_with_tamper":
        yield ok(f"{item.name} is locked, and opening it is reported", at, related=related)
    else:
        says = "opens without a key" if word == "open" else "is locked, but opening it is not reported"
        yield failed(f"{item.name} of {item.opening} {says}", at, related=related)
