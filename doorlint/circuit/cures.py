"""Computed changes of a line after which enough voltage arrives: proposals for the review to try."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from math import floor

from ..outcome import Change, Repair
from ..quantity import WireSize
from ..spec.fields import Undecided
from ..spec.model import Cable, Item
from .conductors import STOCK_AWG, Conductor, longest_run_m, resistance_ohm_per_m
from .feeds import Feed
from .lines import conductor_of
from .tolerance import voltage_taken
from .voltages import LoadVoltage, Voltages, load_of


def line_repairs(feed: Feed, found: LoadVoltage, voltages: Voltages) -> Iterator[Repair]:
    """Repairs of too little voltage, smallest first: the next thicker cable that the spec knows, the next gauges of
    the same cable, the longest run that still passes, the coil's other setting."""
    item = feed.item
    line = voltages.line(feed)
    if item.cable_sheet is not None and line.conductor is not None:
        yield from _thicker_cables(item, line.conductor, voltages.spec.cables)
        yield from _thicker_gauges(item.cable_sheet, line.conductor)
    longest = _longest_run(feed, found, voltages)
    if longest is not None and 0 < longest < line.length_m:
        text = f"{longest:g} m"
        yield Repair(f"keep the run to {text} (by hanging the supply nearer)", (Change(item.at("length"), text),))
    if item.sheet is not None and item.coil_setting is not None:
        for name in item.sheet.coils:
            if name != item.coil_setting:
                yield Repair(f"set the coil of {item.name} to {name}", (Change(item.at("coil_setting"), name),))


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
        yield Repair(f"lay {name} to {item.name}", (Change(item.at("cable"), _quoted(name)),))


def _thicker_gauges(cable: Cable, present: Conductor) -> Iterator[Repair]:
    if present.awg is None or not isinstance(cable.conductor, WireSize):
        return
    for number in sorted((n for n in STOCK_AWG if n < present.awg), reverse=True):
        text = f"{number} AWG"
        yield Repair(f"use {text} for cable {cable.id}", (Change(cable.at("conductor"), text),))


def _longest_run(feed: Feed, found: LoadVoltage, voltages: Voltages) -> float | None:
    """The longest run in m, rounded down to half a metre, for a load that has its line to itself; else None."""
    line = voltages.line(feed)
    unit = voltages.unit(feed)
    if len(unit.feeds) > 1 or line.conductor is None or line.length_m == 0:
        return None
    kind, value = load_of(feed, "peak" in found.state)
    fixed = sum(element.ohm(found.temperature_c, 1.0) for element in line.elements if element.alpha == 0)
    parallel = feed.item.parallel_conductors if isinstance(feed.item.parallel_conductors, int) else 1
    longest = longest_run_m(
        source_v=found.source_v,
        minimum_v=float(voltage_taken(feed.load)[0].low),
        conductor=line.conductor,
        temperature_c=found.temperature_c,
        fixed_ohm=fixed,
        coil_ohm=value if kind == "resistive" else None,
        current_a=value if kind == "current" else None,
        power_w=value if kind == "power" else None,
    )
    return None if longest is None else floor(longest * max(parallel, 1) * 2) / 2


def _quoted(name: str) -> str:
    """An id as YAML text that reads as text."""
    return name if name.replace("-", "").replace("_", "").isalnum() and not name[0].isdigit() else f'"{name}"'
