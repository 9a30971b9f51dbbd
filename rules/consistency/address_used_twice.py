"""Two devices with one address."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Level, Practice, Related, Verdict, failed, ok
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.model import Item

RULE = Rule(
    "consistency/address-used-twice",
    title="Two devices have the same address",
    level=Level.ERROR,
    over=Item,
    applies=lambda item: item.bus is not None or item.bus_address is not None or item.network_address is not None,
    scope="devices with an address",
    basis=(
        Practice(
            "an address is used once on its bus or network",
            physics="two devices that answer together are understood by nobody",
        ),
    ),
    why="Two doors answer to one name: one of them is a ghost.",
    cure="Give each device an address of its own.",
    limits="Addresses on different buses or networks may be equal: networks are told apart by their addresses only.",
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    keys = _addresses(item)
    others = [i for opening in context.spec.openings.values() for i in opening.items.values() if i is not item]
    for field, key in keys:
        same = [other for other in others if (field, key) in _addresses(other)]
        if same:
            related = tuple(Related(other.at(field), other.identity) for other in same[:3])
            text = f"{item.identity} and {same[0].identity} share address {key[-1]}"
            yield failed(text, item.at(field), related=related)
        else:
            yield ok(f"address {key[-1]} is used once", item.at(field))


def _addresses(item: Item) -> tuple[tuple[str, tuple[str, ...]], ...]:
    found: list[tuple[str, tuple[str, ...]]] = []
    if item.bus is not None or item.bus_address is not None:
        found.append(("bus_address", (known(item, "bus", str), str(known(item, "bus_address", int)))))
    if item.network_address is not None:
        found.append(("network_address", (known(item, "network_address", str),)))
    return tuple(found)
