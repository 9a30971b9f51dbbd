"""A lock that locks again at a moment that does not suit its kind."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.events.door import BOLTS, STRIKE, kind_of
from doorlint.outcome import Change, Level, Practice, Repair, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.model import Item

WORDS = {"on_open": "when the leaf opens", "on_close": "when the leaf is closed", "timer": "when its time is over"}

RULE = Rule(
    "inputs/relocks-at-wrong-moment",
    title="The lock locks again at the wrong moment for its kind",
    level=Level.WARNING,
    over=Item,
    applies=lambda item: item.relock is not None,
    scope="locks whose relock is stated",
    basis=(
        Practice(
            "a strike relocks on opening, a bolt on closing",
            physics="a bolt thrown with the leaf open blocks it; a released strike lets the next person in",
        ),
    ),
    why="The bolt comes out while the leaf stands open and hits the frame; the strike stays released "
    "behind the last person.",
    cure="Relock a strike when the leaf opens, a bolt when it is closed.",
    limits="Magnets have a rule of their own; locks of other kinds are not judged.",
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    moment, at = known(item, "relock", str), item.at("relock")
    kind = kind_of(item)
    suits = "on_open" if kind == STRIKE else "on_close" if kind in BOLTS else ""
    if not suits:
        yield not_applicable(f"{item.name} may lock again at any moment")
    elif moment == suits:
        yield ok(f"{item.name} locks again {WORDS[moment]}", at)
    else:
        text = f"{item.name} locks again {WORDS[moment]}; its kind locks again {WORDS[suits]}"
        yield failed(text, at, repairs=(Repair(f"lock again {WORDS[suits]}", (Change(at, suits),)),))
