"""Computed changes after which a supply or its battery is large enough: proposals for the review to try."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from ..outcome import Change, Measure, Repair
from ..quantity import Band, Quantity
from ..spec.fields import Undecided, known
from ..spec.model import Battery, PowerSource
from .demand import nominal, steady
from .feeds import Feed
from .standby import charge_current, next_bank
from .supplies import LOAD_SHARE, Group, Supplies, next_supply_current


def larger_supply(source: PowerSource, needed_a: Fraction) -> Iterator[Repair]:
    """The next usual rated current of at least `needed_a`."""
    size = next_supply_current(needed_a)
    if size is not None:
        text = f"{float(size):g} A"
        yield Repair(f"use a supply of {text} for {source.id}", (Change(source.at("current"), text),))


def load_elsewhere(source: PowerSource, excess_a: Fraction, supplies: Supplies) -> Iterator[Repair]:
    """The smallest load that relieves the source enough, fed from another supply of the spec that has room for it."""
    loads: list[tuple[Fraction, Feed]] = []
    for feed in supplies.feeds(source):
        try:
            loads.append((steady(feed, supplies.wiring), feed))
        except Undecided:
            continue
    fitting = sorted((pair for pair in loads if pair[0] >= excess_a), key=lambda pair: pair[0])
    for current, feed in fitting[:3]:
        for other in supplies.spec.power.values():
            terminal = _free_terminal(source, other, supplies)
            if terminal and _room(other, supplies) >= current:
                change = Change(feed.place, f'"{terminal}"')
                yield Repair(f"feed {feed.identity} from {terminal}", (change,))


def _free_terminal(source: PowerSource, other: PowerSource, supplies: Supplies) -> str | None:
    """The terminal of another supply with the same voltage to feed a load from; None where there is none."""
    if other is source or other.kind != source.kind or other.supply != source.supply:
        return None
    try:
        alike = nominal(known(other, "voltage", Band)) == nominal(known(source, "voltage", Band))
    except Undecided:
        return None
    if not alike:
        return None
    if not other.outputs:
        return other.id
    loaded = {output.terminal.name for output in supplies.outputs(other)}
    return next((f"{other.id}.{name}" for name in other.outputs if name not in loaded), None)


def _room(other: PowerSource, supplies: Supplies) -> Fraction:
    try:
        share = (
            known(other, "load_share", Quantity).value
            if other.load_share is not None
            else LOAD_SHARE.value(supplies.spec.practice)
        )
        return known(other, "current", Quantity).value * share - supplies.steady(other).value
    except Undecided:
        return Fraction(-1)


def release_apart(group: Group) -> Iterator[Repair]:
    """One lock of a group released at another moment, the one with the smallest number of locks left behind first."""
    if len(group.feeds) < 2:
        return
    item = group.feeds[-1].item
    name = f"{item.name}-later"
    if isinstance(item.release_group, str):
        change = Change(item.at("release_group"), name)
    else:
        change = Change(item.place, name, key="release_group")
    yield Repair(f"release {item.identity} a second after the others of its group", (change,), life_safety=True)


def larger_battery(battery: Battery, needed_c: Fraction) -> Iterator[Repair]:
    """The next usual capacity; with it the charging current that brings it back in a day, where that is larger."""
    text, capacity = next_bank(needed_c)
    change = Change(battery.at("capacity"), text)
    yield Repair(f"use a battery of {text}", (change,))
    if isinstance(battery.charge_current, Quantity):
        needed, _ = charge_current(battery, capacity)
        if needed > battery.charge_current.value:
            current = charge_text(needed)
            more = Change(battery.at("charge_current"), current)
            yield Repair(f"use a battery of {text} and a charger of {current}", (change, more))


def larger_charger(battery: Battery, needed_a: Fraction) -> Iterator[Repair]:
    """The charging current rounded up."""
    text = charge_text(needed_a)
    yield Repair(f"use a charger of {text}", (Change(battery.at("charge_current"), text),))


def charge_text(needed_a: Fraction) -> str:
    """A current rounded up to the next 50 mA, as text of the spec."""
    steps = -(-needed_a // Fraction(1, 20))
    return str(Measure(Fraction(steps, 20), "current"))
