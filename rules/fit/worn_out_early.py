"""The operations that a device was tested for against those of ten years."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.circuit.substitutes import other_products
from doorlint.context import Context
from doorlint.outcome import Level, Practice, Related, Step, Term, Verdict, failed, ok
from doorlint.rulebook import Rule
from doorlint.spec import Item, Product, known

YEARS = 10
"""How long hardware is to last. Common practice, no source."""
DAYS = 365

RULE = Rule(
    "fit/worn-out-early",
    title="The device is used more often than it was tested for",
    level=Level.WARNING,
    over=Item,
    applies=lambda item: (
        isinstance(item.sheet, Product) and item.sheet.cycles is not None and item.operations_per_day is not None
    ),
    scope="devices that state their cycles and how often they work",
    basis=(Practice("a device is tested for as many operations as it makes in ten years"),),
    evidence=("operations per day", "cycles of the test", "years"),
    why="A light strike on a busy door wears out within the guarantee of the building.",
    cure="Use a device of a higher grade.",
    limits="A cycle test is clean, dry and without load; seals and wind wear a device faster.",
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    assert isinstance(item.sheet, Product)
    cycles, daily = known(item.sheet, "cycles", int), known(item, "operations_per_day", int)
    need, at = daily * DAYS * YEARS, item.at("operations_per_day")
    terms = (
        Term("operations per day", str(daily), at),
        Term("cycles", str(cycles), item.sheet.at("cycles")),
    )
    step = Step("operations in ten years", f"operations per day x {DAYS} x {YEARS}", str(need), terms)
    related = (Related(item.sheet.at("cycles"), f"tested for {cycles}"),)
    text = f"{item.name} makes {need} operations in ten years and was tested for {cycles}"
    if cycles >= need:
        yield ok(text, at, related=related, working=(step,))
    else:
        repairs = tuple(other_products(item, context.spec))
        yield failed(text, at, related=related, working=(step,), repairs=repairs)
