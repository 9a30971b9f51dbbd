"""The thickness of the leaf against what a lock fits."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.circuit.substitutes import other_products
from doorlint.context import Context
from doorlint.mechanics.sides import leaf_of
from doorlint.outcome import Level, Measure, Practice, Related, Step, Term, Verdict, at_least, at_most
from doorlint.quantity import Band, Quantity
from doorlint.rulebook import Rule
from doorlint.spec import Item, Product, known

RULE = Rule(
    "fit/leaf-thickness-outside",
    title="The leaf is thinner or thicker than the lock fits",
    level=Level.ERROR,
    over=Item,
    applies=lambda item: isinstance(item.sheet, Product) and item.sheet.leaf_thickness is not None,
    scope="devices that state the thickness of the leaf that they fit",
    basis=(
        Practice(
            "a lock goes into leaves of the thickness that its sheet states",
            physics="case, spindle and screws have the length that they have",
        ),
    ),
    evidence=("thickness", "range"),
    why="The lock stands out of a thin leaf, or its spindle is too short for a thick one; the set goes back.",
    cure="Use the lock or the kit for this thickness.",
    limits="Backset and the stile of narrow leaves are not judged.",
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    assert isinstance(item.sheet, Product)
    leaf, takes = leaf_of(context.opening(item)), known(item.sheet, "leaf_thickness", Band)
    thickness = known(leaf, "thickness", Quantity)
    measured, at = Measure(thickness.value, "length"), item.at("product")
    terms = (
        Term("thickness", thickness.text, leaf.at("thickness")),
        Term("fits", takes.text, item.sheet.at("leaf_thickness")),
    )
    step = Step("thickness", "as stated", measured, terms)
    related = (Related(leaf.at("thickness"), f"the leaf is {thickness.text} thick"),)
    what, thin = f"leaf of {item.name}:", thickness.value < takes.low
    repairs = tuple(other_products(item, context.spec)) if thin or thickness.value > takes.high else ()
    if thin:
        least = Measure(takes.low, "length")
        yield at_least(
            what, measured, least, at, limit_name="thinnest", related=related, working=(step,), repairs=repairs
        )
    else:
        most = Measure(takes.high, "length")
        yield at_most(
            what, measured, most, at, limit_name="thickest", related=related, working=(step,), repairs=repairs
        )
