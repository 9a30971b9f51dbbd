"""An electric strike at the head of a leaf that also latches at the floor."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import UNKNOWN, Item, Product, known

from .latches import leaf_with

RULE = Rule(
    "fit/bottom-rod-holds",
    title="The strike lets the top latch go, and the bottom rod still holds",
    level=Level.ERROR,
    over=Item,
    applies=lambda item: isinstance(item.sheet, Product) and item.sheet.lock_type in ("vertical_rod", UNKNOWN),
    scope="exit devices and locks with vertical rods",
    basis=(
        Practice(
            "behind a strike at the head, a device with vertical rods has no bottom rod",
            physics="a leaf opens only when every bolt is out of its keeper",
        ),
    ),
    evidence=("bottom rod", "electric strike"),
    why="The top of the leaf comes free, the bottom stays: people shake the door until the rod bends.",
    cure="Use a device without bottom rod that is listed so, or draw both latches back electrically.",
    limits="A leaf without bottom rod may need a listing for fire doors and a stiff leaf.",
)


def check(device: Item, context: Context) -> Iterator[Verdict]:
    leaf = leaf_with(device, context)
    if leaf is None or not leaf.strikes:
        yield not_applicable("no electric strike stands on the leaf")
        return
    assert isinstance(device.sheet, Product)
    known(device.sheet, "lock_type", str)
    related = (Related(leaf.strikes[0].place.key, "lets the top latch go"),)
    if known(device.sheet, "bottom_rod", bool):
        text = f"{leaf.strikes[0].name} lets the top latch of {device.name} go; its bottom rod still holds"
        yield failed(text, device.at("product"), related=related)
    else:
        yield ok(f"{device.name} has no bottom rod", device.at("product"), related=related)
