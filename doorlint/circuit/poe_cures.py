"""Computed changes after which a PoE link has enough: proposals for the review to try, smallest change first."""

from __future__ import annotations

from collections.abc import Iterator
from math import floor

from ..outcome import Change, Repair
from ..quantity import Band
from ..spec.fields import Part, Undecided
from ..spec.model import Coil, Item, PowerSource
from .conductors import resistance_ohm_per_m
from .feeds import Feed
from .lines import conductor_of
from .poe import TYPES, PoeClass
from .poe_links import POE_KINDS, PoeLink, PoeLinks, rank
from .tolerance import voltage_taken

STEP_M = 0.5
"""Runs are proposed in steps of half a metre."""


def setting(part: Part, name: str, text: str) -> Change:
    """The change that gives field `name` of a part the value `text`, whether it is stated or not."""
    if getattr(part, name) is None:
        return Change(part.place, text, key=name)
    return Change(part.at(name), text)


def item_setting(item: Item, name: str, text: str) -> Change:
    """The same for an item, whose fields may stand in its set."""
    if getattr(item, name) is None:
        return Change(item.place, text, key=name)
    return Change(item.at(name), text)


def quoted(name: str) -> str:
    """An id as YAML text that reads as text."""
    return name if name[:1].isalpha() and name.replace("-", "").isalnum() else f'"{name}"'


def port_repairs(link: PoeLink, poe: PoeLinks) -> Iterator[Repair]:
    """A port with the class that the device asks for: its source's next class and standard, or another source."""
    grant = poe.grant(link)
    source = link.feed.terminal.owner
    if not isinstance(source, PowerSource) or rank(grant.port) >= rank(grant.asked):
        return
    output = link.feed.terminal.output
    changes = []
    if link.feed.terminal.name and output.poe_class is not None:
        changes.append(setting(output, "poe_class", str(grant.asked)))
    elif source.port_class is not None:
        changes.append(setting(source, "port_class", str(grant.asked)))
    kinds = [each for each in TYPES.values() if each.highest_class >= rank(grant.asked)]
    if isinstance(source.standard, str) and source.standard not in [each.standard for each in kinds]:
        changes.append(setting(source, "standard", kinds[0].standard))
        if source.port_class is None and grant.asked > 6:
            changes.append(setting(source, "port_class", str(grant.asked)))
    if changes:
        yield Repair(f"use ports of class {grant.asked} for {source.id}", tuple(changes))
    for other in poe.spec.power.values():
        if other.id != source.id and other.kind in POE_KINDS and isinstance(other.port_class, int):
            yield Repair(f"feed {link.item.name} from {other.id}", (Change(link.place, quoted(other.id)),))


def supply_repairs(link: PoeLink, poe: PoeLinks) -> Iterator[Repair]:
    """Each lock on the device, the hungriest first, fed from a supply of the spec with its voltage."""
    carried = [each for each in poe.demand(link).carried if isinstance(each.feed.load, Coil)]
    for each in sorted(carried, key=lambda c: -c.power_w):
        for supply in poe.spec.power.values():
            free = _free_terminal(supply, each.feed, poe) if supply.kind == "power_supply" else None
            if free is not None:
                yield Repair(f"feed {each.feed.item.name} from {free}", (Change(each.feed.place, quoted(free)),))


def _free_terminal(supply: PowerSource, feed: Feed, poe: PoeLinks) -> str | None:
    """A terminal of a supply that a load could go to: the supply itself, or its first output with nothing on it."""
    if not isinstance(supply.voltage, Band):
        return None
    try:
        taken, _ = voltage_taken(feed.load, poe.spec.practice)
    except Undecided:
        return None
    if supply.voltage.low < taken.low or supply.voltage.high > taken.high:
        return None
    if not supply.outputs:
        return supply.id
    used = {loaded.identity for loaded in poe.wiring.outputs}
    return next((f"{supply.id}.{n}" for n in supply.outputs if f"{supply.id}.{n}" not in used), None)


def channel_repairs(link: PoeLink, poe: PoeLinks, most_ohm: float) -> Iterator[Repair]:
    """A channel of at most `most_ohm`: a thicker network cable of the spec, or the longest run of the present one."""
    item = link.item
    channel = poe.channel(link)
    if item.cable_sheet is None or channel.length_m <= 0:
        return
    present = resistance_ohm_per_m(conductor_of(item.cable_sheet), channel.temperature_c)
    thicker = []
    for name, cable in poe.spec.cables.items():
        if cable.kind != "category":
            continue
        try:
            ohm = resistance_ohm_per_m(conductor_of(cable), channel.temperature_c)
        except (Undecided, ValueError):
            continue
        if ohm < present and channel.ohm * ohm / present <= most_ohm:
            thicker.append((-ohm, name))
    for _, name in sorted(thicker):
        yield Repair(f"lay {name} to {item.name}", (Change(item.at("cable"), quoted(name)),))
    # what is not cable (splices) stays, so the cable alone must shrink
    cable_ohm = present * channel.length_m / channel.pairsets
    longest = (most_ohm - (channel.ohm - cable_ohm)) * channel.pairsets / present
    text = f"{floor(longest / STEP_M) * STEP_M:g} m"
    if STEP_M <= longest < channel.length_m:
        yield Repair(f"keep the run to {item.name} to {text}", (Change(item.at("length"), text),))


def channel_that_leaves(granted: PoeClass, port_v: float, power_w: float) -> float | None:
    """Highest resistance of a channel that leaves `power_w` for the device; None where no channel does.

    Within the worst channel of the class the class power is promised; beyond it P - (P / V)^2 R is left.
    """
    if power_w > granted.pd_w:
        return None
    computed = (granted.pse_w - power_w) * (port_v / granted.pse_w) ** 2
    return max(computed, granted.channel_ohm) if port_v >= granted.pse_min_v else computed
