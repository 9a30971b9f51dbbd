"""What is led through a power transfer, and how many conductors that takes."""

from __future__ import annotations

from collections.abc import Iterator

from ..outcome import Change, Repair, Term
from ..spec.fields import UNKNOWN, Undecided, known
from ..spec.model import Item, Opening, Spec, Transfer
from .substitutes import as_yaml

SPARE = 2
"""Conductors of a transfer that are kept free. Common practice, no source."""


def conductors_needed(transfer: Item, opening: Opening) -> tuple[int, tuple[Term, ...], tuple[Item, ...]]:
    """(conductors needed, one term for each device, the devices) of all devices led through a transfer.

    A device needs what its sheet states, and with conductors joined in parallel that many more for each way of its
    feed. Where two devices led through share a return, one conductor less. Raises Undecided where a sheet states no
    number, or a device is led through something unknown.
    """
    devices = tuple(item for item in opening.items.values() if item.through_transfer == transfer.name)
    total, terms = 0, list[Term]()
    for item in devices:
        if item.sheet is None:
            raise Undecided("product", item.at("product"), stated=item.product is not None)
        needed = known(item.sheet, "conductors", int)
        if item.parallel_conductors is not None:
            needed += 2 * (known(item, "parallel_conductors", int) - 1)
        if any(_shares(item, other) and not (_shares(other, item) and item.name < other.name) for other in devices):
            needed -= 1
        total += needed
        terms.append(Term(item.name, str(needed), item.sheet.at("conductors")))
    return total, tuple(terms), devices


def _shares(one: Item, other: Item) -> bool:
    """Whether the return of `one` runs in the conductor of `other`; where they name each other, counted once."""
    return one.shares_return_with == other.name and one.name != other.name


def conductors_there(transfer: Item) -> int:
    """The conductors of a transfer. Raises Undecided where its sheet does not say."""
    assert transfer.sheet is not None
    part = transfer.sheet.transfer
    if not isinstance(part, Transfer):
        raise Undecided("transfer", transfer.sheet.at("transfer"), stated=part is UNKNOWN)
    return known(part, "conductors", int)


def larger_transfers(transfer: Item, needed: int, spec: Spec) -> Iterator[Repair]:
    """Transfers of the spec that have enough conductors, those with the fewest first."""
    fitting = [
        (product.transfer.conductors, product.id)
        for product in spec.products.values()
        if isinstance(product.transfer, Transfer)
        and isinstance(product.transfer.conductors, int)
        and product.transfer.conductors >= needed
    ]
    for count, name in sorted(fitting):
        title = f"use {name} ({count} conductors) for {transfer.name}"
        yield Repair(title, (Change(transfer.at("product"), as_yaml(name)),))
