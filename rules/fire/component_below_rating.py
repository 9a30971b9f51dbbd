"""A component that is listed for a shorter fire than the opening, or for none."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.events.door import LOCK_KINDS, MECHANICAL, kind_of
from doorlint.outcome import Cited, Level, Measure, Practice, Step, Term, Verdict, at_least, not_applicable
from doorlint.rulebook import Rule
from doorlint.spec.fields import UNKNOWN, Undecided
from doorlint.spec.model import Item

from .doors import CAUTION, is_rated, rating

PARTS = LOCK_KINDS | MECHANICAL | {"closer", "hold_open_magnet", "power_transfer", "swing_operator"}

RULE = Rule(
    "fire/component-below-rating",
    title="A component is not listed for the rating of its opening",
    level=Level.ERROR,
    over=Item,
    applies=lambda item: kind_of(item) in PARTS,
    scope="locks, latches, exit devices, closers, holders, transfers and operators",
    basis=(
        Cited("NFPA 80", "2010 to 2022", "listed components of fire door assemblies", from_memory=True),
        Practice("each component is listed for at least the rating of the assembly"),
    ),
    evidence=("fire rating of the component", "fire rating of the opening"),
    why="One part without the listing voids the label of the whole door.",
    cure="Take a component that is listed for the rating.",
    limits="Size, material and make of the door may narrow a listing further. " + CAUTION,
    life_safety=True,
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    opening = context.opening(item)
    if not is_rated(opening):
        yield not_applicable("the opening is not fire-rated")
        return
    sheet = item.sheet
    if sheet is None:
        raise Undecided("product", item.at("product"), stated=item.product is UNKNOWN)
    needed, has = Measure(rating(opening), "time"), Measure(rating(sheet), "time")
    step = Step(
        f"rating of {item.name}",
        "as listed",
        has,
        (Term("fire_rating", str(sheet.fire_rating), sheet.at("fire_rating")),),
        f"{opening.id} is rated {opening.fire_rating}",
    )
    what = f"fire rating of {item.name}"
    yield at_least(what, has, needed, item.at("product"), limit_name="rating of the opening", working=(step,))
