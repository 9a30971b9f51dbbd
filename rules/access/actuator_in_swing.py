"""An actuator that stands where the leaf swings."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.events.door import kind_of
from doorlint.mechanics.sides import leaf_of, swings_into
from doorlint.outcome import Level, Measure, Practice, Related, Step, Term, Verdict, at_least, not_applicable
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import Item, known

from .operators import operators

RULE = Rule(
    "access/actuator-in-swing",
    title="The actuator stands where the leaf swings",
    level=Level.WARNING,
    over=Item,
    applies=lambda item: kind_of(item) == "actuator" and item.distance is not None and item.side != "remote",
    scope="actuators whose distance from the door is stated",
    basis=(
        Practice(
            "people who work an actuator stand clear of the leaf that it opens",
            physics="the edge of a leaf sweeps a circle of its own width about the hinges",
        ),
    ),
    evidence=("distance", "width of the leaf"),
    why="The leaf hits the wheelchair of the person who pressed the plate.",
    cure="Put it beyond the swing, where it can be seen from the approach.",
    limits="The distance is taken from the door in plan; one on the hinge side beyond the leaf may be nearer.",
)


def check(plate: Item, context: Context) -> Iterator[Verdict]:
    opening = context.opening(plate)
    if not any(kind_of(one) == "swing_operator" for one in operators(plate, context)):
        yield not_applicable("no operator swings a leaf here")
        return
    side = known(plate, "side", str)
    if side not in ("unsecured", "secured") or not swings_into(opening, side):
        yield not_applicable(f"the leaf does not swing to the side on which {plate.name} is")
        return
    distance, width = known(plate, "distance", Quantity), known(leaf_of(opening), "width", Quantity)
    reach = Measure(width.value, "length")
    step = Step("reach of the leaf", "its width", reach, (Term("width", width.text, leaf_of(opening).at("width")),))
    yield at_least(
        f"distance of {plate.name} from the door",
        Measure(distance.value, "length"),
        reach,
        plate.at("distance"),
        limit_name="reach of the leaf",
        related=(Related(leaf_of(opening).at("width"), f"the leaf is {width.text} wide"),),
        working=(step,),
    )
