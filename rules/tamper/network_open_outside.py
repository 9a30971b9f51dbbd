"""A network port that anybody outside reaches by unscrewing a device."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Cited, Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.model import Inputs, Item

RULE = Rule(
    "tamper/network-open-outside",
    title="Behind a device outside is a network port that is open to strangers",
    level=Level.WARNING,
    over=Item,
    applies=lambda item: item.side == "unsecured" and isinstance(item.sheet and item.sheet.inputs, Inputs),
    scope="devices on the unsecured side with a power input",
    basis=(
        Cited("IEEE 802.1X", "2020", "port-based network access control", from_memory=True),
        Practice(
            "a network port outside authenticates its device, or obeys one address only and leads to a "
            "network of its own"
        ),
    ),
    why="Two screws, a cable, a notebook: the stranger is on the network of the access control system.",
    cure="Have the port authenticate its device, or lock it to the device's address on a network of "
    "its own; report loss of link.",
    limits="What the network does behind the port, and whether its settings hold, only a test shows.",
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    link = context.poe.by_item.get(item.identity)
    source = link.source if link is not None else None
    if source is None:
        yield not_applicable(f"no network switch feeds {item.name}")
        return
    guards = set(known(source, "port_security", tuple))
    related = (Related(source.at("port_security"), f"ports of {source.id}"),)
    if "port_authentication" in guards or {"address_lock", "separate_network"} <= guards:
        yield ok(f"the port of {item.name} is closed to strangers", item.at("fed_from"), related=related)
    else:
        text = f"{item.name} hangs outside on {source.id}, whose port takes any device that is plugged in"
        yield failed(text, item.at("fed_from"), related=related)
