"""What somebody on the unsecured side can do to the conductors of an opening: which they reach, and what each opens.

Reached are the terminals of every device on the unsecured side, the conductors that end there, and those of other
devices that run in the same cable as them; and a power source that stands where anybody can reach it. A pair that is
reached can be cut, shorted, and fed from what else is at hand (the device's own supply, or a battery in a pocket), so a
lock's pair can be given current and robbed of it. In or on the leaf counts as not reached: its terminals are covered
while the leaf is closed.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import Literal

from ..circuit.feeds import Feed
from ..outcome import Place
from ..spec.fields import UNKNOWN, Undecided
from ..spec.model import Item, PowerSource
from .circuit import Case
from .door import (
    CONTROLLERS,
    ELECTRONIC,
    LOCK_KINDS,
    READERS,
    RELEASERS,
    STAFF,
    Door,
    kind_of,
    signals_to,
)
from .moment import moment
from .states import Truth, once, unknown

What = Literal["pair", "contact", "output", "signal", "supply", "link", "mains"]


@dataclass(frozen=True, slots=True)
class Conductor:
    """One pair of conductors, or one terminal, of an opening.

    label: how messages call it. item: the device that it belongs to. what: a lock's or device's feed (`pair`), a dry
    `contact`, a switched `output`, a `signal` to an input, the `supply` of a device outside, a command `link` to a
    relay module, or a power source (`mains`). reached: whether it can be reached from the unsecured side, and why.
    """

    label: str
    item: Item | PowerSource
    what: What
    reached: Truth
    place: Place
    why: str = ""


@dataclass(frozen=True, slots=True)
class Attempt:
    """One thing done to a reached conductor: `act` is "shorted", "opened", "fed" or "forged"; `case` what is then."""

    act: str
    case: Case


@dataclass(frozen=True, slots=True)
class Exposed:
    """One conductor with what becomes of the door when it is shorted or opened.

    unlocks: whether any attempt on it unlocks the door: yes, no, or not known (`open_because`). It is no for a
    conductor that cannot be reached. act: the attempt that does it. locks: the locks that let go. because: the way
    from the attempt to the lock.
    """

    conductor: Conductor
    unlocks: bool | None
    act: str = ""
    locks: tuple[Item, ...] = ()
    because: tuple[str, ...] = ()
    open_because: tuple[Undecided, ...] = field(default=(), compare=False)


def is_outside(door: Door, item: Item) -> Truth:
    """Whether a device stands where it is reached from the unsecured side. Where both sides are unsecured, every
    reader is."""
    if door.opening.unsecured_side == "both" and kind_of(item) in READERS and item.side != "remote":
        return Truth(True, (f"{item.name} is reached, for both sides are unsecured",))
    if item.side == "unsecured":
        return Truth(True, (f"{item.name} is on the unsecured side",))
    if item.side is None or item.side is UNKNOWN:
        # a device whose side is not stated: a reader or station is outside by its purpose, a lock is in the leaf
        if kind_of(item) in ("reader", "keypad", "intercom"):
            return Truth(True, (f"{item.name} is used from the unsecured side",))
        if kind_of(item) in ELECTRONIC | CONTROLLERS | {"relay", STAFF}:
            return unknown(Undecided("side", item.at("side"), stated=item.side is UNKNOWN))
    return Truth(False)


def _cable_outside(door: Door, item: Item) -> Truth:
    """Whether the item's own conductors run in one cable with those of a device outside."""
    partners = [other for other in door.items if other.shares_cable_with == item.name]
    if isinstance(item.shares_cable_with, str) and item.shares_cable_with in door.opening.items:
        partners.append(door.opening.items[item.shares_cable_with])
    gaps: list[Undecided] = []
    for partner in partners:
        outside = is_outside(door, partner)
        if outside.value is True:
            return Truth(True, (f"the conductors of {item.name} run in the cable of {partner.name}, {outside.why[0]}",))
        gaps.extend(outside.gaps)
    return unknown(*gaps) if gaps else Truth(False)


def conductors(door: Door) -> Iterator[Conductor]:
    """Every conductor pair and terminal of a door that bears on its locks."""
    for item in door.items:
        outside = is_outside(door, item)
        own = _cable_outside(door, item) if outside.value is False else outside
        for feed in door.feeds(item):
            what: What = "pair" if kind_of(item) in LOCK_KINDS | {"relay"} else "supply"
            yield Conductor(f"the feed of {item.name}", item, what, own, feed.place)
        if item.side == "unsecured" and kind_of(item) in ELECTRONIC and not door.feeds(item):
            yield Conductor(f"the supply of {item.name}", item, "supply", outside, item.place.key)
        if signals_to(item) and kind_of(item) in RELEASERS | {STAFF}:
            yield Conductor(f"the signal of {item.name}", item, "signal", own, item.at("signals"))
        if kind_of(item) == "relay_module":
            yield from _links(door, item)
    for identity, (label, device, place) in _contacts(door).items():
        outside = is_outside(door, device)
        reached = _cable_outside(door, device) if outside.value is False else outside
        yield Conductor(label, device, "contact", reached, place, identity)
    for lock, feed in _lock_feeds(door):
        owner = feed.terminal.owner
        if isinstance(owner, Item):
            label = f"{feed.terminal.label}, which feeds {lock.name}"
            yield Conductor(label, owner, "output", is_outside(door, owner), feed.place)
    for source in _sources(door):
        known = {"unsecured": Truth(True, (f"{source.id} stands where anybody can reach it",)), "secured": Truth(False)}
        reached = known.get(str(source.location), Truth(False))
        yield Conductor(f"the power source {source.id}", source, "mains", reached, source.at("location"))


def _links(door: Door, module: Item) -> Iterator[Conductor]:
    for commander in door.commanders(module):
        outside = is_outside(door, commander)
        sheet = module.sheet
        reached = outside
        if outside.value is not False and sheet is not None:
            proven = {sheet.authenticated_link, commander.sheet.authenticated_link if commander.sheet else None}
            if False not in proven and True in proven:
                reached = Truth(False, (f"{module.name} obeys no forged command",))
            elif False not in proven:
                gap = Undecided("authenticated_link", sheet.at("authenticated_link"), stated=UNKNOWN in proven)
                reached = unknown(*outside.gaps, gap)
        label = f"the link from {commander.name} to {module.name}"
        yield Conductor(label, module, "link", reached, commander.place.key)


def _contacts(door: Door) -> dict[str, tuple[str, Item, Place]]:
    found: dict[str, tuple[str, Item, Place]] = {}
    for item in door.items:
        for feed in door.feeds(item):
            for use in feed.contacts:
                if isinstance(use.owner, Item):
                    label = f"the contact {use.owner.name}.{use.name} in the feed of {item.name}"
                    found.setdefault(use.identity, (label, use.owner, use.place))
    return found


def _lock_feeds(door: Door) -> Iterator[tuple[Item, Feed]]:
    for lock in door.locks:
        for feed in door.feeds(lock):
            yield lock, feed


def _sources(door: Door) -> tuple[PowerSource, ...]:
    return tuple({source.id: source for _, feed in _lock_feeds(door) for source in feed.sources}.values())


def attempts(door: Door, conductor: Conductor) -> Iterator[Attempt]:
    """What can be done to a conductor that is reached."""
    item, what = conductor.item, conductor.what
    if isinstance(item, PowerSource):
        yield Attempt("switched off", Case(terminals=frozenset({item.id})))
    elif what == "pair":
        yield Attempt("opened or shorted", Case(feeds=frozenset({(item.identity, False)})))
        yield Attempt("given current", Case(feeds=frozenset({(item.identity, True)})))
    elif what == "contact":
        yield Attempt("opened", Case(contacts=frozenset({(conductor.why, False)})))
        yield Attempt("shorted", Case(contacts=frozenset({(conductor.why, True)})))
    elif what == "output":
        fed = [lock.identity for lock, feed in _lock_feeds(door) if feed.terminal.owner is item]
        yield Attempt("opened", Case(feeds=frozenset((name, False) for name in fed)))
        yield Attempt("bridged to the supply beside it", Case(feeds=frozenset((name, True) for name in fed)))
    elif what == "signal":
        yield Attempt("shorted or opened", Case(forged=frozenset({item.identity})))
    elif what == "link":
        yield Attempt("fed a forged command", Case(forged=frozenset({item.identity})))
    else:
        gone = Case(items=frozenset({item.identity}))
        yield Attempt("opened", gone)
        yield Attempt("shorted", replace(gone, terminals=frozenset(_shorted(door, item))))


def _shorted(door: Door, item: Item) -> Iterator[str]:
    """The outputs that a short across a device's supply takes down: its own, and those before it without any
    protection between."""
    for feed in door.feeds(item):
        terminal = feed.terminal
        if terminal.supply == "poe":
            continue  # each port is cut off by itself (IEEE 802.3); a switch is one terminal here for all its ports
        yield terminal.identity
        while terminal.output.protection == "none" and terminal.passes_on is not None:
            terminal = terminal.passes_on.terminal
            yield terminal.identity


def torn_off(door: Door) -> Case:
    """The devices outside gone, with nothing else done."""
    gone = frozenset(item.identity for item in door.items if is_outside(door, item).value is True)
    return Case(items=gone)


def exposed(door: Door) -> tuple[Exposed, ...]:
    """Every conductor with what its attempts do, in the secured hours and with nobody near."""
    before = {lock.identity: moment(door, Case()).locked(lock).value for lock in door.locks}
    found = []
    for conductor in conductors(door):
        if conductor.reached.value is False:
            found.append(Exposed(conductor, False))
            continue
        found.append(_tried(door, conductor, before))
    return tuple(found)


def _tried(door: Door, conductor: Conductor, before: dict[str, bool | None]) -> Exposed:
    gaps: list[Undecided] = []
    for attempt in attempts(door, conductor):
        then = moment(door, attempt.case)
        locked = then.door_locked()
        if locked.value is False and any(before.values()):
            if conductor.reached.value is None:
                return Exposed(conductor, None, open_because=conductor.reached.gaps)
            gone = tuple(lock for lock in door.locks if then.locked(lock).value is False and before[lock.identity])
            why = (*conductor.reached.why, f"{conductor.label} is {attempt.act}", *locked.why)
            return Exposed(conductor, True, attempt.act, gone, tuple(dict.fromkeys(why)))
        if locked.value is None:
            gaps.extend(locked.gaps)
    if gaps:
        return Exposed(conductor, None, open_because=once((*conductor.reached.gaps, *gaps)))
    return Exposed(conductor, False)
