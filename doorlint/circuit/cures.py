"""Computed changes of a line after which enough voltage arrives: proposals for the review to try."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from math import ceil

from ..outcome import Change, Repair
from ..quantity import WireSize
from ..spec.fields import Undecided
from ..spec.model import Cable, Item
from .conductors import METRIC_AREAS_MM2, STOCK_AWG, Conductor, resistance_ohm_per_m
from .feeds import Feed
from .lines import conductor_of
from .substitutes import as_yaml, other_sources
from .tolerance import voltage_taken
from .voltages import LoadVoltage, Voltages


def line_repairs(
    feed: Feed, found: LoadVoltage, voltages: Voltages, minimum_v: float | None = None
) -> Iterator[Repair]:
    """Repairs of too little voltage, smallest first: the next thicker cable that the spec knows, the next gauges of
    the same cable, the longest run that still passes, the coil's other setting, another supply of the spec.

    minimum_v: what must arrive; the lowest that the load takes unless given.
    """
    item = feed.item
    line = voltages.line(feed)
    if item.cable_sheet is not None and line.conductor is not None:
        yield from _thicker_cables(item, line.conductor, voltages.spec.cables)
        yield from _thicker_gauges(item.cable_sheet, line.conductor)
    least = float(voltage_taken(feed.load, voltages.spec.practice)[0].low) if minimum_v is None else minimum_v
    longest = longest_run(found, voltages, least)
    if longest is not None:
        text = f"{longest:g} m"
        yield Repair(f"keep the run to {text} (by hanging the supply nearer)", (Change(item.at("length"), text),))
    yield from setting_repairs(item)
    yield from other_sources(feed, voltages.spec)


def longest_run(found: LoadVoltage, voltages: Voltages, minimum_v: float) -> float | None:
    """The longest run in m, in steps of half a metre and shorter than stated, on which `minimum_v` still arrives in
    the state of `found`; None where there is none. The voltage only falls as the run grows, so halving finds it."""
    stated = voltages.line(found.feed).length_m

    def passes(half_metres: int) -> bool:
        volts = voltages.at_length(found, half_metres / 2)
        return volts is not None and volts >= minimum_v

    low, high = 0, ceil(stated * 2)
    if high < 2 or not passes(1):
        return None
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if passes(middle) else (low, middle)
    return low / 2


def setting_repairs(item: Item) -> Iterator[Repair]:
    """The other settings of a selectable coil."""
    if item.sheet is not None and item.coil_setting is not None:
        for name in item.sheet.coils:
            if name != item.coil_setting:
                change = Change(item.at("coil_setting"), as_yaml(name))
                yield Repair(f"set the coil of {item.name} to {name}", (change,))


def _thicker_cables(item: Item, present: Conductor, cables: Mapping[str, Cable]) -> Iterator[Repair]:
    thicker = []
    for name, cable in cables.items():
        if item.cable_sheet is not None and cable.kind != item.cable_sheet.kind:
            continue
        try:
            ohm = resistance_ohm_per_m(conductor_of(cable))
        except (Undecided, ValueError):
            continue
        if ohm < resistance_ohm_per_m(present):
            thicker.append((-ohm, name))
    for _, name in sorted(thicker):
        yield Repair(f"lay {name} to {item.name}", (Change(item.at("cable"), as_yaml(name)),))


def _thicker_gauges(cable: Cable, present: Conductor) -> Iterator[Repair]:
    if not isinstance(cable.conductor, WireSize) or present.given_ohm_per_m is not None:
        return
    if present.awg is not None:
        sizes = [f"{number} AWG" for number in sorted((n for n in STOCK_AWG if n < present.awg), reverse=True)]
    else:
        sizes = [f"{area:g} mm2" for area in METRIC_AREAS_MM2 if present.area_mm2 and area > present.area_mm2]
    for text in sizes:
        yield Repair(f"use {text} for cable {cable.id}", (Change(cable.at("conductor"), text),))
