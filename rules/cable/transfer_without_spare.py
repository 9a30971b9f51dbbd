"""The conductors of a power transfer that are left for later."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.circuit.transfers import SPARE, conductors_needed, conductors_there, larger_transfers
from doorlint.context import Context
from doorlint.outcome import Level, Practice, Related, Step, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import Item

RULE = Rule(
    "cable/transfer-without-spare",
    title="The power transfer leaves fewer than two spare conductors",
    level=Level.WARNING,
    over=Item,
    applies=lambda item: item.sheet is not None and item.sheet.kind == "power_transfer",
    scope="power transfers",
    basis=(
        Practice(
            "two conductors of a power transfer stay free for a broken strand or a later monitor; common practice"
        ),
    ),
    evidence=("conductors needed", "spare conductors", "conductors of the transfer"),
    why="One broken strand in the hinge, or one switch added later, and the transfer has to be replaced.",
    cure="A transfer with more conductors.",
    limits="Spare conductors of fixed cables are not judged: a cable is laid more easily than a leaf is rewired.",
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
    if needed > there:
        yield not_applicable(f"{item.name} has fewer conductors than needed; that is a rule of its own")
        return
    text = f"{item.name} has {there} conductors, {needed} are needed and {there - needed} are spare"
    if there - needed >= SPARE:
        yield ok(text, item.at("product"), working=(step,))
        return
    yield failed(
        f"{text}: {SPARE} are usual",
        item.at("product"),
        related=related,
        working=(step,),
        repairs=tuple(larger_transfers(item, needed + SPARE, context.spec)),
    )
