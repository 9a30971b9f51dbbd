"""A pair of leaves of which one is locked and the other is not."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.context import Context
from doorlint.outcome import Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import Leaf, Opening, Undecided

RULE = Rule(
    "fit/leaf-held-by-nothing",
    title="One leaf of the pair is locked and the other is held by nothing",
    level=Level.ERROR,
    over=Opening,
    applies=lambda opening: isinstance(opening.leaf, Leaf) and opening.leaf.count == 2,
    scope="pairs of leaves",
    basis=(
        Practice(
            "each leaf of a locked pair has its own lock, magnet, bolts or exit device",
            physics="a leaf opens where nothing holds it",
        ),
    ),
    evidence=("leaves", "what locks each"),
    why="One magnet on a pair holds one leaf; the other is pushed open beside it.",
    cure="Fit a magnet or lock to each leaf, or bolts to the inactive one, and list them with their leaf.",
    limits="A lock of the active leaf that closes into the inactive one holds that leaf only if bolts hold it.",
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    leaves = context.door(opening).leaves
    locked = [leaf for leaf in leaves if leaf.locks]
    named = {leaf.name for leaf in leaves}
    if not locked:
        yield not_applicable("nothing electric locks the pair")
        return
    lock = locked[0].locks[0]
    if "single" in named:
        raise Undecided("leaf", lock.at("leaf"), stated=lock.leaf is not None)
    if {"active", "inactive"} <= named:
        yield ok("each leaf has something that holds it", opening.place.key)
        return
    if gaps := uncounted.together(uncounted.devices, uncounted.where_unknown("items.leaf"))(opening, context):
        raise gaps[0]
    other = "inactive" if locked[0].name == "active" else "active"
    related = (Related(lock.place.key, f"{lock.name} locks the {locked[0].name} leaf"),)
    text = f"{lock.name} locks the {locked[0].name} leaf, and nothing is listed that holds the {other} one"
    yield failed(text, opening.place.key, related=related)
