"""The conductors of a power transfer against the devices behind it."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.circuit.transfers import conductors_needed, conductors_there, larger_transfers
from doorlint.context import Context
from doorlint.outcome import Level, Practice, Related, Step, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import Item

RULE = Rule(
    "cable/transfer-too-few-conductors",
    title="The power transfer has fewer conductors than its devices need",
    level=Level.ERROR,
    over=Item,
    applies=lambda item: item.sheet is not None and item.sheet.kind == "power_transfer",
    scope="power transfers",
    basis=(
        Practice(
            "each conductor that a device on the leaf needs has one in the power transfer",
            physics="one conductor carries one current",
        ),
    ),
    evidence=("conductors needed", "conductors of the transfer"),
    why="Found when the door is hung: the lock works and its monitor, or the request to exit, has no wire.",
    cure="A transfer with more conductors, or a second one.",
    limits="Counts what the data sheets state as `conductors`, with those joined in parallel and less shared returns.",
    incomplete=uncounted.together(uncounted.devices, uncounted.where_unknown("items.through_transfer")),
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    needed, terms, devices = conductors_needed(item, context.opening(item))
    if not devices:
        yield not_applicable(f"no device of the opening is led through {item.name}")
        return
    there = conductors_there(item)
    formula = " + ".join(f"{term.name} {term.text}" for term in terms)
    step = Step("conductors needed", formula, str(needed), terms)
    related = tuple(
        Related(device.at("through_transfer"), f"{device.name} is led through it") for device in devices[:3]
    )
    if needed <= there:
        yield ok(f"{item.name} has {there} conductors, {needed} are needed", item.at("product"), working=(step,))
        return
    yield failed(
        f"{item.name} has {there} conductors, and {needed} are needed: {formula}",
        item.at("product"),
        related=related,
        working=(step,),
        repairs=tuple(larger_transfers(item, needed, context.spec)),
    )
