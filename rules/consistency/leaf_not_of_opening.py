"""A device on a leaf that the opening does not have."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.model import Item, Leaf

RULE = Rule(
    "consistency/leaf-not-of-opening",
    title="A device is on a leaf that the opening does not have",
    level=Level.WARNING,
    over=Item,
    applies=lambda item: item.leaf is not None,
    scope="devices whose leaf is stated",
    basis=(Practice("schedule, set, sequence and data say the same; where they differ, the site chooses"),),
    why="A lock for the inactive leaf of a single door is bought and comes back.",
    cure="Correct the leaf of the device or the number of leaves.",
    limits="Openings of more than two leaves are not judged.",
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    leaf = context.opening(item).leaf
    if leaf is None:
        yield not_applicable("the leaves are not described")
        return
    count = known(known(context.opening(item), "leaf", Leaf), "count", int)
    word, at = known(item, "leaf", str), item.at("leaf")
    fits = word == "single" if count == 1 else word in ("active", "inactive")
    related = (Related(known(context.opening(item), "leaf", Leaf).at("count"), f"count {count}"),)
    if fits:
        yield ok(f"{item.name} is on the {word} leaf", at, related=related)
    else:
        yield failed(f"{item.name} is on the {word} leaf, and the opening has {count}", at, related=related)
