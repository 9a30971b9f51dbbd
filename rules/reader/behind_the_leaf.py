"""A reader on the hinge side of a leaf that opens towards the user."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Level, Practice, Related, Verdict, failed, ok
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.model import Item

from ..tamper.doors import leaf_of, swings_outwards

RULE = Rule(
    "reader/behind-the-leaf",
    title="The open leaf stands between the reader and its user",
    level=Level.NOTE,
    over=Item,
    applies=lambda item: item.side == "unsecured" and item.beside is not None,
    scope="readers outside whose position beside the leaf is stated",
    basis=(Practice("a reader stands beside the latch edge where the leaf swings towards its user"),),
    why="The door opens into the person at the reader, who has to walk around it.",
    cure="Put the reader beside the latch edge, 0.3 to 0.6 m from it.",
    limits="Judged only where the spec states beside which edge the reader stands.",
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    opening, at = context.opening(item), item.at("beside")
    if known(item, "beside", str) == "latch":
        yield ok(f"{item.name} is beside the latch edge", at)
    elif swings_outwards(opening):
        related = (Related(leaf_of(opening).at("swing"), "the leaf swings towards the user"),)
        yield failed(f"{item.name} is beside the hinges, behind the open leaf", at, related=related)
    else:
        yield ok(f"the leaf swings away from who uses {item.name}", at)
