"""A lock whose outside lever opens the door past the electric strike."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.circuit.substitutes import other_products
from doorlint.context import Context
from doorlint.events.door import EXIT_GROUP, LEVER_LOCKS, MECHANICAL, kind_of
from doorlint.outcome import Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import Item, Product, known

from .latches import leaf_with

RULE = Rule(
    "fit/lock-function-past-release",
    title="The lock's own outside lever opens past the electric release",
    level=Level.ERROR,
    over=Item,
    applies=lambda item: kind_of(item) in MECHANICAL | LEVER_LOCKS,
    scope="locks and exit devices",
    basis=(
        Practice(
            "behind an electric strike the outside lever is rigid at all times: storeroom function, or no outside trim",
            physics="a lever that draws the latch opens the door whether the strike holds the keeper or not",
        ),
    ),
    evidence=("lock function", "electric release"),
    why="Passage function leaves the door open for everybody; classroom and entrance function let one key or one "
    "turn of a button do so for days, with the reader still blinking.",
    cure="Use a lock of storeroom function, or an electrified lock in place of the strike.",
    limits="Where the lock itself is electrified its outside lever is what the electricity frees. An electrified lock "
    "of passage function is judged all the same: its lever is always free.",
)
OPENS = {
    "passage": "its outside lever is always free",
    "privacy": "its outside lever is free until somebody locks it from inside",
    "classroom": "a key leaves its outside lever free",
    "entrance": "a button inside leaves its outside lever free",
}


def check(lock: Item, context: Context) -> Iterator[Verdict]:
    leaf = leaf_with(lock, context)
    electrified = kind_of(lock) in LEVER_LOCKS
    if leaf is None or not (leaf.strikes or electrified):
        yield not_applicable("no electric strike stands on the leaf")
        return
    assert isinstance(lock.sheet, Product)
    if kind_of(lock) in EXIT_GROUP and lock.sheet.function is None:
        yield not_applicable(f"{lock.name} states no function: its outside trim is a device of its own")
        return
    if electrified and not leaf.strikes and lock.sheet.function is None:
        yield not_applicable(f"{lock.name} is the electric release itself")
        return
    release = leaf.strikes[0] if leaf.strikes else lock
    function, at = known(lock.sheet, "function", str), lock.at("product")
    related = (Related(release.place.key, "the electric release"), Related(lock.sheet.at("function"), "its function"))
    bad = function in OPENS if leaf.strikes else function in ("passage", "privacy")
    if not bad:
        yield ok(f"{lock.name} is of {function} function: nothing outside draws its latch", at, related=related)
        return
    text = f"{lock.name} is of {function} function: {OPENS[function]}, whatever {release.name} does"
    yield failed(text, at, related=related, repairs=tuple(other_products(lock, context.spec)))
