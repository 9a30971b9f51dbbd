"""The words of the event matrix, and logic with three values: yes, no, and not known from the spec.

A value that is not known carries the fields it waits for; a value that is known carries why, in plain words.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from enum import StrEnum

from ..outcome import Place
from ..plain import plain
from ..spec.fields import Undecided


class Event(StrEnum):
    """What can happen to a door. `title` says it in plain words."""

    NORMAL = "normal"
    CREDENTIAL = "credential"
    EGRESS_ACTION = "egress_action"
    NETWORK_LOST = "network_lost"
    POE_PORT_LOST = "poe_port_lost"
    MAINS_LOST = "mains_lost"
    STANDBY_EXHAUSTED = "standby_exhausted"
    CONTROLLER_DEAD = "controller_dead"
    CONTROLLER_HUNG = "controller_hung"
    OUTPUT_STUCK = "output_stuck"
    FIRE_ALARM = "fire_alarm"
    LOCK_CABLE_CUT = "lock_cable_cut"
    OUTSIDE_DEVICE_TORN_OFF = "outside_device_torn_off"
    SENSOR_POWER_LOST = "sensor_power_lost"
    DOOR_POSITION_FAULT = "door_position_fault"
    LOCKDOWN = "lockdown"
    ALARM_RESET = "alarm_reset"

    @property
    def title(self) -> str:  # type: ignore[override]  # the words for people; nobody title-cases an event
        """What happens, in plain words."""
        return _TITLES[self]


_TITLES = {
    Event.NORMAL: "nothing happens, secured hours",
    Event.CREDENTIAL: "a valid credential is presented",
    Event.EGRESS_ACTION: "somebody inside does what opens the door",
    Event.NETWORK_LOST: "the network or the head end is lost",
    Event.POE_PORT_LOST: "the PoE ports of this door lose power",
    Event.MAINS_LOST: "mains lost, standby power holds",
    Event.STANDBY_EXHAUSTED: "mains lost and standby power used up",
    Event.CONTROLLER_DEAD: "the controller is dead, its outputs at rest",
    Event.CONTROLLER_HUNG: "the controller hangs while it holds the door locked",
    Event.OUTPUT_STUCK: "the release output is stuck in release",
    Event.FIRE_ALARM: "the fire alarm is active",
    Event.LOCK_CABLE_CUT: "the lock's cable is cut",
    Event.OUTSIDE_DEVICE_TORN_OFF: "what hangs on the unsecured side is torn off, its cores shorted or opened",
    Event.SENSOR_POWER_LOST: "the sensors of the egress side lose power",
    Event.DOOR_POSITION_FAULT: "the door position switch reads open by a fault",
    Event.LOCKDOWN: "lockdown is commanded",
    Event.ALARM_RESET: "the fire alarm is reset and power is back",
}

EVENTS: tuple[Event, ...] = tuple(Event)
"""All events, in the order in which a matrix lists them."""


class Lock(StrEnum):
    """The lock as met from the unsecured side."""

    LOCKED = "locked"
    UNLOCKED = "unlocked"


class Latch(StrEnum):
    """Whether the leaf is positively latched."""

    LATCHED = "latched"
    UNLATCHED = "unlatched"


class Egress(StrEnum):
    """Whether somebody inside gets out now: freely, after a delay, only with staff, or not at all."""

    FREE = "free"
    DELAYED = "delayed"
    STAFF = "staff"
    IMPOSSIBLE = "impossible"

    @property
    def rank(self) -> int:
        """0 for free to 3 for impossible: how bad it is."""
        return tuple(Egress).index(self)


class Ingress(StrEnum):
    """Whether somebody gets in: no, yes, for the granted time only, or with a mechanical key only."""

    NO = "no"
    YES = "yes"
    GRANTED = "granted"
    KEY = "key"


@dataclass(frozen=True, slots=True)
class Row:
    """What one opening does in one event. A cell is None where the spec leaves it open; `open_because` names the
    fields that the open cells wait for. `because` says in plain words what led to the state, causes first; `alarms`
    what is reported; `relock` how the door becomes locked again, empty where it is locked."""

    event: Event
    lock: Lock | None
    latch: Latch | None
    egress: Egress | None
    ingress_without: Ingress | None
    ingress_with: Ingress | None
    alarms: tuple[str, ...]
    relock: str
    because: tuple[str, ...]
    place: Place
    open_because: tuple[Undecided, ...] = field(default=(), compare=False)

    @property
    def missing(self) -> tuple[str, ...]:
        """The names of the fields that open cells wait for, each once."""
        return tuple(dict.fromkeys(gap.name for gap in self.open_because))


@dataclass(frozen=True, slots=True)
class Matrix:
    """The rows of one opening, one for each event, in the order of EVENTS."""

    opening: str
    rows: tuple[Row, ...]

    def row(self, event: Event) -> Row:
        """The row of an event."""
        return self.rows[EVENTS.index(event)]


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault: an event that is a fault, or with `item` a device that no longer reacts when it is used."""

    event: Event | None
    item: str = ""

    @property
    def title(self) -> str:
        """The fault in plain words."""
        return self.event.title if self.event is not None else f"{self.item} does not react"


@dataclass(frozen=True, slots=True)
class FaultRow:
    """What one opening does under one fault or a pair of faults; cells as in `Row`."""

    faults: tuple[Fault, ...]
    lock: Lock | None
    latch: Latch | None
    egress: Egress | None
    ingress_without: Ingress | None
    ingress_with: Ingress | None
    because: tuple[str, ...]
    place: Place
    open_because: tuple[Undecided, ...] = field(default=(), compare=False)


@plain
class Truth:
    """Yes, no or not known (None), with why it is so and the fields that a value not known waits for."""

    value: bool | None
    why: tuple[str, ...] = ()
    gaps: tuple[Undecided, ...] = field(default=(), compare=False)

    def __bool__(self) -> bool:
        raise TypeError("a Truth has three values; ask for `.value is True` or the like")

    def said(self, *why: str) -> Truth:
        """The same with further reasons, after its own."""
        return Truth(self.value, _once((*self.why, *why)), self.gaps)


YES = Truth(True)
NO = Truth(False)


def unknown(*gaps: Undecided) -> Truth:
    """Not known, for want of these fields."""
    return Truth(None, gaps=gaps)


def negate(a: Truth) -> Truth:
    """Not a."""
    return a if a.value is None else Truth(not a.value, a.why, a.gaps)


def all_of(values: Iterable[Truth]) -> Truth:
    """Yes where every value is; no where any value is, whatever the others are; else not known."""
    return _combined(tuple(values), decides=False)


def any_of(values: Iterable[Truth]) -> Truth:
    """Yes where any value is, whatever the others are; no where none is; else not known."""
    return _combined(tuple(values), decides=True)


def _combined(values: tuple[Truth, ...], *, decides: bool) -> Truth:
    unsure = False
    for value in values:
        if value.value is decides:
            return Truth(decides, value.why) if value.gaps else value
        unsure = unsure or value.value is None
    if unsure:
        return Truth(None, gaps=once(gap for value in values if value.value is None for gap in value.gaps))
    why = _once(reason for value in values for reason in value.why)
    return Truth(not decides, why) if why else (NO if decides else YES)


def either(a: Truth, b: Truth, *gaps: Undecided) -> Truth:
    """What both agree on; where they differ it hangs on `gaps`."""
    if a.value is None or b.value is None:
        return Truth(None, gaps=once((*a.gaps, *b.gaps, *gaps)))
    return a if a.value is b.value else unknown(*gaps)


def _once(reasons: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(reasons))


def once(gaps: Iterable[Undecided]) -> tuple[Undecided, ...]:
    """Each gap once, by field and place."""
    return tuple({(gap.name, gap.place): gap for gap in gaps}.values())
