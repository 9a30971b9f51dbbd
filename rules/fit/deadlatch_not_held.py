"""A deadlatch that drops into the pocket of the strike."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.circuit.substitutes import other_products
from doorlint.context import Context
from doorlint.outcome import Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import UNKNOWN, Item, Product, known

from .latches import leaf_with

RULE = Rule(
    "fit/deadlatch-not-held",
    title="The deadlatch drops into the strike instead of being held in",
    level=Level.ERROR,
    over=Item,
    applies=lambda item: isinstance(item.sheet, Product) and item.sheet.deadlatch in (True, UNKNOWN),
    scope="locks with a deadlatch",
    basis=(
        Practice(
            "lip or keeper of the strike keeps the deadlatch pressed in while the leaf is closed",
            physics="a deadlatch blocks the latchbolt only while it is pressed in",
        ),
    ),
    evidence=("deadlatch", "strike"),
    why="The door looks locked and a plastic card pushes the latch back in two seconds.",
    cure="Use a strike whose lip holds the deadlatch of this lock, or shim it.",
    limits="The fit on site, gap and wear decide; close the door and try the latch.",
)


def check(lock: Item, context: Context) -> Iterator[Verdict]:
    leaf = leaf_with(lock, context)
    if leaf is None or not leaf.strikes:
        yield not_applicable("no electric strike stands on the leaf")
        return
    assert isinstance(lock.sheet, Product)
    known(lock.sheet, "deadlatch", bool)
    for strike in leaf.strikes:
        assert isinstance(strike.sheet, Product)
        held = known(strike.sheet, "holds_deadlatch", bool)
        related = (Related(lock.at("product"), f"{lock.name} has a deadlatch"),)
        if held:
            yield ok(f"{strike.name} holds the deadlatch of {lock.name} in", strike.at("product"), related=related)
        else:
            text = f"{strike.name} lets the deadlatch of {lock.name} drop in: its latch can be pushed back"
            repairs = tuple(other_products(strike, context.spec))
            yield failed(text, strike.at("product"), related=related, repairs=repairs)
