"""An exit device that somebody can hold retracted by hand on a leaf under access control."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.events.door import LOCK_KINDS, kind_of
from doorlint.outcome import Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import Item, Product, known

from .latches import leaf_with

RULE = Rule(
    "fit/dogging-on-locked-leaf",
    title="A tool holds the latch back on a leaf under access control",
    level=Level.WARNING,
    over=Item,
    applies=lambda item: isinstance(item.sheet, Product) and item.sheet.dogging is not None,
    scope="exit devices whose dogging is stated",
    basis=(
        Practice(
            "one thing controls the outside of a leaf: an exit device under access control has no mechanical dogging",
            physics="a latch that is held back locks nothing",
        ),
    ),
    evidence=("dogging", "electric lock on the leaf"),
    why="Somebody dogs the bar at a delivery; the door stands unlocked all night, and the controller shows it locked.",
    cure="Order the device without dogging, or with cylinder dogging that is monitored.",
    limits="On fire doors mechanical dogging is not permitted at all, which is a rule of its own.",
)


def check(device: Item, context: Context) -> Iterator[Verdict]:
    leaf = leaf_with(device, context)
    electric = [one for one in leaf.locks if kind_of(one) in LOCK_KINDS] if leaf is not None else []
    if not electric:
        yield not_applicable("nothing electric locks the leaf")
        return
    assert isinstance(device.sheet, Product)
    related = (Related(electric[0].place.key, "what the access control works"),)
    if known(device.sheet, "dogging", str) == "mechanical":
        text = f"{device.name} can be dogged by hand, past {electric[0].name}"
        yield failed(text, device.at("product"), related=related)
    else:
        yield ok(f"{device.name} cannot be dogged by hand", device.at("product"), related=related)
