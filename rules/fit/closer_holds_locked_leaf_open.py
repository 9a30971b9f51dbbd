"""A closer that can hold a leaf under access control open."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.circuit.substitutes import other_products
from doorlint.context import Context
from doorlint.events.door import kind_of
from doorlint.outcome import Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import Item, Product, known

RULE = Rule(
    "fit/closer-holds-locked-leaf-open",
    title="The closer can hold a leaf under access control open",
    level=Level.WARNING,
    over=Item,
    applies=lambda item: (
        kind_of(item) == "closer" and isinstance(item.sheet, Product) and item.sheet.hold_open is not None
    ),
    scope="closers that say whether they hold open",
    basis=(Practice("a leaf under access control has a closer without mechanical hold-open"),),
    evidence=("hold-open", "electric lock"),
    why="The door is pushed past ninety degrees and stays there all day.",
    cure="Use the arm without hold-open; hold open electrically where it is needed.",
    limits="On fire doors a mechanical hold-open is a rule of its own.",
)


def check(closer: Item, context: Context) -> Iterator[Verdict]:
    opening = context.opening(closer)
    locks = context.door(opening).locks
    if not locks:
        yield not_applicable("nothing electric locks the opening")
        return
    assert isinstance(closer.sheet, Product)
    related = (Related(locks[0].place.key, "locks the leaf"),)
    if known(closer.sheet, "hold_open", bool):
        text = f"{closer.name} can hold the leaf open that {locks[0].name} locks"
        repairs = tuple(other_products(closer, context.spec))
        yield failed(text, closer.at("product"), related=related, repairs=repairs)
    else:
        yield ok(f"{closer.name} does not hold the leaf open", closer.at("product"), related=related)
