"""What kind of load a device is, and what it draws at rest: doors closed and locked, nobody passing."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Final, Literal

from ..quantity import Band, Quantity
from ..spec.fields import Part, Undecided, known
from ..spec.model import Coil, Input, Item, PowerSource
from .demand import nominal, own_current, own_peak, source_voltage
from .feeds import Feed, Terminal

LOCKS: Final = (
    "electric_strike",
    "electromagnetic_lock",
    "shear_lock",
    "electrified_mortise_lock",
    "electrified_cylindrical_lock",
    "electrified_exit_trim",
    "latch_retraction_exit_device",
    "delayed_egress_device",
    "electric_bolt",
    "motor_lock",
    "gate_lock",
)
"""Kinds of product that fasten a door."""

_LOCKS: Final = frozenset(LOCKS)

MAGNETS: Final = ("electromagnetic_lock", "hold_open_magnet")
"""Kinds with a fixed coil and no moving core: they have no peak above their holding current."""

WORKING_NOW_AND_THEN: Final = ("sounder", "swing_operator", "sliding_operator")
"""Kinds whose stated current flows only while they work; at rest their idle power counts."""


def fail_mode(item: Item) -> str:
    """How a lock fails: safe, secure or as_is. Raises Undecided where it is not known."""
    if item.sheet is None:
        raise Undecided("product", item.at("product"), stated=item.product is not None)
    mode = known(item.sheet, "fail", str) if item.fail is None else known(item, "fail", str)
    if mode == "selectable":
        raise Undecided("fail", item.at("fail"), stated=False)
    return mode


def kind_of(item: Item) -> str:
    """The kind of an item's product; empty where it is not known."""
    return item.sheet.kind if item.sheet is not None and isinstance(item.sheet.kind, str) else ""


def is_lock(feed: Feed) -> bool:
    """Whether a feed drives a lock."""
    return kind_of(feed.item) in _LOCKS


def peak_of(feed: Feed) -> Fraction:
    """The peak current of a load, A; that of a magnet whose sheet states none is its holding current, as the current
    of a coil on DC only rises to it. Raises Undecided where it is not known."""
    coil = feed.coil
    if coil is not None and coil.peak is None and coil.supply != "ac" and kind_of(feed.item) in MAGNETS:
        return own_current(feed)
    return own_peak(feed)


@dataclass(frozen=True, slots=True)
class Rest:
    """The current of one device at rest, A, without what it passes on: between `least` and `most`."""

    least: Fraction
    most: Fraction
    why: str

    @property
    def sure(self) -> bool:
        """Whether it is known exactly."""
        return self.least is self.most or self.least == self.most

    def at(self, bound: Literal["least", "most"]) -> Fraction:
        """One of the two."""
        return self.least if bound == "least" else self.most


def rest_of(feed: Feed, elapsed_s: Fraction = Fraction(0)) -> Rest:
    """What a device itself draws at rest: doors closed and locked, nobody passing, some time into an outage.

    A fail-safe lock holds, so it draws its current; a fail-secure one or one that stays as it is draws none, but
    for as long as a schedule keeps it unlocked. Raises Undecided where current or fail mode is not known.
    """
    load, kind = feed.load, kind_of(feed.item)
    if isinstance(load, Input) and load.idle_power is not None:
        power = known(load, "idle_power", Quantity).value
        current = power / volts_at(feed.terminal)
        if kind not in LOCKS or fail_mode(feed.item) == "safe" or not scheduled(feed, elapsed_s):
            return Rest(current, current, "idle power")
    if kind in LOCKS or feed.item.sheet is None:
        mode = fail_mode(feed.item)
        current = own_current(feed)
        if mode == "safe":
            return Rest(current, current, "fail-safe, energised")
        if scheduled(feed, elapsed_s):
            return Rest(current, current, f"fail-{mode.replace('_', '-')}, kept unlocked by schedule")
        words = "fail-secure" if mode == "secure" else "stays as it is"
        if isinstance(load, Coil):
            return Rest(Fraction(0), Fraction(0), f"{words}, no current")
        return Rest(Fraction(0), current, f"{words}; no idle power stated, counted in full")
    current = own_current(feed)
    if isinstance(load, Input) and kind in WORKING_NOW_AND_THEN:
        return Rest(Fraction(0), current, "no idle power stated, counted in full")
    return Rest(current, current, "always on")


def scheduled(feed: Feed, elapsed_s: Fraction) -> bool:
    """Whether a schedule keeps a lock unlocked for longer than this, s."""
    schedule = feed.item.unlock_schedule
    return isinstance(schedule, Quantity) and schedule.value > elapsed_s


def above_zero(part: Part, name: str) -> Fraction:
    """A quantity above 0, in SI units. Raises Undecided where it is not known or not above 0."""
    value = known(part, name, Quantity).value
    if value <= 0:
        raise Undecided(name, part.at(name), stated=True)
    return value


def voltage_of(source: PowerSource) -> Fraction:
    """The nominal voltage of a source, V. Raises Undecided where it is not known or not above 0."""
    value = nominal(known(source, "voltage", Band))
    if value <= 0:
        raise Undecided("voltage", source.at("voltage"), stated=True)
    return value


def volts_at(terminal: Terminal) -> Fraction:
    """The nominal voltage at a terminal, V. Raises Undecided where it is not known or not above 0."""
    value = nominal(source_voltage(terminal))
    if value <= 0:
        raise Undecided("voltage", terminal.output.at("voltage"), stated=True)
    return value
