"""The cable schedule: every run to a device, with conductor, length and the resistance of its loop when warm."""

from __future__ import annotations

from collections.abc import Iterator

from ..circuit.conductors import resistance_ohm_per_m
from ..circuit.feeds import Feed, ports
from ..circuit.lines import CABLE_BACK, CABLE_OUT, REFERENCE_C, conductor_of, warm_conductor_c
from ..circuit.poe_links import Channel
from ..context import Context
from ..outcome import Measure
from ..quantity import Quantity, WireSize
from ..reviewing import Result
from ..spec.fields import UNKNOWN, Undecided, known
from ..spec.model import Cable, Item, Opening
from .tables import NONE, Cell, Column, Open, Table, computed, found, number, optional, stated, text, words

RUNS = (
    Column("opening"), Column("item"), Column("from"), Column("to"), Column("carries"), Column("cable"), Column("kind"),
    Column("conductor"), Column("conductors"), Column("in parallel"), Column("length", "m"),
    Column("loop resistance when warm", "ohm"), Column("warm conductor", "degC"), Column("runs with"),
    Column("through transfer"), Column("through"),
)  # fmt: skip
LENGTHS = (Column("cable"), Column("title"), Column("kind"), Column("conductor"), Column("jacket"), Column("runs"),
           Column("length", "m"))  # fmt: skip


def build(_: Result, context: Context) -> tuple[Table, ...]:
    """One row for each feed and each signal of an item, and the metres of each cable."""
    openings = tuple(context.spec.openings.values())
    return (
        Table(
            "runs",
            "Cable runs",
            RUNS,
            tuple(row for one in openings for row in _opening(one, context)),
            notes=(
                "Loop resistance: of the cable alone, out and back, conductors in parallel counted; over PoE that of "
                "the channel, all pair sets together. Contacts, splices and transfers come on top.",
                "Warm: the ambient of the opening, and never below 40 degC.",
                "Contacts in series with a lock (switched by, released by) lie in the lock's run; runs between power "
                "sources are not in the spec.",
            ),
        ),
        Table("lengths", "Length of each cable", LENGTHS, tuple(_lengths(context)), notes=(
            "Runs that share the cable of another item are not counted again. Add what cutting and spare take.",
        )),
    )  # fmt: skip


def _opening(one: Opening, context: Context) -> Iterator[tuple[Cell, ...]]:
    for item in one.items.values():
        feeds = context.wiring.by_item.get(item.identity, ())
        for feed in feeds:
            yield _row(item, one, context, feed.terminal.identity, feed)
        if not feeds and ports(item):
            yield _row(item, one, context, Open(("fed_from",)), None)
        elif not feeds and (isinstance(item.signals, str) or item.cable is not None):
            origin: Cell = item.identity if isinstance(item.signals, str) else Open(("signals",))
            yield _row(item, one, context, origin, None)


def _row(item: Item, one: Opening, context: Context, origin: Cell, feed: Feed | None) -> tuple[Cell, ...]:
    signals = feed is None and isinstance(item.signals, str)
    no_cable = isinstance(item.length, Quantity) and item.length.value == 0
    target = f"{one.id}/{item.signals}" if signals else item.identity
    carries = "signal" if signals else "open" if feed is None else "PoE" if feed.supply == "poe" else "power"
    return (
        text(one.id, "id"),
        text(item.name, "name"),
        words(origin) if isinstance(origin, str) else origin,
        words(target),
        Open(("fed_from",)) if carries == "open" else carries,
        *_cable(item, no_cable=no_cable),
        1 if item.parallel_conductors is None else text(item.parallel_conductors, "parallel_conductors"),
        stated(item, "length", "length", "m"),
        NONE if no_cable else computed(lambda: _loop_ohm(item, one, context, feed), "resistance", "ohm"),
        NONE if no_cable else found(lambda: _warm(one, context, feed)),
        optional(item.shares_cable_with),
        optional(item.through_transfer),
        optional(item.runs_through),
    )


def _cable(item: Item, *, no_cable: bool) -> tuple[Cell, Cell, Cell, Cell]:
    """Cable, kind, conductor and number of conductors."""
    sheet = item.cable_sheet
    if sheet is None:
        lacking: Cell = NONE if no_cable and item.cable is None else Open(("cable",))
        return (text(item.cable, "cable") if item.cable is not None else lacking, *(lacking,) * 3)
    return text(item.cable, "cable"), text(sheet.kind, "kind"), _conductor(sheet), text(sheet.conductors, "conductors")


def _conductor(sheet: Cable) -> Cell:
    if isinstance(sheet.conductor, WireSize):
        return text(sheet.conductor, "conductor")
    return Open(("conductor",)) if sheet.conductor is UNKNOWN or sheet.category is None else words(
        f"as category {sheet.category}"
    )


def _loop_ohm(item: Item, one: Opening, context: Context, feed: Feed | None) -> float:
    """Ohms of the run's cable, out and back, when warm. Raises Undecided where cable or length is not known."""
    if feed is not None and feed.supply == "poe":
        return _channel(feed, context).ohm
    warm = warm_conductor_c(context.spec, one)
    if feed is not None:
        line = context.voltages.line(feed)
        return sum(each.ohm(warm, 0.0) for each in line.elements if each.name in (CABLE_OUT, CABLE_BACK))
    length = float(known(item, "length", Quantity).value)
    if item.cable_sheet is None:
        raise Undecided("cable", item.at("cable"), stated=item.cable is not None)
    conductor = conductor_of(item.cable_sheet)
    alpha = conductor.material.alpha_20c_per_k
    return 2 * resistance_ohm_per_m(conductor) * length * (1 + alpha * (warm - REFERENCE_C))


def _channel(feed: Feed, context: Context) -> Channel:
    """The channel of a PoE feed. Raises Undecided where what feeds it is not known to give PoE."""
    link = context.poe.by_item.get(feed.identity)
    if link is None:
        raise Undecided("supply", feed.terminal.output.at("supply"), stated=feed.terminal.supply is not None)
    return context.poe.channel(link, 1 if link.passive else None)


def _warm(one: Opening, context: Context, feed: Feed | None) -> Cell:
    if feed is not None and feed.supply == "poe":
        celsius = _channel(feed, context).temperature_c
    else:
        celsius = warm_conductor_c(context.spec, one)
    return number(celsius + 273.15, "temperature", "degC")


def _lengths(context: Context) -> Iterator[tuple[Cell, ...]]:
    for name, cable in context.spec.cables.items():
        items = [
            item
            for one in context.spec.openings.values()
            for item in one.items.values()
            if item.cable == name and not isinstance(item.shares_cable_with, str)
        ]
        if not items:
            continue
        lengths = [item.length.value for item in items if isinstance(item.length, Quantity)]
        lacking = len(items) - len(lengths)
        total: Cell = number(sum(lengths), "length", "m")
        if lacking:
            sure = Measure(sum(lengths), "length")
            total = Open((f"length of {lacking} of {len(items)} runs, the others {sure}",))
        yield (
            text(cable.id, "id"), optional(cable.title), text(cable.kind, "kind"), _conductor(cable),
            text(cable.jacket, "jacket"), len(items), total,
        )  # fmt: skip
