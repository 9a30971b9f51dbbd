"""A position switch that a magnet from outside holds closed."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.events.door import kind_of
from doorlint.outcome import Cited, Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.model import Item

from .doors import is_high

RULE = Rule(
    "tamper/position-switch-not-balanced",
    title="A foreign magnet holds the position switch closed",
    level=Level.WARNING,
    over=Item,
    applies=lambda item: kind_of(item) == "door_position_switch",
    scope="door position switches",
    basis=(
        Cited("UL 634", "", "high-security levels 1 and 2", "contacts that resist a foreign magnet", from_memory=True),
        Practice("openings of high security get balanced position switches"),
    ),
    why="A magnet on the frame, the leaf opens, and the controller still reads closed.",
    cure="Use a balanced switch at openings of high security.",
    limits="Only openings of high security are judged.",
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    if not is_high(context.opening(item)):
        yield not_applicable("the opening is not of high security")
        return
    sheet = item.sheet
    assert sheet is not None
    if known(sheet, "balanced", bool):
        yield ok(f"{item.name} notices a foreign magnet", sheet.at("balanced"))
    else:
        related = (Related(item.place.key, f"{item.name} of {item.opening}"),)
        text = f"{item.name} of {item.opening} does not notice a foreign magnet"
        yield failed(text, sheet.at("balanced"), related=related)
