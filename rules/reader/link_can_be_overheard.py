"""A link from the reader on which numbers can be overheard and played back."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.events.door import kind_of
from doorlint.outcome import Cited, Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.model import Item

from ..failure.doors import resists

RULE = Rule(
    "reader/link-can-be-overheard",
    title="What the reader sends can be overheard and played back",
    level=Level.WARNING,
    over=Item,
    applies=lambda item: item.side == "unsecured" and kind_of(item) in ("reader", "keypad"),
    scope="readers and keypads on the unsecured side",
    basis=(
        Cited("IEC 60839-11-5", "2020", "secure channel", from_memory=True),
        Practice("pulse interfaces send the number in the clear"),
    ),
    why="Two clips on the wires behind the reader record every number, and send it again at night.",
    cure="Use a link on which both ends prove themselves and encrypt, such as RS-485 with a secure channel.",
    limits="Whether the secure channel is switched on is a matter of commissioning.",
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    opening, sheet = context.opening(item), item.sheet
    assert sheet is not None
    if not resists(opening):
        yield not_applicable(f"the opening need not resist (security {opening.security})")
        return
    related = (Related(item.place.key, f"{item.name} of {item.opening}"),)
    if known(sheet, "interface", str) == "pulse":
        text = f"{item.name} of {item.opening} sends numbers in the clear, as pulses"
        yield failed(text, sheet.at("interface"), related=related)
    elif known(sheet, "authenticated_link", bool):
        yield ok(f"{item.name} and its controller prove themselves", sheet.at("authenticated_link"), related=related)
    else:
        text = f"the link of {item.name} of {item.opening} is neither proven nor encrypted"
        yield failed(text, sheet.at("authenticated_link"), related=related)
