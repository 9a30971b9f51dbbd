"""The holding force of a magnet at its lever arm against somebody who pulls at the edge of the leaf."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from types import MappingProxyType

from doorlint.context import Context
from doorlint.events.door import MAGNETS, kind_of
from doorlint.mechanics.forces import edge_force_n
from doorlint.mechanics.sides import leaf_of
from doorlint.outcome import Level, Measure, Practice, Related, Step, Term, Verdict, at_least, not_applicable
from doorlint.quantity import Quantity, parse_quantity
from doorlint.rulebook import Rule
from doorlint.spec import Item, Product, known

NEEDED: Mapping[str, Quantity] = MappingProxyType(
    {
        "low": parse_quantity("500 lbf", "force"),
        "medium": parse_quantity("1000 lbf", "force"),
        "high": parse_quantity("1500 lbf", "force"),
    }
)
"""Force at the edge of the leaf that a lock withstands, by the security asked for; the steps of UL 1034."""

RULE = Rule(
    "fit/magnet-gives-way-at-edge",
    title="The magnet gives way to less force at the edge than is asked for",
    level=Level.WARNING,
    over=Item,
    applies=lambda item: kind_of(item) in MAGNETS and item.hinge_distance is not None,
    scope="magnets whose distance from the hinges is stated",
    basis=(
        Practice(
            "500, 1000 and 1500 lbf at the edge of the leaf for low, medium and high security: the static steps of "
            "UL 1034",
            physics="law of the lever: force times distance from the hinges",
        ),
    ),
    evidence=("holding force", "distance from the hinges", "force at the edge", "force asked for"),
    why="A magnet in the middle of the head holds half of what its sheet says against a pull at the edge.",
    cure="Mount it at the latch edge, add a second magnet, or use a stronger one.",
    limits="A rigid leaf pulled at the height of the magnet; at the bottom a soft leaf bends and peels it off.",
)


def check(magnet: Item, context: Context) -> Iterator[Verdict]:
    opening = context.opening(magnet)
    security = known(opening, "security", str)
    if security not in NEEDED:
        yield not_applicable("nothing to protect")
        return
    assert isinstance(magnet.sheet, Product)
    leaf = leaf_of(opening)
    force, arm = known(magnet.sheet, "holding_force", Quantity), known(magnet, "hinge_distance", Quantity)
    width = known(leaf, "width", Quantity)
    edge = Measure(edge_force_n(force.value, arm.value, width.value), "force")
    terms = (
        Term("holding force", force.text, magnet.sheet.at("holding_force")),
        Term("distance", arm.text, magnet.at("hinge_distance")),
        Term("width", width.text, leaf.at("width")),
    )
    yield at_least(
        f"force at the edge that {magnet.name} withstands",
        edge,
        Measure(NEEDED[security].value, "force"),
        magnet.at("hinge_distance"),
        limit_name=f"{NEEDED[security].text} for {security} security,",
        related=(Related(opening.at("security"), f"{security} security"),),
        working=(Step("force at the edge", "holding force x distance / width", edge, terms),),
    )
