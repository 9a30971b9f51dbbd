"""The zone that a request-to-exit sensor watches, against the width of the way and a step before the door."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from doorlint import codes
from doorlint.context import Context
from doorlint.outcome import Cited, Level, Measure, Practice, Related, Step, Term, Verdict, at_least
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import Item, known
from doorlint.spec.model import Leaf

from .lists import CAUTION, kind_of

RULE = Rule(
    "egress/sensor-zone-small",
    title="The sensor does not see everybody who comes to the door",
    level=Level.WARNING,
    over=Item,
    applies=lambda item: kind_of(item) == "request_to_exit_sensor" and (item.zone_width or item.zone_depth) is not None,
    scope="request-to-exit sensors whose zone is stated",
    basis=(
        Cited("EN 16005", "2012", "activation zone in the direction of escape", from_memory=True),
        Practice("the zone is as wide as the leaves together, so that nobody comes in from the side unseen"),
    ),
    evidence=("width of the zone", "depth of the zone", "limit"),
    why="People who come along the wall, crawl, or sit in a wheelchair are not seen; they stop and push.",
    cure="Aim the sensor anew, or add a second one.",
    limits="Recesses, side approach and what stands in the zone are judged on site; the authority may ask for a test. "
    + CAUTION,
    life_safety=True,
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    opening = context.opening(item)
    leaf = known(opening, "leaf", Leaf)
    width, leaves = known(leaf, "width", Quantity), known(leaf, "count", int)
    zone = known(item, "zone_width", Quantity)
    need = Measure(width.value * leaves, "length")
    terms = (Term("width of a leaf", width.text, leaf.at("width")), Term("leaves", str(leaves), leaf.at("count")))
    step = Step("width of the way", "width of a leaf x leaves", need, terms)
    yield at_least(
        "width of the zone",
        Measure(zone.value, "length"),
        need,
        item.at("zone_width"),
        limit_name="width of the leaves",
        related=(Related(leaf.at("width"), "the leaf"),),
        working=(step,),
    )
    depth = known(item, "zone_depth", Quantity)
    limit = codes.published("door/sensor_zone_depth", "EN-16005-2012")
    at = item.at("zone_depth")
    read = Step("depth of the zone", "as stated", Measure(depth.value, "length"), (Term("zone_depth", depth.text, at),))
    verdict = limit.verdict("depth of the zone", depth, at, working=(read,))
    yield replace(verdict, related=())
