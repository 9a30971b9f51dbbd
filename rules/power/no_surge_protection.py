"""Surge protection of copper that leaves the building."""

from __future__ import annotations

from collections.abc import Iterator
from types import MappingProxyType

from doorlint.context import Context
from doorlint.outcome import Cited, Level, Practice, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import Item, known

OUTDOORS = ("gate_lock",)
HAS = MappingProxyType(
    {
        "none": "no surge protection",
        "at_device": "surge protection only at the device",
        "at_entry": "surge protection only where it enters the building",
    }
)

RULE = Rule(
    "power/no-surge-protection",
    title="Copper leaves the building without surge protection at both ends",
    level=Level.WARNING,
    over=Item,
    applies=lambda item: bool(
        item.leaves_building is not None or (item.sheet is not None and item.sheet.kind in OUTDOORS)
    ),
    scope="items whose cable is said to leave the building, and gate locks",
    basis=(
        Practice(
            "copper that leaves the building, or runs more than 30 m in the open, has surge protection at both ends"
        ),
        Cited("NFPA 70", "2023", "article 800 family", "protection of cables entering buildings", from_memory=True),
    ),
    evidence=("whether the cable leaves the building", "where surge protection sits"),
    why="The first storm takes the reader at the gate and the controller in the building with it.",
    cure="Fit surge protective devices with a short bond at both ends, or run fibre.",
    limits="Concerns only items of which the spec says whether their cable leaves the building, and gate locks.",
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    if not context.wiring.by_item.get(item.identity) and item.cable is None:
        yield not_applicable(f"no cable runs to {item.name}")
        return
    if not known(item, "leaves_building", bool):
        yield ok(f"the cable to {item.name} stays in the building", item.at("leaves_building"))
        return
    where = known(item, "surge_protection", str)
    if where == "both_ends":
        yield ok(f"the cable to {item.name} has surge protection at both ends", item.at("surge_protection"))
        return
    yield failed(f"the cable to {item.name} leaves the building and has {HAS[where]}", item.at("surge_protection"))
