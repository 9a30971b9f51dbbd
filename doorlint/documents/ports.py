"""The PoE port list: each device on each switch, the class and power of its port, and what is left."""

from __future__ import annotations

from fractions import Fraction
from typing import Literal

from ..circuit.poe_links import Channel, PoeLink, PoeSource
from ..context import Context
from ..quantity import Quantity
from ..reviewing import Result
from ..spec.fields import known
from ..spec.model import PowerSource
from .tables import BLANK, NONE, Cell, Column, Open, Table, computed, found, number, optional, stated, text, words

SOURCES = (
    Column("source"), Column("title"), Column("standard"), Column("class of its ports"), Column("ports"),
    Column("in use"), Column("free"), Column("budget", "W"), Column("counted"), Column("set aside", "W"),
    Column("left", "W"), Column("fed from"), Column("keeps power on restart"),
)  # fmt: skip
PORTS = (
    Column("source"), Column("port number", fill=True), Column("device"), Column("behind"), Column("asks for class"),
    Column("gets class"), Column("length", "m"), Column("channel", "ohm"), Column("set aside at the port", "W"),
    Column("available at the device", "W"), Column("drawn steady", "W"), Column("margin", "W"), Column("peak", "W"),
)  # fmt: skip


def build(_: Result, context: Context) -> tuple[Table, ...]:
    """One row for each PoE source, and one for each device with a PoE feed."""
    return (
        Table("sources", "PoE sources", SOURCES, tuple(_source(poe, context) for poe in context.poe.sources), notes=(
            "Counted: how the source sets power aside, by the class of each port or by what is drawn.",
        )),
        Table(
            "ports",
            "Devices",
            PORTS,
            tuple(_port(link, context) for link in context.poe.links),
            notes=(
                "Drawn: at the device's input, what it passes on included. A device behind another takes its power "
                "out of that one's port.",
                "Port numbers are given on site.",
            ),
        ),
    )  # fmt: skip


def _source(poe: PoeSource, context: Context) -> tuple[Cell, ...]:
    source = poe.source
    used = sum(1 for link in poe.links if link.upstream is None)

    def aside() -> Fraction:
        allotment, _ = context.poe.set_aside(poe)
        if allotment.total_w is None:
            raise allotment.gaps[0]
        return allotment.total_w

    return (
        text(source.id, "id"),
        optional(source.title),
        text(source.standard, "standard"),
        text(source.port_class, "port_class") if source.standard != "passive" else NONE,
        text(source.ports, "ports"),
        used,
        source.ports - used if isinstance(source.ports, int) else Open(("ports",)),
        stated(source, "budget", "power", "W"),
        found(lambda: context.poe.set_aside(poe)[1]),
        computed(aside, "power", "W"),
        computed(lambda: known(source, "budget", Quantity).value - aside(), "power", "W"),
        optional(source.fed_from),
        text(source.keeps_power_on_restart, "keeps_power_on_restart"),
    )


def _port(link: PoeLink, context: Context) -> tuple[Cell, ...]:
    poe = context.poe
    source: PowerSource | None = link.source
    mode: Literal["by_class", "by_use"] = (
        "by_use" if source is not None and source.allocation == "by_use" else "by_class"
    )
    asks = not link.passive

    def drawn() -> Fraction:
        demand = poe.demand(link)
        if demand.total_w is None:
            raise demand.gaps[0]
        return demand.total_w

    def peak() -> Fraction:
        found_peak = poe.peak(link)
        if found_peak.gaps:
            raise found_peak.gaps[0]
        return found_peak.top_w

    return (
        text(source.id, "id") if source is not None else Open(("fed_from",)),
        BLANK,
        words(link.identity),
        words(link.upstream.item.name) if link.upstream is not None else NONE,
        found(lambda: poe.grant(link).asked) if asks else NONE,
        found(lambda: _granted(link, context)) if asks else NONE,
        found(lambda: number(_channel(link, context).length_m, "length", "m")),
        found(lambda: number(_channel(link, context).ohm, "resistance", "ohm")),
        computed(lambda: poe.allotted_to(link, mode), "power", "W") if asks and link.upstream is None else NONE,
        computed(lambda: poe.available(link).power_w, "power", "W") if asks else NONE,
        computed(drawn, "power", "W"),
        computed(lambda: Fraction(poe.available(link).power_w) - drawn(), "power", "W") if asks else NONE,
        computed(peak, "power", "W"),
    )


def _granted(link: PoeLink, context: Context) -> Cell:
    granted = context.poe.grant(link).granted
    return "none: the port may stay off" if granted is None else granted.number


def _channel(link: PoeLink, context: Context) -> Channel:
    return context.poe.channel(link, 1 if link.passive else None)
