"""A magnet whose body or armature can be unscrewed from outside."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.events.door import MAGNETS, kind_of
from doorlint.outcome import Level, Practice, Verdict, failed, ok
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.model import Item

RULE = Rule(
    "tamper/magnet-outside",
    title="The magnet can be unscrewed from outside",
    level=Level.ERROR,
    over=Item,
    applies=lambda item: kind_of(item) in MAGNETS,
    scope="electromagnetic and shear locks",
    basis=(
        Practice(
            "a magnet and its armature are fixed from the secured side",
            physics="what is not fixed to the frame holds nothing",
        ),
    ),
    why="Four screws, and the magnet holds nothing any more.",
    cure="Mount the magnet on the secured side, with through bolts for its armature.",
    limits="Screws of the armature on the outer face of the leaf are not in the spec.",
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    if known(item, "side", str) == "unsecured":
        yield failed(f"{item.name} is mounted on the unsecured side", item.at("side"))
    else:
        yield ok(f"{item.name} is mounted on the secured side or in the frame", item.at("side"))
