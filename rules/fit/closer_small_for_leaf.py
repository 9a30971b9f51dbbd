"""The size of a closer against width and mass of its leaf."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint.context import Context
from doorlint.events.door import kind_of
from doorlint.mechanics.forces import CLOSER_SIZES, closer_size_for
from doorlint.mechanics.sides import leaf_of
from doorlint.outcome import Cited, Level, Measure, Related, Step, Term, Verdict, at_most
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import Item, Product, Undecided, known

RULE = Rule(
    "fit/closer-small-for-leaf",
    title="The closer is too small for the leaf",
    level=Level.WARNING,
    over=Item,
    applies=lambda item: (
        kind_of(item) == "closer" and isinstance(item.sheet, Product) and item.sheet.closer_size is not None
    ),
    scope="closers whose size is stated",
    basis=(Cited("EN 1154", "1996 with A1:2002", "table 1", "largest leaf of each size"),),
    evidence=("size", "width and mass of the leaf", "largest width and mass"),
    why="A wide or heavy leaf swings on, or stops before the latch, and the lock locks nothing.",
    cure="Use the size that covers both width and mass.",
    limits="Wind, height and an unusual fixing may ask for one size more. Mass is judged where it is stated.",
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    assert isinstance(item.sheet, Product)
    size, at = known(item.sheet, "closer_size", int), item.sheet.at("closer_size")
    if size not in CLOSER_SIZES:
        raise Undecided(f"closer_size as 1 to 7 (not {size})", at, stated=False)
    leaf, row = leaf_of(context.opening(item)), CLOSER_SIZES[size]
    mass = leaf.mass.value if isinstance(leaf.mass, Quantity) else None
    takes = closer_size_for(known(leaf, "width", Quantity).value, mass)
    which = f"the leaf takes size {takes}" if takes is not None else "the leaf is beyond size 7"
    related = (Related(leaf.place.key, which), Related(at, f"the closer is of size {size}"))
    fields = [("width", "length", row.width_m), ("mass", "mass", Fraction(row.mass_kg))]
    for field, dimension, largest in fields:
        if field == "mass" and leaf.mass is None:
            continue
        value = known(leaf, field, Quantity)
        measured = Measure(value.value, dimension)
        terms = (Term(field, value.text, leaf.at(field)), Term("size", str(size), at))
        yield at_most(
            f"{field} of the leaf that {item.name} closes",
            measured,
            Measure(largest, dimension),
            item.at("product"),
            limit_name=f"largest {field} of size {size},",
            related=related,
            working=(Step(field, "against the table", measured, terms),),
        )
