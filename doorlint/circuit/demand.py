"""What each device draws from the output that feeds it, in exact amperes, loads passed on included.

A data sheet's current is read as the device's own draw; what hangs on its outputs comes on top.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from ..outcome import Measure, Step, Term
from ..quantity import Band, Quantity
from ..spec.fields import UNKNOWN, Undecided, known
from ..spec.model import Coil, Input, Item
from .feeds import Feed, LoadedOutput, Terminal, Wiring


@dataclass(frozen=True, slots=True)
class Draw:
    """Current that one feed takes, in A: `steady` for as long as it is on, `peak` for `peak_duration_s`."""

    feed: Feed
    steady: Fraction
    terms: tuple[Term, ...]


def nominal(band: Band) -> Fraction:
    """The nominal value of a band, the middle of a range."""
    return band.nominal if band.nominal is not None else (band.low + band.high) / 2


def own_current(feed: Feed) -> Fraction:
    """The device's own steady current, A. Raises Undecided where neither current nor power is known."""
    load = feed.load
    if load.current is None and isinstance(load, Input) and load.power is not None:
        power = known(load, "power", Quantity).value
        return power / nominal(source_voltage(feed.terminal))
    return known(load, "current", Quantity).value


def own_peak(feed: Feed) -> Fraction:
    """The device's own peak current, A; never below its steady current. Raises Undecided where it is not known."""
    return max(known(feed.load, "peak", Quantity).value, own_current(feed))


def source_voltage(terminal: Terminal) -> Band:
    """The voltage that a terminal offers. Raises Undecided where it is not known."""
    if isinstance(terminal.voltage, Band):
        return terminal.voltage
    if terminal.passes_on is not None:
        return source_voltage(terminal.passes_on.terminal)
    raise Undecided("voltage", terminal.output.at("voltage"), stated=terminal.voltage is UNKNOWN)


def outputs_of(item: Item, wiring: Wiring) -> tuple[LoadedOutput, ...]:
    """The loaded outputs of an item."""
    return wiring.outputs_of.get(item.identity, ())


def passed_on(feed: Feed, wiring: Wiring) -> Fraction:
    """What a fed device passes on to the loads on its outputs, as current at its own input, A."""
    total = Fraction(0)
    for loaded in outputs_of(feed.item, wiring):
        terminal = loaded.terminal
        drawn = sum((steady(load, wiring) for load in loaded.feeds), Fraction(0))
        if terminal.passes_on is not None:
            if terminal.passes_on.supply == feed.supply:
                total += drawn
        elif terminal.upstream and terminal.upstream[0].supply == feed.supply and feed.supply != "poe":
            sheet = feed.item.sheet
            assert sheet is not None
            efficiency = known(sheet, "efficiency", Quantity).value
            power = drawn * nominal(source_voltage(terminal))
            total += power / (efficiency * nominal(source_voltage(feed.terminal)))
    return total


def steady(feed: Feed, wiring: Wiring) -> Fraction:
    """Steady current that a feed takes from its terminal, loads passed on included, A."""
    return own_current(feed) + (passed_on(feed, wiring) if isinstance(feed.load, Input) else Fraction(0))


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
    """The worst moment of several feeds that are switched together: every peak at once, with the working."""
    terms = []
    total = Fraction(0)
    for feed in feeds:
        more = passed_on(feed, wiring) if isinstance(feed.load, Input) else Fraction(0)
        peak = own_peak(feed) + more
        total += peak
        terms.append(Term(f"{feed.item.name} peak", str(Measure(peak, "current")), feed.load.at("peak")))
    formula = " + ".join(term.name for term in terms)
    return total, Step("peak current", formula, Measure(total, "current"), tuple(terms))


def is_inductive(feed: Feed) -> bool:
    """Whether the load is a coil that kicks back when it is switched off."""
    return isinstance(feed.load, Coil)
