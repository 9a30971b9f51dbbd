"""The force of the leaf on the keeper against what a strike or bolt lets go."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.circuit.substitutes import other_products
from doorlint.context import Context
from doorlint.mechanics.leaves import is_pressed, pressing
from doorlint.mechanics.sides import leaf_of
from doorlint.outcome import Level, Measure, Practice, Related, Step, Term, Verdict, at_most, not_applicable
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import Item, Product, known

RULE = Rule(
    "fit/preload-above-strike",
    title="Seals and air press the leaf harder than the strike lets go",
    level=Level.ERROR,
    over=Item,
    applies=lambda item: isinstance(item.sheet, Product) and item.sheet.preload is not None,
    scope="strikes and bolts whose preload is stated",
    basis=(
        Practice(
            "a strike lets go up to the preload that its sheet states; half of the force of the air stands at the edge",
            physics="balance of moments about the hinges; friction of the latch grows with the force on it",
        ),
    ),
    evidence=("force at the latch edge", "preload"),
    why="The strike buzzes and the door stays shut until somebody leans on it: on windy days, with a new seal.",
    cure="Use a strike made for preload, softer seals, latch retraction, or relieve the pressure.",
    limits="Warp of the leaf and a latch that is set too tight come on top; leave 1 to 3 mm of play at the latch.",
)


def check(strike: Item, context: Context) -> Iterator[Verdict]:
    opening = context.opening(strike)
    if not is_pressed(opening):
        yield not_applicable("nothing is said to press against the leaf: no seals, no pressure difference")
        return
    assert isinstance(strike.sheet, Product)
    preload, width = known(strike.sheet, "preload", Quantity), known(leaf_of(opening), "width", Quantity)
    against = pressing(opening)
    edge = Measure(against.moment_nm / width.value, "force")
    step = Step("force at the latch edge", "moment / width", edge, (Term("width", width.text),))
    yield at_most(
        f"force of the leaf on {strike.name}",
        edge,
        Measure(preload.value, "force"),
        strike.at("product"),
        limit_name="preload",
        related=(Related(strike.sheet.at("preload"), f"lets go up to {preload.text}"),),
        working=(against.step, step),
        repairs=tuple(other_products(strike, context.spec)) if edge.value > preload.value else (),
    )
