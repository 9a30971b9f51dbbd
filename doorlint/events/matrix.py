"""The matrix of an opening: one row for each event; and what single faults and pairs of faults do."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations
from typing import TYPE_CHECKING

from ..quantity import Quantity
from ..spec.fields import UNKNOWN
from ..spec.model import Item, Opening, PowerSource
from .circuit import Case
from .door import FIRE, RELEASERS, Door, kind_of, signals_to
from .moment import Cells, Moment, cells, moment
from .reach import attempts, exposed, is_outside, torn_off
from .states import (
    EVENTS,
    Egress,
    Event,
    Fault,
    FaultRow,
    Ingress,
    Latch,
    Lock,
    Matrix,
    Row,
    Truth,
    any_of,
    once,
)

if TYPE_CHECKING:
    from ..context import Context

CASES: dict[Event, Case] = {
    Event.NORMAL: Case(),
    Event.CREDENTIAL: Case(grant=True),
    Event.EGRESS_ACTION: Case(occupant=True),
    Event.NETWORK_LOST: Case(network_lost=True),
    Event.POE_PORT_LOST: Case(poe_lost=True),
    Event.MAINS_LOST: Case(mains_lost=True),
    Event.STANDBY_EXHAUSTED: Case(exhausted=True),
    Event.CONTROLLER_DEAD: Case(dead=True),
    Event.CONTROLLER_HUNG: Case(hung=True),
    Event.OUTPUT_STUCK: Case(stuck=True),
    Event.FIRE_ALARM: Case(fire=True),
    Event.LOCK_CABLE_CUT: Case(cut=True),
    Event.SENSOR_POWER_LOST: Case(sensors_dead=True),
    Event.DOOR_POSITION_FAULT: Case(),
    Event.LOCKDOWN: Case(lockdown=True),
    Event.ALARM_RESET: Case(),
}
"""What is the case in each event; a device torn off is several cases, of which the worst counts."""

FAULTS = (
    Event.NETWORK_LOST,
    Event.POE_PORT_LOST,
    Event.MAINS_LOST,
    Event.STANDBY_EXHAUSTED,
    Event.CONTROLLER_DEAD,
    Event.CONTROLLER_HUNG,
    Event.OUTPUT_STUCK,
    Event.LOCK_CABLE_CUT,
    Event.OUTSIDE_DEVICE_TORN_OFF,
    Event.SENSOR_POWER_LOST,
)
"""The events that are faults and change what a door does."""


def matrix(opening: Opening, context: Context) -> Matrix:
    """What the opening does in each of EVENTS, computed from the wiring. Use `context.matrix`, which keeps it."""
    door = context.door(opening)
    return Matrix(opening.id, tuple(_row(door, event) for event in EVENTS))


def singles(opening: Opening, context: Context) -> tuple[FaultRow, ...]:
    """What the opening does under each single fault, a release device that does not react among them."""
    door = context.door(opening)
    return tuple(_fault_row(door, (fault,)) for fault in faults(door))


def pairs(opening: Opening, context: Context) -> tuple[FaultRow, ...]:
    """What an opening marked critical does under every pair of faults; empty for any other opening."""
    if opening.critical is not True:
        return ()
    door = context.door(opening)
    return tuple(_fault_row(door, both) for both in combinations(faults(door), 2))


def faults(door: Door) -> tuple[Fault, ...]:
    """The faults that can befall a door: those events, and each release device that may not react when it is used."""
    mute = [item for item in door.items if kind_of(item) in RELEASERS]
    return (*(Fault(event) for event in FAULTS), *(Fault(None, item.name) for item in mute))


def _fault_row(door: Door, both: tuple[Fault, ...]) -> FaultRow:
    case = Case()
    torn = False
    for fault in both:
        if fault.event is None:
            case = case.both(Case(mute=frozenset({fault.item})))
        elif fault.event is Event.OUTSIDE_DEVICE_TORN_OFF:
            torn = True
        else:
            case = case.both(CASES[fault.event])
    found = _torn(door, case) if torn else cells(door, case)
    lock, latch = _words(found)
    return FaultRow(
        both,
        lock,
        latch,
        found.egress,
        found.ingress_without,
        found.ingress_with,
        found.because,
        door.place,
        found.gaps,
    )


def _words(found: Cells) -> tuple[Lock | None, Latch | None]:
    lock = None if found.lock.value is None else Lock.LOCKED if found.lock.value else Lock.UNLOCKED
    latch = None if found.latch.value is None else Latch.LATCHED if found.latch.value else Latch.UNLATCHED
    return lock, latch


def _row(door: Door, event: Event) -> Row:
    if event is Event.OUTSIDE_DEVICE_TORN_OFF:
        found = _torn(door, Case())
    else:
        found = cells(door, CASES[event], for_granted_time=_for_a_time(door, event))
    lock, latch = _words(found)
    because = found.because
    if event is Event.DOOR_POSITION_FAULT and door.opening.interlocked_with:
        because = (*because, "the interlocked doors stay locked while this one seems open")
    if event is Event.MAINS_LOST:
        because = (*because, *_transfer_gap(door))
    return Row(
        event,
        lock,
        latch,
        found.egress,
        found.ingress_without,
        found.ingress_with,
        tuple(dict.fromkeys(_alarms(door, event, found.lock))),
        _relock(door, event, found.lock),
        because,
        door.place,
        found.gaps,
    )


def _for_a_time(door: Door, event: Event) -> bool:
    if event not in (Event.CREDENTIAL, Event.EGRESS_ACTION):
        return False
    now = moment(door, Case())
    return any_of(now.open_outside(leaf) for leaf in door.leaves).value is not True


def _torn(door: Door, case: Case) -> Cells:
    """The worst of: the devices outside gone, and each conductor reached there shorted, opened or fed."""
    gone = torn_off(door)
    found = [cells(door, case.both(gone))]
    why: tuple[str, ...] = ()
    for one in exposed(door):
        if one.conductor.reached.value is not True or one.conductor.what == "mains":
            continue
        for attempt in attempts(door, one.conductor):
            # who feeds or forges does so with the device still alive; the rest finds it gone
            found.append(cells(door, case.both(attempt.case)))
        why = why or one.because
    worst = found[0]
    for other in found[1:]:
        worst = Cells(
            _both(worst.lock, other.lock),
            _both(worst.latch, other.latch),
            _worse_out(worst.egress, other.egress),
            _worse_in(worst.ingress_without, other.ingress_without),
            worst.ingress_with,
            worst.because,
            once((*worst.gaps, *other.gaps)),
        )
    doubtful = [one for one in exposed(door) if one.unlocks is None and one.conductor.what != "mains"]
    if doubtful and worst.lock.value is True:
        gaps = once(gap for one in doubtful for gap in one.open_because)
        worst = replace(worst, lock=Truth(None, gaps=gaps), ingress_without=None, gaps=once((*worst.gaps, *gaps)))
    if worst.ingress_without is Ingress.YES:
        worst = replace(worst, ingress_with=Ingress.YES, because=why or worst.because)
    elif worst.ingress_without is None:
        worst = replace(worst, ingress_with=None)
    return worst


def _both(a: Truth, b: Truth) -> Truth:
    """Locked, or latched, whatever is done: no where either is no."""
    if a.value is False or b.value is False:
        return a if a.value is False else b
    if a.value is None or b.value is None:
        return Truth(None, gaps=once((*a.gaps, *b.gaps)))
    return a


def _worse_out(a: Egress | None, b: Egress | None) -> Egress | None:
    if Egress.IMPOSSIBLE in (a, b):
        return Egress.IMPOSSIBLE
    return None if a is None or b is None else max(a, b, key=lambda egress: egress.rank)


def _worse_in(a: Ingress | None, b: Ingress | None) -> Ingress | None:
    if Ingress.YES in (a, b):
        return Ingress.YES
    return None if a is None or b is None else a


def _transfer_gap(door: Door) -> Iterator[str]:
    """A generator takes over after a time; what holds by current lets go until then."""
    for source in _lock_sources(door):
        if source.kind == "generator" and isinstance(source.transfer_time, Quantity):
            gap = f"power is gone for {source.transfer_time.text} until {source.id} has taken over"
            yield f"{gap}: a lock that holds by current lets go"


def _lock_sources(door: Door) -> tuple[PowerSource, ...]:
    """The sources that the locks draw on, and those behind them."""
    found: dict[str, PowerSource] = {}
    waiting = [source for lock in door.locks for feed in door.feeds(lock) for source in feed.sources]
    while waiting:
        source = waiting.pop()
        if source.id in found:
            continue
        found[source.id] = source
        behind = door.spec.power.get(source.fed_from.partition(".")[0]) if isinstance(source.fed_from, str) else None
        if behind is not None:
            waiting.append(behind)
    return tuple(found[name] for name in sorted(found))


# alarms and relocking


def _alarms(door: Door, event: Event, lock: Truth) -> Iterator[str]:
    """What is reported, as far as the spec gives something that reports it."""
    deciders = [item for item in door.deciding_items if kind_of(item) != "relay_module"]
    if event in (Event.NETWORK_LOST, Event.CONTROLLER_DEAD, Event.CONTROLLER_HUNG):
        yield from (f"{item.name} does not answer" for item in deciders)
    case = CASES.get(event, torn_off(door))
    now = moment(door, case)
    if event in (Event.POE_PORT_LOST, Event.MAINS_LOST, Event.STANDBY_EXHAUSTED, Event.OUTSIDE_DEVICE_TORN_OFF):
        yield from (f"{item.name} does not answer" for item in deciders if now.on(item).value is False)
    if event in (Event.MAINS_LOST, Event.STANDBY_EXHAUSTED):
        for source in _lock_sources(door):
            if source.mains_failure_reported is True:
                yield f"mains failure at {source.id}"
            if event is Event.STANDBY_EXHAUSTED and source.low_battery_reported is True:
                yield f"low battery at {source.id}"
    if event is Event.OUTSIDE_DEVICE_TORN_OFF:
        yield from (
            f"tamper at {item.name}"
            for item in door.items
            if is_outside(door, item).value and _monitors(item, "tamper")
        )
    if event is Event.LOCK_CABLE_CUT:
        yield from (f"line fault at {item.name}" for item in door.locks if item.supervised is True)
    if event is Event.SENSOR_POWER_LOST:
        yield from (f"line fault at {i.name}" for i in door.items if kind_of(i) in RELEASERS and i.supervised is True)
    if event is Event.DOOR_POSITION_FAULT:
        yield from (f"{item.name}: door held open" for item in door.items if _tells_position(item))
    expected = (Event.NORMAL, Event.CREDENTIAL, Event.EGRESS_ACTION, Event.ALARM_RESET, Event.FIRE_ALARM)
    if event not in expected and lock.value is False:
        yield from _released_alarms(door, event, now)


def _released_alarms(door: Door, event: Event, now: Moment) -> Iterator[str]:
    """What tells that the lock has let go without a command; whoever tells needs power and a live controller."""
    if event in (Event.CONTROLLER_DEAD, Event.CONTROLLER_HUNG):
        return
    for item in door.items:
        telling = next((word for word in ("bond", "bolt", "latch") if _monitors(item, word)), "")
        if kind_of(item) == "latch_monitor":
            telling = telling or "latch"
        hears = door.opening.items.get(signals_to(item))
        alive = (
            now.on(hears).value is not False
            if hears is not None
            else any(now.on(decider).value is not False for decider in door.deciding_items)
        )
        if telling and alive:
            yield f"{item.name}: {telling} released without a command"


def _monitors(item: Item, word: str) -> bool:
    return item.sheet is not None and isinstance(item.sheet.monitors, tuple) and word in item.sheet.monitors


def _tells_position(item: Item) -> bool:
    return kind_of(item) == "door_position_switch" or _monitors(item, "door_position")


def _relock(door: Door, event: Event, lock: Truth) -> str:
    """How the door becomes locked again; empty where it is locked."""
    if lock.value is not False:
        return ""
    if event is Event.CREDENTIAL:
        times = [item.unlock_time.text for item in door.locks if isinstance(item.unlock_time, Quantity)]
        return f"{max(times, key=len)} after the grant" if times else "after the granted time"
    if event is Event.EGRESS_ACTION:
        return _after_egress(door)
    if event is Event.FIRE_ALARM:
        return _after_alarm(door)
    if event is Event.OUTSIDE_DEVICE_TORN_OFF or event is Event.LOCK_CABLE_CUT or event is Event.OUTPUT_STUCK:
        return "after repair"
    if event in (Event.MAINS_LOST, Event.STANDBY_EXHAUSTED, Event.POE_PORT_LOST, Event.SENSOR_POWER_LOST):
        return "when power is back"
    if event in (Event.CONTROLLER_DEAD, Event.CONTROLLER_HUNG, Event.NETWORK_LOST):
        return "when the controller works again"
    return ""


def _after_egress(door: Door) -> str:
    times = [
        item.hold_time.text for item in door.items if isinstance(item.hold_time, Quantity) and item.side != "unsecured"
    ]
    rearm = _rearm(door)
    held = (
        f"{', '.join(dict.fromkeys(times))} after the last use"
        if times
        else "when the release devices are at rest again"
    )
    return f"{held}, {rearm}" if rearm else held


def _after_alarm(door: Door) -> str:
    resets = {item.reset for item in door.items if kind_of(item) in FIRE}
    if "manual" in resets:
        text = "after manual reset of the fire alarm"
    elif resets == {"automatic"}:
        text = "by itself when the alarm falls silent"
    else:
        text = "after reset of the fire alarm; the spec does not say how"
    rearm = _rearm(door)
    return f"{text}, {rearm}" if rearm else text


def _rearm(door: Door) -> str:
    egress = door.opening.egress
    if egress is None or egress is UNKNOWN or not isinstance(egress.rearm, str):
        return ""
    return "armed again by hand" if egress.rearm == "manual" else "arms itself"
