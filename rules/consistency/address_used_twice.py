"""Two devices with one address."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Level, Practice, Related, Verdict, failed, ok
from doorlint.rulebook import Rule
from doorlint.spec import Undecided, known
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
    used, gaps = context.once("items by address", lambda: _by_address(context))
    for field, key in keys:
        same = [other for other in used[field, key] if other is not item]
        unknown = next((gap for owner, gap in gaps if owner is not item), None)
        if not same and unknown is not None:
            raise unknown  # another device's address is not known: it may be this one
        if same:
            related = tuple(Related(other.at(field), other.identity) for other in same[:3])
            text = f"{item.identity} and {same[0].identity} share address {key[-1]}"
            yield failed(text, item.at(field), related=related)
        else:
            yield ok(f"address {key[-1]} is used once", item.at(field))


Key = tuple[str, tuple[str, ...]]


def _by_address(context: Context) -> tuple[dict[Key, list[Item]], list[tuple[Item, Undecided]]]:
    """The items by their addresses, and those whose address is not known."""
    used: dict[Key, list[Item]] = {}
    gaps: list[tuple[Item, Undecided]] = []
    for opening in context.spec.openings.values():
        for item in opening.items.values():
            try:
                for key in _addresses(item):
                    used.setdefault(key, []).append(item)
            except Undecided as gap:
                gaps.append((item, gap))
    return used, gaps


def _addresses(item: Item) -> tuple[tuple[str, tuple[str, ...]], ...]:
    found: list[tuple[str, tuple[str, ...]]] = []
    if item.bus is not None or item.bus_address is not None:
        found.append(("bus_address", (known(item, "bus", str), str(known(item, "bus_address", int)))))
    if item.network_address is not None:
        found.append(("network_address", (known(item, "network_address", str),)))
    return tuple(found)
