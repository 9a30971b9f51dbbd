"""An electrical device in a place where gas or dust can explode."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.circuit.substitutes import other_products
from doorlint.context import Context
from doorlint.outcome import Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import Item, Product, known

from .ingress_below_need import MECHANICAL

RULE = Rule(
    "exposure/ordinary-in-explosive-atmosphere",
    title="An ordinary device stands where gas or dust can explode",
    level=Level.ERROR,
    over=Item,
    applies=lambda item: (
        item.side != "remote" and isinstance(item.sheet, Product) and item.sheet.kind not in MECHANICAL
    ),
    scope="electrical devices at the opening",
    basis=(
        Practice(
            "where the place is classified for gas or dust, every electrical device at it is certified for that",
            physics="the spark of a contact or coil ignites a mixture within its limits",
        ),
    ),
    evidence=("atmosphere", "certification"),
    why="A strike draws a spark every time that its contact opens.",
    cure="Use certified devices, intrinsically safe circuits, or a lock that is worked from outside the place.",
    limits="Zone, group and temperature class are not judged: that is for the classification of the place and for who "
    "answers for it. Both sides of the opening are taken as classified.",
    life_safety=True,
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    opening = context.opening(item)
    if opening.explosive_atmosphere in (None, "none"):
        yield not_applicable("the place is not said to be classified for explosive atmospheres")
        return
    air, at = known(opening, "explosive_atmosphere", str), item.at("product")
    assert isinstance(item.sheet, Product)
    related = (Related(opening.at("explosive_atmosphere"), f"{air} in the air"),)
    if known(item.sheet, "explosion_protected", bool):
        text = f"{item.name} is certified; zone, group and temperature class are for the classification of the place"
        yield ok(text, at, related=related)
    else:
        text = f"{item.name} stands where {air} can explode and is not certified for it"
        yield failed(text, at, related=related, repairs=tuple(other_products(item, context.spec)))
