"""Electric hardware in the leaf, and how its wires get there."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Change, Level, Practice, Related, Repair, Verdict, failed, ok
from doorlint.rulebook import Rule
from doorlint.spec import Item, Undecided, known

IN_THE_LEAF = (
    "electrified_mortise_lock",
    "electrified_cylindrical_lock",
    "electrified_exit_trim",
    "latch_retraction_exit_device",
    "delayed_egress_device",
    "touch_bar",
)
"""Kinds of hardware that stand in or on the leaf by their nature."""

RULE = Rule(
    "cable/leaf-without-transfer",
    title="Electric hardware in the leaf has no power transfer",
    level=Level.ERROR,
    over=Item,
    applies=lambda item: (
        item.sheet is not None
        and item.sheet.kind in IN_THE_LEAF
        and any(field is not None for field in (item.fed_from, item.signals, item.through_transfer))
    ),
    scope="wired locks, trims and exit devices in the leaf",
    basis=(
        Practice(
            "wires get from the frame into a leaf that moves through a power transfer, a hinge or loop made for it",
            physics="a leaf turns, and a wire laid across the gap breaks",
        ),
    ),
    evidence=("device in the leaf", "power transfer"),
    why="Found when the door is hung: there is no way to wire the lock, and the door has to be drilled on site.",
    cure="Add a power transfer to the set, with the raceway in the door and the preparation of the frame.",
    limits="Judges kinds that stand in the leaf by their nature; a strike or magnet is taken to stand in the frame.",
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    items = context.opening(item).items
    transfers = [one for one in items.values() if one.sheet is not None and one.sheet.kind == "power_transfer"]
    if item.through_transfer is None and transfers:
        raise Undecided("through_transfer", item.at("through_transfer"), stated=False)
    if item.through_transfer is None:
        if any(one.sheet is None for one in items.values()):
            raise Undecided("through_transfer", item.at("through_transfer"), stated=False)
        yield failed(f"{item.name} stands in the leaf, and the opening has no power transfer", item.at("product"))
        return
    through = known(item, "through_transfer", str)
    place = item.at("through_transfer")
    found = items.get(through)
    if found in transfers:
        yield ok(f"{item.name} is led through {through}", place)
        return
    if found is not None and found.sheet is None:
        raise Undecided("product", found.at("product"), stated=found.product is not None)
    what = (
        f"{through}, which is no power transfer"
        if found is not None
        else f"{through!r}, which is no item of this opening"
    )
    related = (Related(found.at("product"), f"what {through} is"),) if found is not None else ()
    repairs = tuple(Repair(f"lead {item.name} through {one.name}", (Change(place, one.name),)) for one in transfers)
    yield failed(f"{item.name} is led through {what}", place, related=related, repairs=repairs)
