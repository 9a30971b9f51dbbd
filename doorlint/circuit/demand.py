"""What each device draws from the output that feeds it, in exact amperes, loads passed on included.

A data sheet's current is read as the device's own draw; what hangs on its outputs comes on top, directly where the
output passes the input's voltage on, by power and efficiency where it converts.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from fractions import Fraction
from math import lcm

from ..outcome import Measure, Step, Term
from ..quantity import Band, Quantity
from ..spec.fields import UNKNOWN, Part, Undecided, known
from ..spec.model import Coil, Input, Item
from .feeds import Feed, LoadedOutput, Terminal, Wiring


def key_of(feed: Feed) -> str:
    """A name for one feed that is unique in the spec."""
    return f"{feed.identity}:{feed.supply}"


def above_zero(part: Part, name: str) -> Fraction:
    """A quantity that only has a meaning above zero. Raises Undecided where it is not known, or not above zero."""
    value = known(part, name, Quantity).value
    if value <= 0:
        raise Undecided(f"{name} above zero", part.at(name), stated=False)
    return value


def nominal(band: Band) -> Fraction:
    """The nominal value of a band, the middle of a range."""
    return band.nominal if band.nominal is not None else (band.low + band.high) / 2


def added(values: Iterable[Fraction]) -> Fraction:
    """The sum of exact numbers, brought to lowest terms once and not for each of them."""
    listed = list(values)
    if len(listed) == 1:
        return listed[0]
    ratios = [value.as_integer_ratio() for value in listed]
    under = lcm(*[below for _, below in ratios])
    return Fraction(sum([above * (under // below) for above, below in ratios]), under)


def own_current(feed: Feed) -> Fraction:
    """The device's own steady current, A. Raises Undecided where neither current nor power is known."""
    load = feed.load
    if load.current is None and isinstance(load, Input) and load.power is not None:
        return known(load, "power", Quantity).value / _volts(feed.terminal)
    return known(load, "current", Quantity).value


def own_peak(feed: Feed) -> Fraction:
    """The device's own peak current, A; never below its steady current. Raises Undecided where it is not known."""
    return max(known(feed.load, "peak", Quantity).value, own_current(feed))


def source_voltage(terminal: Terminal) -> Band:
    """The voltage that a terminal offers. Raises Undecided where it is not known, or reaches down to zero."""
    if isinstance(terminal.voltage, Band):
        if terminal.voltage.low <= 0:
            raise Undecided("voltage above zero", terminal.output.at("voltage"), stated=False)
        return terminal.voltage
    if terminal.passes_on is not None:
        return source_voltage(terminal.passes_on.terminal)
    raise Undecided("voltage", terminal.output.at("voltage"), stated=terminal.voltage is UNKNOWN)


def _volts(terminal: Terminal) -> Fraction:
    return nominal(source_voltage(terminal))


def outputs_of(item: Item, wiring: Wiring) -> tuple[LoadedOutput, ...]:
    """The loaded outputs of an item."""
    return wiring.outputs_of.get(item.identity, ())


def behind_converters(feed: Feed, wiring: Wiring) -> tuple[LoadedOutput, ...]:
    """The loaded outputs of a fed device that convert from this feed: what they give comes out of its power."""
    return tuple(
        loaded
        for loaded in outputs_of(feed.item, wiring)
        if loaded.terminal.passes_on is None
        and loaded.terminal.upstream
        and loaded.terminal.upstream[0].supply == feed.supply
        and feed.supply != "poe"
    )


Own = Callable[[Feed], Fraction]
"""How much a device draws for itself: its steady current, or its peak."""


def converted_power(feed: Feed, wiring: Wiring, own: Own = own_current) -> Fraction:
    """Power in W that a fed device takes in for the outputs that convert, by the efficiency of its sheet.

    Raises Undecided where efficiency, voltage or a current is not known.
    """
    powers = []
    for loaded in behind_converters(feed, wiring):
        sheet = feed.item.sheet
        assert sheet is not None
        given = added(_drawn(load, wiring, own) for load in loaded.feeds) * _volts(loaded.terminal)
        powers.append(given / above_zero(sheet, "efficiency"))
    return added(powers)


def _passed_on(feed: Feed, wiring: Wiring, own: Own) -> Fraction:
    outputs = outputs_of(feed.item, wiring)
    drawn = []
    for loaded in outputs:
        through = loaded.terminal.passes_on
        if through is not None and through.supply == feed.supply:
            drawn += [_drawn(load, wiring, own) for load in loaded.feeds]
    if outputs and behind_converters(feed, wiring):
        drawn.append(converted_power(feed, wiring, own) / _volts(feed.terminal))
    return added(drawn)


def _drawn(feed: Feed, wiring: Wiring, own: Own) -> Fraction:
    itself = own(feed)
    if not isinstance(feed.load, Input):
        return itself
    passed = _passed_on(feed, wiring, own)
    return itself + passed if passed else itself


def passed_on(feed: Feed, wiring: Wiring) -> Fraction:
    """What a fed device passes on to the loads on its outputs, as steady current at its own input, A."""
    return _passed_on(feed, wiring, own_current)


def steady(feed: Feed, wiring: Wiring) -> Fraction:
    """Steady current that a feed takes from its terminal, loads passed on included, A."""
    return _drawn(feed, wiring, own_current)


def peak(feed: Feed, wiring: Wiring) -> Fraction:
    """Peak current that a feed takes from its terminal, A: its own, and the peaks of all loads passed on at once."""
    return _drawn(feed, wiring, own_peak)


def peaking(fired: Collection[str]) -> Own:
    """A draw in which the feeds whose `key_of` is in `fired` peak and the others draw their steady current."""
    return lambda feed: own_peak(feed) if key_of(feed) in fired else own_current(feed)


def total_steady(feeds: Iterable[Feed], wiring: Wiring) -> tuple[Fraction, Step]:
    """The steady currents of several feeds added up, with the working."""
    drawn = [(feed, steady(feed, wiring)) for feed in feeds]
    total = sum((current for _, current in drawn), Fraction(0))
    terms = tuple(
        Term(feed.item.name, str(Measure(current, "current")), feed.load.at("current")) for feed, current in drawn
    )
    formula = " + ".join(term.name for term in terms)
    return total, Step("steady current", formula, Measure(total, "current"), terms)


def total_peak(feeds: Iterable[Feed], wiring: Wiring) -> tuple[Fraction, Step]:
    """The worst moment of several feeds that are switched together: every peak at once, with the working.

    Peaks of the loads that a device passes on count too; behind a converter by voltage and efficiency, so that a
    lock that pulls in behind a step-up converter shows with its whole peak power.
    """
    drawn = [(feed, peak(feed, wiring)) for feed in feeds]
    total = sum((current for _, current in drawn), Fraction(0))
    terms = tuple(
        Term(f"{feed.item.name} peak", str(Measure(current, "current")), feed.load.at("peak"))
        for feed, current in drawn
    )
    formula = " + ".join(term.name for term in terms)
    return total, Step("peak current", formula, Measure(total, "current"), terms)


def is_inductive(feed: Feed) -> bool:
    """Whether the load is a coil that kicks back when it is switched off."""
    return isinstance(feed.load, Coil)
