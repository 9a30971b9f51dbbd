"""The hand that a device is made for against the hand of the leaf."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.mechanics.sides import hand_code, leaf_of, swings_into
from doorlint.outcome import Change, Level, Practice, Related, Repair, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import Item, known

RULE = Rule(
    "fit/hand-mismatch",
    title="The device is made for the other hand than the leaf",
    level=Level.ERROR,
    over=Item,
    applies=lambda item: item.hand is not None,
    scope="devices whose hand is stated",
    basis=(
        Practice(
            "hand is judged from the unsecured side: hinges left or right, reverse where the leaf swings to the viewer",
            physics="a bevelled latch closes one way only",
        ),
    ),
    evidence=("hand of the device", "hinges", "swing"),
    why="The lock is upside down or its bevel is the wrong way; it goes back, and the door waits for weeks.",
    cure="Order the hand of the opening, or a device that can be turned.",
    limits="Some locks change hand on site: say `reversible`. Other countries judge hand from the other side.",
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    opening, at = context.opening(item), item.at("hand")
    hand = known(item, "hand", str)
    if hand == "reversible":
        yield ok(f"{item.name} fits either hand", at)
        return
    leaf = leaf_of(opening)
    if known(leaf, "swing", str) == "both":
        yield not_applicable("the leaf swings both ways and has no hand")
        return
    needed = hand_code(known(leaf, "hand", str), swings_into(opening, "unsecured"))
    related = (Related(leaf.at("hand"), f"hinges {leaf.hand}"), Related(leaf.at("swing"), f"swings {leaf.swing}"))
    if hand == needed:
        yield ok(f"{item.name} and the leaf are {needed}", at, related=related)
    else:
        repair = Repair(f"order {item.name} as {needed}", (Change(at, needed),))
        yield failed(
            f"{item.name} is made for {hand}, and the leaf is {needed}", at, related=related, repairs=(repair,)
        )
