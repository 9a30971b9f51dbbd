"""The state of one opening at one moment: a pure function of its wiring and of what is the case then."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, fields, replace

from ..circuit.feeds import ContactUse, Feed, Terminal
from ..quantity import Quantity
from ..spec.fields import UNKNOWN, Undecided
from ..spec.model import Battery, Item, PowerSource
from .door import (
    BOLTS,
    DELAYED,
    EXIT_GROUP,
    FIRE,
    LEVER_LOCKS,
    LOCK_KINDS,
    RELEASERS,
    RETRACTION,
    SENSORS,
    STAFF,
    STRIKE,
    TRIM,
    Door,
    Leaf,
    closed_without_power,
    kind_of,
    powered,
    sheet_truth,
)
from .states import NO, YES, Egress, Ingress, Truth, all_of, any_of, either, negate, once, unknown


@dataclass(frozen=True, slots=True)
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


class Moment:
    """What each part of a door does in one case. Asked once, an answer is kept."""

    def __init__(self, door: Door, case: Case) -> None:
        self.door = door
        self.case = case
        self._kept: dict[tuple[str, str], Truth] = {}
        self._forced_contacts = dict(case.contacts)
        self._forced_feeds = dict(case.feeds)

    def _once(self, what: str, who: str, compute: Callable[[], Truth], stuck: Callable[[], Undecided]) -> Truth:
        """Each answer once. A question that leads back to itself (a relay in its own feed) has no answer."""
        key = (what, who)
        if key not in self._kept:
            self._kept[key] = unknown(stuck())
            self._kept[key] = compute()
        return self._kept[key]

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
        return all_of((self.decided(owner, Truth(fed), rest, load), supply))

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
            return self.decided(owner, idle, without, feed.item, use)
        if kind_of(owner) == "relay":
            return self._relay(owner, use, without)
        if owner.identity in self.case.items:
            return without.said(f"{owner.name} is torn off")
        live = self.on(owner) if powered(owner) else YES
        if live.value is False:
            return without.said(*live.why)
        now = negate(idle).said(f"{owner.name} acts on {_label(use)}") if self.operated(owner) else idle
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

    def operated(self, item: Item) -> bool:
        """Whether somebody, or the fire alarm, makes a device act."""
        kind, case = kind_of(item), self.case
        if item.name in case.mute:
            return False
        if kind in FIRE:
            return case.fire
        if kind in RELEASERS:
            return case.occupant and item.side != "unsecured"
        if kind == STAFF:
            return (case.staff and item.side != "unsecured") or (case.key and item.side == "unsecured")
        return False

    # decisions

    def decided(self, owner: Item, idle: Truth, without: Truth, load: Item, use: ContactUse | None = None) -> Truth:
        """What the output or contact of a decider does."""
        case, name = self.case, _label(use) if use is not None else owner.name
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
            elif kind in RELEASERS | {STAFF} and self.operated(item):
                says = YES.said(f"{item.name} asks {decider.name} to release")
                causes.append(all_of((heard, self.on(item), self._let_out(load), says)))
            elif kind in FIRE and self.operated(item) and door.fail_mode(load) == "safe":
                causes.append(all_of((heard, YES.said(f"{item.name} tells {decider.name} to release"))))
        return any_of(causes)

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
            return NO.said("there is no reader on that side")
        conditions = [any_of(self.on(reader) for reader in readers), self.on(commander)]
        if case.network_lost:
            knows = YES.said(f"{commander.name} decides by its own list")
            conditions.append(self._offline(commander, {"local_list": knows, "unlocked": YES}))
        return all_of((*conditions, YES.said(f"{commander.name} grants the credential")))

    # locks and leaves

    def locked(self, lock: Item) -> Truth:
        """Whether an electric lock is locked."""
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
        if energised.value is None:
            return energised
        if mode == "safe":
            held = "has current and holds" if energised.value else "is fail-safe and has no current"
            return energised.said(f"{lock.name} {held}")
        if energised.value:
            return NO.said(*energised.why, f"{lock.name} gets current and releases")
        kept = "stays locked" if mode == "as_is" else "is fail-secure and has no current"
        return YES.said(*energised.why, f"{lock.name} {kept}")

    def door_locked(self) -> Truth:
        """Whether the door is locked as met from the unsecured side: every leaf is."""
        return all_of(self._leaf_locked(leaf) for leaf in self.door.leaves)

    def _leaf_locked(self, leaf: Leaf) -> Truth:
        locks = [self.locked(lock) for lock in leaf.locks]
        if not locks:
            locks = [self._bars(item) for item in leaf.latchers]
        return any_of((*locks, *(_undescribed(item) for item in leaf.undescribed)))

    def latched(self) -> Truth:
        """Whether every leaf is positively latched."""
        return all_of(self._leaf_latched(leaf) for leaf in self.door.leaves)

    def _leaf_latched(self, leaf: Leaf) -> Truth:
        ways = [self._own_latch(item) for item in leaf.holders]
        if leaf.latchers or leaf.strikes:
            # a strike works on a latch, be the lock that carries it listed or not
            bolts = any_of(self._own_latch(item) for item in leaf.latchers) if leaf.latchers else YES
            drawn = (self.locked(item) for item in leaf.latchers if kind_of(item) == RETRACTION)
            ways.append(all_of((bolts, *drawn, *(self.locked(strike) for strike in leaf.strikes))))
        return any_of((*ways, *(_undescribed(item) for item in leaf.undescribed)))

    def _own_latch(self, item: Item) -> Truth:
        kind, sheet = kind_of(item), item.sheet
        if sheet is None:
            return sheet_truth(item, "latch", {})
        by_sheet: dict[object, Truth] = {True: YES, False: NO}
        if kind in EXIT_GROUP or kind in LEVER_LOCKS:
            by_sheet[None] = YES  # these have a latch by what they are
        elif kind == "mechanical_lock" and isinstance(sheet.function, str):
            by_sheet[None] = YES
        elif kind in BOLTS:
            by_sheet[None] = by_sheet[False] = self.locked(item)
        elif kind != DELAYED and kind != "mechanical_lock":
            by_sheet[None] = NO
        return sheet_truth(item, "latch", by_sheet)

    def _bars(self, item: Item) -> Truth:
        """Whether a latching device keeps people out as long as its latch is held."""
        kind = kind_of(item)
        functions: dict[object, Truth] = dict.fromkeys(("storeroom", "classroom", "entrance", "exit"), YES)
        functions.update({"passage": NO, "privacy": NO})
        if kind in LOCK_KINDS:
            always_free = item.sheet is not None and item.sheet.function in ("passage", "privacy")
            return NO if always_free else self.locked(item)
        return sheet_truth(item, "function", functions)

    def _passes(self, leaf: Leaf, device: Callable[[Item], Truth], latch: Callable[[Leaf], Truth]) -> Truth:
        """Whether a leaf opens: each holder lets go or gives way by `device`, and the latch yields by `latch` or
        the strike lets it through."""
        ways = [any_of((negate(self.locked(item)), device(item))) for item in leaf.holders]
        if leaf.strikes or leaf.latchers:
            through = [negate(self.locked(strike)) for strike in leaf.strikes]
            strike = all_of(through) if through else NO
            ways.append(any_of((strike, latch(leaf))))
        return all_of((*ways, *(_undescribed(item) for item in leaf.undescribed)))

    def open_outside(self, leaf: Leaf) -> Truth:
        """Whether a leaf opens from the unsecured side without a key."""
        return self._passes(leaf, lambda _: NO, self._outside_latch)

    def _outside_latch(self, leaf: Leaf) -> Truth:
        if not leaf.latchers:
            first = leaf.strikes[0]
            return unknown(Undecided("function", first.place.key, stated=False))
        electric = [item for item in leaf.latchers if kind_of(item) in (TRIM, RETRACTION)]
        grouped = [item for item in leaf.latchers if kind_of(item) in EXIT_GROUP] if electric else []
        others = [negate(self._bars(item)) for item in leaf.latchers if item not in grouped]
        if grouped:
            others.append(any_of(negate(self._bars(item)) for item in electric))
        return all_of(others)

    def open_by_key(self, leaf: Leaf) -> Truth:
        """Whether a mechanical key opens a leaf."""
        cylinder = any(kind_of(item) == "cylinder" and item.leaf in (leaf.name, None) for item in self.door.items)

        def keyed(item: Item) -> Truth:
            table: dict[object, Truth] = {True: YES, False: NO}
            if cylinder:
                table[None] = YES
            return sheet_truth(item, "key_override", table)

        def latch(leaf: Leaf) -> Truth:
            return any_of((*(self._keyed_latch(item, cylinder) for item in (*leaf.latchers, *leaf.strikes)),))

        return self._passes(leaf, lambda item: keyed(item) if kind_of(item) in BOLTS else NO, latch)

    def _keyed_latch(self, item: Item, cylinder: bool) -> Truth:
        table: dict[object, Truth] = {True: YES, False: NO}
        sheet = item.sheet
        if cylinder or (sheet is not None and sheet.function in ("storeroom", "classroom", "entrance")):
            table[None] = YES  # these functions have a key by definition
        elif kind_of(item) == STRIKE:
            table[None] = NO
        return sheet_truth(item, "key_override", table)

    def open_inside(self, leaf: Leaf) -> Truth:
        """Whether a leaf opens for somebody inside, with what people do in this case."""
        return self._passes(leaf, self.door.opens_mechanically, self.door.lets_out)

    def delays(self, leaf: Leaf) -> bool:
        """Whether a leaf lets people out after a delay: what holds it is a delayed egress device."""
        held = [item for item in leaf.holders if self.locked(item).value is not False]
        return bool(held) and all(kind_of(item) == DELAYED for item in held) and self.door.lets_out(leaf).value is True


def _undescribed(item: Item) -> Truth:
    if item.sheet is None:
        return unknown(Undecided("product", item.at("product"), stated=item.product is not None))
    return unknown(Undecided("kind", item.sheet.at("kind"), stated=item.sheet.kind is not None))


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


@dataclass(frozen=True, slots=True)
class Cells:
    """The cells of a row, with why and what they wait for."""

    lock: Truth
    latch: Truth
    egress: Egress | None
    ingress_without: Ingress | None
    ingress_with: Ingress | None
    because: tuple[str, ...]
    gaps: tuple[Undecided, ...]


def cells(door: Door, case: Case, *, for_granted_time: bool = False) -> Cells:
    """The cells of a door in a case. `for_granted_time`: an open door is open only as long as the release lasts."""
    if not door.leaves:
        return _no_lock_listed(door)
    now = Moment(door, case)
    lock, latch = now.door_locked(), now.latched()
    egress, out_gaps, out_why = way_out(door, case, now)
    outside = any_of(now.open_outside(leaf) for leaf in door.leaves)
    without: Ingress | None = None
    if outside.value is not None:
        opened = Ingress.GRANTED if for_granted_time else Ingress.YES
        without = opened if outside.value else Ingress.NO
    with_credential, in_gaps = _way_in(door, case, outside)
    gaps = once((*lock.gaps, *latch.gaps, *out_gaps, *outside.gaps, *in_gaps))
    because = tuple(dict.fromkeys((*lock.why, *out_why)))
    return Cells(lock, latch, egress, without, with_credential, because, gaps)


def _no_lock_listed(door: Door) -> Cells:
    """An opening whose items are listed and none of which locks or latches: nothing holds it. Whether a latch is left
    out of the list is not known, unless people open the leaf by pushing or pulling alone."""
    gap = Undecided("items", door.opening.place.key, stated=False)
    egress = door.opening.egress
    free = egress is not None and egress is not UNKNOWN and egress.by == "free"
    if not door.items and not free:
        nothing = unknown(gap)
        return Cells(nothing, nothing, None, None, None, (), nothing.gaps)
    latch = NO if free else unknown(gap)
    why = ("nothing that locks the leaf is listed",)
    return Cells(NO, latch, Egress.FREE, Ingress.YES, Ingress.YES, why, latch.gaps)


def way_out(door: Door, case: Case, now: Moment) -> tuple[Egress | None, tuple[Undecided, ...], tuple[str, ...]]:
    """How somebody inside gets out: the best of the leaves."""
    found: list[tuple[Egress | None, tuple[Undecided, ...], tuple[str, ...]]] = []
    acting = Moment(door, replace(case, occupant=True))
    helped = Moment(door, replace(case, occupant=True, staff=True))
    for leaf in door.leaves:
        opened = acting.open_inside(leaf)
        if opened.value is True:
            delayed = _timed(door) and now.open_inside(leaf).value is not True
            found.append((Egress.DELAYED if delayed else Egress.FREE, (), ()))
        elif opened.value is None:
            found.append((None, opened.gaps, ()))
        elif acting.delays(leaf):
            found.append((Egress.DELAYED, (), ()))
        else:
            by_staff = helped.open_inside(leaf)
            if by_staff.value is None:
                found.append((None, by_staff.gaps, ()))
            else:
                found.append((Egress.STAFF if by_staff.value else Egress.IMPOSSIBLE, (), opened.why))
    known = [one for one in found if one[0] is not None]
    best = min(known, key=lambda one: one[0].rank if one[0] is not None else 9, default=None)
    if best is not None and (best[0] is Egress.FREE or len(known) == len(found)):
        return best
    return None, once(gap for one in found for gap in one[1]), ()


def _timed(door: Door) -> bool:
    """Whether the release of a lock that is no delayed egress device comes after a stated delay."""
    egress = door.opening.egress
    if egress is None or egress is UNKNOWN or not isinstance(egress.delay, Quantity) or egress.delay.value <= 0:
        return False
    return not any(kind_of(lock) == DELAYED for lock in door.locks)


def _way_in(door: Door, case: Case, outside: Truth) -> tuple[Ingress | None, Iterable[Undecided]]:
    if outside.value is True:
        return Ingress.YES, ()
    granted = Moment(door, replace(case, grant=True))
    opened = any_of(granted.open_outside(leaf) for leaf in door.leaves)
    if opened.value is True:
        return Ingress.YES, ()
    if opened.value is None:
        return None, opened.gaps
    keyed = Moment(door, replace(case, key=True))
    by_key = any_of(any_of((keyed.open_by_key(leaf), keyed.open_outside(leaf))) for leaf in door.leaves)
    if by_key.value is None:
        return None, by_key.gaps
    return (Ingress.KEY if by_key.value else Ingress.NO), ()
