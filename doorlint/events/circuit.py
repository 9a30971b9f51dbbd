"""The state of an opening's wiring in one case: what has power, which contacts pass, what the controllers command."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import fields
from operator import attrgetter
from typing import Final

from ..circuit.feeds import ContactUse, Feed, Terminal
from ..plain import plain
from ..quantity import Quantity
from ..spec.fields import UNKNOWN, Undecided
from ..spec.model import Battery, Item, PowerSource
from .door import (
    DELAYED,
    FIRE,
    LOCK_KINDS,
    READERS,
    RELEASERS,
    SENSORS,
    STAFF,
    Door,
    closed_without_power,
    kind_of,
    powered,
    sheet_truth,
)
from .states import NO, YES, Truth, all_of, any_of, either, negate, once, unknown


@plain
class Case:
    """What is the case at a moment: faults, what people do, and what somebody outside does to conductors.

    `contacts` and `feeds` hold what is forced on a contact or an item's feed, by identity; `terminals`, `items` what is
    dead; `forged` the devices that are made to believe a command or a request to exit; `mute` the devices that do not
    react when they are used.
    """

    poe_lost: bool = False
    mains_lost: bool = False
    exhausted: bool = False
    network_lost: bool = False
    dead: bool = False
    hung: bool = False
    stuck: bool = False
    fire: bool = False
    cut: bool = False
    sensors_dead: bool = False
    lockdown: bool = False
    grant: bool = False
    occupant: bool = False
    staff: bool = False
    key: bool = False
    contacts: frozenset[tuple[str, bool]] = frozenset()
    feeds: frozenset[tuple[str, bool]] = frozenset()
    terminals: frozenset[str] = frozenset()
    items: frozenset[str] = frozenset()
    forged: frozenset[str] = frozenset()
    mute: frozenset[str] = frozenset()

    def both(self, other: Case) -> Case:
        """Both at once."""
        merged = {f.name: getattr(self, f.name) | getattr(other, f.name) for f in fields(self)}
        return Case(**merged)

    def when(self, **people: bool) -> Case:
        """The same with what people do set otherwise."""
        given = dict(zip(Case.__match_args__, _ALL_OF_CASE(self), strict=True))
        return Case(**{**given, **people})


_ALL_OF_CASE: Final = attrgetter(*Case.__match_args__)


class Circuit:
    """What each conductor, contact and device of a door does in one case. Asked once, an answer is kept."""

    def __init__(self, door: Door, case: Case) -> None:
        self.door = door
        self.case = case
        self._kept: dict[tuple[str, str], Truth | None] = {}
        self._forced_contacts = dict(case.contacts)
        self._forced_feeds = dict(case.feeds)

    def _once(self, what: str, who: str, compute: Callable[[], Truth], stuck: Callable[[], Undecided]) -> Truth:
        """Each answer once. A question that leads back to itself (a relay in its own feed) has no answer."""
        key = (what, who)
        found = self._kept.get(key)
        if found is None:
            if key in self._kept:  # it is being worked out
                found = unknown(stuck())
            else:
                self._kept[key] = None
                found = compute()
            self._kept[key] = found
        return found

    # power

    def source(self, source: PowerSource, seen: tuple[str, ...] = ()) -> Truth:
        """Whether a source has power."""
        case = self.case
        if source.id in case.terminals:
            return NO.said(f"{source.id} is cut off")
        if not (case.mains_lost or case.exhausted) or source.kind == "fire_alarm_panel":
            return YES  # a fire alarm panel has standby power of its own
        if case.exhausted:
            return NO.said(f"{source.id} has no power")
        if source.kind == "mains":
            return NO.said(f"{source.id} is lost")
        backed = isinstance(source.battery, Battery) or (
            isinstance(source.backup, Quantity) and source.backup.value > 0
        )
        if backed or source.kind in ("ups", "generator"):
            return YES
        doubtful = [name for name in ("battery", "backup") if getattr(source, name) is UNKNOWN]
        upstream = source.fed_from.partition(".")[0] if isinstance(source.fed_from, str) else ""
        behind = self.door.spec.power.get(upstream)
        if behind is not None and source.id not in seen:
            before = self.source(behind, (*seen, source.id))
            if before.value is not False or not doubtful:
                return before if before.value is not False else before.said(f"{source.id} has no standby power")
        elif not doubtful:
            if isinstance(source.backup, Quantity):
                return NO.said(f"{source.id} has no standby power")
            doubtful = ["backup"] if source.fed_from is None else ["fed_from"]
        return unknown(*(Undecided(n, source.at(n), stated=getattr(source, n) is not None) for n in doubtful))

    def terminal(self, terminal: Terminal, load: Item) -> Truth:
        """Whether an output gives power to `load`."""
        if terminal.identity in self.case.terminals:
            return NO.said(f"{terminal.label} is shorted")
        owner = terminal.owner
        if isinstance(owner, PowerSource):
            if self.case.poe_lost and terminal.supply == "poe":
                return NO.said(f"the PoE port of {load.name} is dead")
            return self.source(owner)
        return self._once(
            "terminal",
            terminal.identity,
            lambda: self._output(terminal, owner, load),
            lambda: Undecided("fed_from", owner.at("fed_from"), stated=True),
        )

    def _output(self, terminal: Terminal, owner: Item, load: Item) -> Truth:
        passed = terminal.passes_on
        supply = self.current(passed) if passed is not None else self.on(owner)
        kind, switch = kind_of(owner), terminal.output.switch
        if kind == "relay" and switch in ("relay", "solid_state"):
            closed_at_rest = terminal.output.rest == "closed"
            coil = self.on(owner)
            return negate(coil) if closed_at_rest else coil
        decides = owner.identity in self.door.deciders
        feed = next((feed for feed in self.door.feeds(load) if feed.terminal.identity == terminal.identity), None)
        # an output of a decider that feeds a lock is the one it switches, unless a contact switches the lock
        alone = feed is not None and not any(use.why == "switched_by" for use in feed.contacts)
        inferred = switch in (None, UNKNOWN) and alone and kind_of(load) in LOCK_KINDS | {"relay"}
        switched = decides and (switch in ("relay", "solid_state") or inferred)
        if not switched:
            if self.case.dead and decides and passed is None:
                return NO.said(f"{owner.name} is dead and gives no power")
            return supply
        rest = {"open": NO, "closed": YES}.get(str(terminal.output.rest), NO)
        fed = self.door.rests_fed(feed) if feed is not None else True
        if fed is None:
            return unknown(self.door.fail_gap(load))
        return all_of((self.decided(owner, Truth(fed), rest, load, terminal.label), supply))

    def current(self, feed: Feed) -> Truth:
        """Whether a feed carries current."""
        item = feed.item
        if item.identity in self._forced_feeds:
            fed = self._forced_feeds[item.identity]
            return Truth(fed, (f"the conductors of {item.name} are {'fed' if fed else 'cut or shorted'} outside",))
        if self.case.cut and kind_of(item) in LOCK_KINDS:
            return NO.said(f"the cable of {item.name} is cut")
        return all_of((self.terminal(feed.terminal, item), self._path(feed)))

    def _path(self, feed: Feed) -> Truth:
        """Whether the contacts of a feed let current through.

        Contacts are in series. In the feed of a lock that opens with current, a release contact that is open at
        rest stands beside the switching contacts, for it could never let current through behind them.
        """
        unresolved = [unknown(gap) for gap in _unresolved(feed)]
        if not feed.contacts:
            return unresolved[0] if unresolved else YES
        rests = [self.idle(use, feed) for use in feed.contacts]
        if self.door.rests_fed(feed) is not False:
            states = (self.contact(use, feed, rest) for use, rest in zip(feed.contacts, rests, strict=True))
            return all_of((*states, *unresolved))
        path = self._beside_or_behind(feed, rests)
        # a contact that is not known may stand behind the others or beside them
        return either(path, negate(path), *_unresolved(feed)) if unresolved else path

    def _beside_or_behind(self, feed: Feed, rests: list[Truth]) -> Truth:
        """The path where release contacts stand by their state at rest; one of unknown state is tried as both."""
        for index, rest in enumerate(rests):
            if rest.value is None and feed.contacts[index].why == "released_by":
                tried = [[*rests[:index], Truth(value), *rests[index + 1 :]] for value in (True, False)]
                closed, opened = (self._beside_or_behind(feed, attempt) for attempt in tried)
                return either(closed, opened, *rest.gaps)
        switching: list[Truth] = []
        behind: list[Truth] = []
        beside: list[Truth] = []
        for use, rest in zip(feed.contacts, rests, strict=True):
            state = self.contact(use, feed, rest)
            if use.why == "switched_by":
                switching.append(state)
            else:
                (beside if rest.value is False else behind).append(state)
        if not beside:
            return all_of((*switching, *behind))
        return all_of((any_of((all_of(switching) if switching else NO, *beside)), *behind))

    def on(self, item: Item) -> Truth:
        """Whether a device has the power that it needs."""
        return self._once(
            "on", item.identity, lambda: self._on(item), lambda: Undecided("fed_from", item.at("fed_from"), stated=True)
        )

    def _on(self, item: Item) -> Truth:
        case = self.case
        if item.identity in case.items:
            return NO.said(f"{item.name} is torn off")
        if case.sensors_dead and kind_of(item) in SENSORS and powered(item):
            return NO.said(f"{item.name} has no power")
        feeds = self.door.feeds(item)
        if feeds:
            found = any_of(self.current(feed) for feed in feeds)
            return found.said(f"{item.name} has no power") if found.value is False else found
        if not powered(item) or kind_of(item) in FIRE:
            return YES
        if case.poe_lost or case.mains_lost or case.exhausted:
            return unknown(self.door.feed_gap(item))
        return YES

    # contacts

    def idle(self, use: ContactUse, feed: Feed) -> Truth:
        """Whether a contact passes current in normal operation, nobody near.

        Where the spec does not say whether its relay is energised then, it is in the state that keeps the lock locked:
        in any other the door would never lock.
        """
        owner, contact = use.owner, use.contact
        without = closed_without_power(use)
        if not (isinstance(owner, PowerSource) or powered(owner) or kind_of(owner) in FIRE or self._is_decider(owner)):
            if without.value is not None:
                return without
            fed = self.door.rests_fed(feed)
            return YES if fed else without
        energised = owner.energised_at_rest if isinstance(owner, Item) else None
        if isinstance(energised, bool) and without.value is not None:
            return Truth(without.value is not energised)
        if contact.form in ("no", "nc") and contact.rest in ("open", "closed"):
            by_form = contact.form == "nc"
            if without.value is not by_form:
                return Truth(by_form)
        fed = self.door.rests_fed(feed)
        if fed is None:
            return unknown(self.door.fail_gap(feed.item))
        if fed:
            return YES
        if use.why == "switched_by":
            return NO
        if isinstance(owner, Item) and kind_of(owner) in FIRE:
            # in the feed of a lock that opens with current, a fire alarm may close a contact to release or open one
            # to secure; only the rest state tells which
            return unknown(Undecided("energised_at_rest", owner.at("energised_at_rest"), stated=energised is UNKNOWN))
        return without

    def _is_decider(self, owner: Item | PowerSource) -> bool:
        return isinstance(owner, Item) and owner.identity in self.door.deciders

    def contact(self, use: ContactUse, feed: Feed, idle: Truth) -> Truth:
        """Whether a contact in a feed passes current; `idle` says whether it does in normal operation."""
        if use.identity in self._forced_contacts:
            closed = self._forced_contacts[use.identity]
            return Truth(closed, (f"{_label(use)} is {'bridged' if closed else 'opened'} outside",))
        without, owner = closed_without_power(use), use.owner
        if isinstance(owner, PowerSource):
            if owner.kind == "fire_alarm_panel" and self.case.fire:
                return negate(idle).said(f"the fire alarm operates {_label(use)}")
            return idle
        if self._is_decider(owner):
            return self.decided(owner, idle, without, feed.item, _label(use))
        if kind_of(owner) == "relay":
            return self._relay(owner, use, without)
        if owner.identity in self.case.items:
            return without.said(f"{owner.name} is torn off")
        live = self.on(owner) if powered(owner) else YES
        if live.value is False:
            return without.said(*live.why)
        operated = self.operated(owner)
        now = idle if operated.value is False else negate(idle).said(f"{owner.name} acts on {_label(use)}")
        if operated.value is None:
            now = either(now, idle, *operated.gaps)
        return now if live.value is True else _open_between(live, now, without)

    def _relay(self, relay: Item, use: ContactUse, without: Truth) -> Truth:
        """A contact of an interposing relay follows the relay's coil."""
        if without.value is None:
            return without
        energised = self.on(relay)
        if not self.door.feeds(relay) and not isinstance(relay.energised_at_rest, bool):
            energised = unknown(self.door.feed_gap(relay))
        elif not self.door.feeds(relay):
            energised = Truth(relay.energised_at_rest is True)
        return energised if use.terminal == "no" or use.contact.form == "no" else negate(energised)

    def operated(self, item: Item) -> Truth:
        """Whether somebody, or the fire alarm, makes a device act."""
        kind, case = kind_of(item), self.case
        if item.name in case.mute:
            return NO
        if kind in FIRE:
            return YES if case.fire else NO
        if kind not in RELEASERS and kind != STAFF:
            return NO
        inside, outside = (case.staff, case.key) if kind == STAFF else (case.occupant, False)
        acts = outside if item.side == "unsecured" else inside
        if item.side is UNKNOWN and inside is not outside:
            return unknown(Undecided("side", item.at("side"), stated=True))
        return YES if acts else NO

    # decisions

    def decided(self, owner: Item, idle: Truth, without: Truth, load: Item, name: str) -> Truth:
        """What the output or contact of a decider does; `name` is what messages call it."""
        case = self.case
        if case.stuck:
            return negate(idle).said(f"{name} is stuck in release")
        if case.dead:
            return without.said(f"{owner.name} is dead, its output at rest")
        live = self.on(owner)
        if live.value is False:
            return without.said(*live.why)
        if case.hung:
            now = self._hung(owner, idle, without)
        else:
            released = self.released(owner, load)
            if released.value is None:
                return Truth(None, gaps=released.gaps)
            now = negate(idle).said(*released.why) if released.value else idle.said(*released.why)
        return now if live.value is True else _open_between(live, now, without)

    def _hung(self, owner: Item, idle: Truth, without: Truth) -> Truth:
        on_hang = owner.sheet.on_hang if owner.sheet is not None else None
        if on_hang == "rest":
            return without.said(f"{owner.name} hangs and its watchdog brings the output to rest")
        if on_hang == "holds":
            return idle.said(f"{owner.name} hangs and holds its output")
        place = owner.sheet.at("on_hang") if owner.sheet is not None else owner.place
        return either(idle, without, Undecided("on_hang", place, stated=on_hang is not None))

    def released(self, decider: Item, load: Item) -> Truth:
        """Whether a decider commands that `load` be released."""
        case, door = self.case, self.door
        causes: list[Truth] = []
        if decider.identity in case.forged:
            causes.append(YES.said(f"{decider.name} obeys a forged command"))
        commanders = door.commanders(decider)
        for commander in commanders:
            if case.network_lost:
                opens = YES.said(f"{commander.name} unlocks when it is offline")
                causes.append(self._offline(commander, {"unlocked": opens}))
            if case.grant or case.staff:
                causes.append(self._granted(commander))
        reporting = door.reporting(decider)
        heard = any_of(self.on(commander) for commander in commanders) if commanders else NO
        for item in reporting:
            kind = kind_of(item)
            if kind in RELEASERS | {STAFF} and item.identity in case.forged:
                causes.append(all_of((heard, self._let_out(load), YES.said(f"{item.name} is made to signal outside"))))
            elif kind in RELEASERS | {STAFF} and (operated := self.operated(item)).value is not False:
                says = YES.said(f"{item.name} asks {decider.name} to release")
                causes.append(all_of((heard, self.on(item), self._let_out(load), operated, says)))
            elif kind in FIRE and self.operated(item).value and door.fail_mode(load) == "safe":
                causes.append(all_of((heard, YES.said(f"{item.name} tells {decider.name} to release"))))
        causes.extend(all_of((heard, unknown(gap))) for gap in self._perhaps_told(decider))
        return any_of(causes)

    def _perhaps_told(self, decider: Item) -> Iterator[Undecided]:
        """What keeps from knowing whether a device that is given as unknown, or that reports to an unknown place, tells
        a decider to release."""
        case = self.case
        if not (case.occupant or case.staff or case.fire):
            return
        for item in self.door.items:
            if item.name in case.mute:
                continue
            if item.product is UNKNOWN or (item.sheet is not None and item.sheet.kind is UNKNOWN):
                if item.signals is UNKNOWN or item in self.door.reporting(decider):
                    yield _unnamed(item)
            elif item.signals is UNKNOWN and self.operated(item).value is not False:
                yield Undecided("signals", item.at("signals"), stated=True)

    def _let_out(self, load: Item) -> Truth:
        """A request to exit releases a lock that holds people in; elsewhere it only keeps the door alarm quiet."""
        return self.door.held_inside(load) if kind_of(load) in LOCK_KINDS else YES

    def _offline(self, commander: Item, answers: dict[object, Truth]) -> Truth:
        table: dict[object, Truth] = {"local_list": NO, "locked": NO, "unlocked": NO}
        table.update(answers)
        return sheet_truth(commander, "offline", table)

    def _granted(self, commander: Item) -> Truth:
        case, door = self.case, self.door
        if case.lockdown:
            return NO.said("lockdown refuses the credential")
        readers = [
            *(door.readers(inside=False) if case.grant else ()),
            *(door.readers(inside=True) if case.staff else ()),
        ]
        if not readers:
            doubts = tuple(_perhaps_readers(door))
            return unknown(*doubts) if doubts else NO.said("there is no reader on that side")
        conditions = [any_of(self.on(reader) for reader in readers), self.on(commander)]
        if case.network_lost:
            knows = YES.said(f"{commander.name} decides by its own list")
            conditions.append(self._offline(commander, {"local_list": knows, "unlocked": YES}))
        return all_of((*conditions, YES.said(f"{commander.name} grants the credential")))

    # locks and leaves

    def locked(self, lock: Item) -> Truth:
        """Whether an electric lock is locked."""
        return self._once("locked", lock.identity, lambda: self._locked(lock), lambda: self.door.feed_gap(lock))

    def _locked(self, lock: Item) -> Truth:
        mode, feeds = self.door.fail_mode(lock), self.door.feeds(lock)
        if not feeds:
            forced = self._forced_feeds.get(lock.identity)
            if forced is None and not self.case.cut:
                return unknown(self.door.feed_gap(lock))
            energised = Truth(bool(forced))
        else:
            energised = any_of(self.current(feed) for feed in feeds)
        if mode is None:
            return unknown(self.door.fail_gap(lock), *energised.gaps)
        told = self._told(lock)
        if mode == "safe" and told.value is not False and energised.value is not False:
            return negate(told)
        if energised.value is None:
            return energised
        if mode == "safe":
            held = "has current and holds" if energised.value else "is fail-safe and has no current"
            return energised.said(f"{lock.name} {held}")
        if energised.value:
            return NO.said(*energised.why, f"{lock.name} gets current and releases")
        kept = "stays locked" if mode == "as_is" else "is fail-secure and has no current"
        return YES.said(*energised.why, f"{lock.name} {kept}")

    def _told(self, lock: Item) -> Truth:
        """Whether a signal to the lock itself releases it: a fire alarm's, a staff switch's, or one for people inside
        (which a delayed egress device takes as the start of its delay)."""
        causes = []
        for item in self.door.telling(lock):
            delays = kind_of(item) in RELEASERS and kind_of(lock) == DELAYED
            if not delays and (operated := self.operated(item)).value is not False:
                causes.append(all_of((self.on(item), operated, YES.said(f"{item.name} tells {lock.name} to release"))))
        return any_of(causes)


def _perhaps_readers(door: Door) -> Iterator[Undecided]:
    """What keeps from knowing whether a device is a reader on one side, or on which side a reader is."""
    for item in door.items:
        if item.product is UNKNOWN or (item.sheet is not None and item.sheet.kind is UNKNOWN):
            yield _unnamed(item)
        elif item.side is UNKNOWN and kind_of(item) in READERS:
            yield Undecided("side", item.at("side"), stated=True)


def _unnamed(item: Item) -> Undecided:
    if item.sheet is None:
        return Undecided("product", item.at("product"), stated=item.product is not None)
    return Undecided("kind", item.sheet.at("kind"), stated=item.sheet.kind is not None)


def _unresolved(feed: Feed) -> tuple[Undecided, ...]:
    """What the spec says of the contacts in a feed that leads to no contact."""
    item = feed.item
    found = []
    for why in ("switched_by", "released_by"):
        listed = getattr(item, why)
        count = len(listed) if isinstance(listed, tuple) else int(listed is UNKNOWN)
        if count > sum(use.why == why for use in feed.contacts):
            found.append(Undecided(why, item.at(why), stated=True))
    return tuple(found)


def _open_between(live: Truth, with_power: Truth, without: Truth) -> Truth:
    """A contact of a device of which it is not known whether it has power."""
    if with_power.value is not None and with_power.value is without.value:
        return with_power
    return Truth(None, gaps=once((*live.gaps, *with_power.gaps, *without.gaps)))


def _label(use: ContactUse) -> str:
    owner = use.owner.name if isinstance(use.owner, Item) else use.owner.id
    return f"{owner}.{use.name}" + (f".{use.terminal}" if use.terminal else "")
