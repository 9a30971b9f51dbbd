"""Supervised signal inputs: what resistance the controller sees in each state of a line with two resistors.

One resistor stands in series with the contact, one across it, both at the device:

    controller ---- line ---- series ----+---- contact ----+
                                         +---- parallel ---+---- line ---- controller

A closed contact bridges the parallel resistor, an open one leaves both in the circuit. A short of the line leaves
the line alone, a cut leaves nothing. Cable and contact add to what the controller sees, so that with a long thin
cable a closed contact can look like no state at all. Every function is pure; resistances in ohm.
"""

from __future__ import annotations

from dataclasses import dataclass

from ..quantity import Quantity
from ..spec.fields import Undecided, known
from ..spec.model import Item, Opening, Spec
from .conductors import CONTACT_OHM, resistance_ohm_per_m
from .lines import conductor_of, warm_conductor_c

USUAL_TOLERANCE = 0.05
"""Tolerance of resistors where the spec does not state it. Common practice, no source: 5 % parts are the coarsest
still in use."""


@dataclass(frozen=True, slots=True)
class Span:
    """Lowest and highest resistance, ohm."""

    low: float
    high: float

    def within(self, other: Span) -> bool:
        """Whether every resistance of this span lies in the other."""
        return other.low <= self.low and self.high <= other.high

    def meets(self, other: Span) -> bool:
        """Whether the spans have a resistance in common."""
        return self.low <= other.high and other.low <= self.high


@dataclass(frozen=True, slots=True)
class States:
    """What the controller sees: the contact closed, the contact open, the line shorted somewhere."""

    closed: Span
    open: Span
    shorted: Span


def states(series_ohm: float, parallel_ohm: float, tolerance: float, line: Span) -> States:
    """The spans of a line with both resistors.

    tolerance: share by which each resistor may be off, up and down. line: resistance of cable (out and back) and
    contact together; a short may lie anywhere on the way, from the controller's terminals on. Raises ValueError for a
    negative resistance or a tolerance outside 0 to 1.
    """
    if min(series_ohm, parallel_ohm, line.low) < 0 or line.high < line.low:
        raise ValueError("a resistance is not negative")
    if not 0 <= tolerance < 1:
        raise ValueError("a tolerance lies from 0 to below 1")
    both = series_ohm + parallel_ohm
    return States(
        Span(series_ohm * (1 - tolerance) + line.low, series_ohm * (1 + tolerance) + line.high),
        Span(both * (1 - tolerance) + line.low, both * (1 + tolerance) + line.high),
        Span(0.0, line.high),
    )


def cable_loop_ohm(item: Item, opening: Opening, spec: Spec) -> Span:
    """The cable of a signalling device, out and back: at 20 degC, and at the warmest that it is taken to be.

    Raises Undecided where length or cable is not known (a length of 0 m needs no cable).
    """
    length_m = float(known(item, "length", Quantity).value)
    if length_m == 0:
        return Span(0.0, 0.0)
    if item.cable_sheet is None:
        raise Undecided("cable", item.at("cable"), stated=item.cable is not None)
    conductor = conductor_of(item.cable_sheet)
    way = 2 * length_m
    warm = warm_conductor_c(spec, opening)
    return Span(way * resistance_ohm_per_m(conductor), way * resistance_ohm_per_m(conductor, warm))


def line_ohm(cable: Span) -> Span:
    """Cable and contact together: the contact new on the cool cable, aged on the warm one."""
    new, aged = CONTACT_OHM
    return Span(cable.low + new, cable.high + aged)
