"""The throw of a latch against the depth of the strike's keeper."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.circuit.substitutes import other_products
from doorlint.context import Context
from doorlint.events.door import STRIKE, kind_of
from doorlint.outcome import Level, Measure, Practice, Related, Step, Term, Verdict, at_most, not_applicable
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import Item, Product, known

from .latches import latches_at

RULE = Rule(
    "fit/latch-longer-than-keeper",
    title="The latch is thrown farther than the keeper of the strike is deep",
    level=Level.ERROR,
    over=Item,
    applies=lambda item: (
        kind_of(item) == STRIKE and isinstance(item.sheet, Product) and item.sheet.keeper_depth is not None
    ),
    scope="electric strikes whose keeper depth is stated",
    basis=(
        Practice(
            "a strike takes latches up to the throw that its sheet states",
            physics="a bolt does not go into a pocket that is shallower than it is long",
        ),
    ),
    evidence=("throw", "keeper depth", "margin"),
    why="The latch hits the bottom of the keeper: the door rattles, does not deadlatch, or does not close.",
    cure="Use a strike with a deeper keeper, or a lock with a shorter latch where its label permits.",
    limits="The gap between leaf and frame takes up some of the throw, 3 mm by practice, which is not counted here.",
)


def check(strike: Item, context: Context) -> Iterator[Verdict]:
    assert isinstance(strike.sheet, Product)
    latches = [lock for lock in latches_at(strike, context) if isinstance(lock.sheet, Product)]
    if not latches:
        yield not_applicable("no lock or exit device is listed on the leaf")
    for lock in latches:
        assert isinstance(lock.sheet, Product)
        throw, depth = known(lock.sheet, "latch_throw", Quantity), known(strike.sheet, "keeper_depth", Quantity)
        terms = (
            Term("latch throw", throw.text, lock.sheet.at("latch_throw")),
            Term("keeper depth", depth.text, strike.sheet.at("keeper_depth")),
        )
        long = Measure(throw.value, "length")
        yield at_most(
            f"throw of {lock.name}",
            long,
            Measure(depth.value, "length"),
            strike.at("product"),
            limit_name=f"keeper depth of {strike.name}",
            related=(Related(lock.at("product"), f"thrown {throw.text}"),),
            working=(Step("throw in the keeper", "latch throw against keeper depth", long, terms),),
            repairs=tuple(other_products(strike, context.spec)) if throw.value > depth.value else (),
        )
