"""The latch of a fire door stands out less than the label asks for."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.events.door import LEVER_LOCKS, MECHANICAL, kind_of
from doorlint.outcome import Cited, Level, Measure, Practice, Step, Term, Verdict, at_least, not_applicable
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.model import Item, Leaf

from .doors import CAUTION, is_rated, unrated

RULE = Rule(
    "fire/latch-throw-short",
    title="A latch stands out less than the label of the fire door asks for",
    level=Level.ERROR,
    over=Item,
    applies=lambda item: kind_of(item) in LEVER_LOCKS | MECHANICAL,
    scope="locks and exit devices with a latch",
    basis=(
        Cited("NFPA 80", "2010 to 2022", "latching of swinging fire doors", from_memory=True),
        Practice("the throw of the latch is at least the one on the label", physics="a hot leaf warps away from it"),
    ),
    evidence=("throw", "throw on the label"),
    why="The leaf warps in the heat, and a short latch slips out of its strike.",
    cure="Take a lock with the throw that the label states.",
    limits="How far the latch engages its strike is measured on site. " + CAUTION,
    life_safety=True,
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    opening = context.opening(item)
    leaf = opening.leaf if isinstance(opening.leaf, Leaf) else None
    if unrated(opening) or leaf is None or leaf.label_latch_throw is None:
        yield not_applicable("the label of the leaf asks for no throw that the spec states")
        return
    if not is_rated(opening):
        yield not_applicable("the opening is not fire-rated")
        return
    assert item.sheet is not None
    needed, has = known(leaf, "label_latch_throw", Quantity), known(item.sheet, "latch_throw", Quantity)
    terms = (
        Term("latch_throw", has.text, item.sheet.at("latch_throw")),
        Term("label_latch_throw", needed.text, leaf.at("label_latch_throw")),
    )
    step = Step("throw", "as stated", Measure(has.value, "length"), terms)
    what, at = f"throw of {item.name}", item.at("product")
    yield at_least(
        what,
        Measure(has.value, "length"),
        Measure(needed.value, "length"),
        at,
        limit_name="throw on the label",
        working=(step,),
    )
