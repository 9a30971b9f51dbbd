"""One opening as the state model sees it: its leaves, what locks and latches them, who decides, what releases.

Everything here is fixed; what changes from event to event is in `moment`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from ..circuit.feeds import ContactUse, Feed, Wiring, ports
from ..outcome import Place
from ..spec.fields import UNKNOWN, Undecided
from ..spec.frozen import SetOnce
from ..spec.model import Item, Opening, PowerSource, Product, Spec
from .states import NO, YES, Truth, all_of, negate, unknown

MAGNETS = frozenset({"electromagnetic_lock", "shear_lock"})
LEVER_LOCKS = frozenset({"electrified_mortise_lock", "electrified_cylindrical_lock"})
BOLTS = frozenset({"electric_bolt", "motor_lock", "gate_lock"})
TRIM, RETRACTION, STRIKE, DELAYED = (
    "electrified_exit_trim",
    "latch_retraction_exit_device",
    "electric_strike",
    "delayed_egress_device",
)
LOCK_KINDS = MAGNETS | LEVER_LOCKS | BOLTS | {TRIM, RETRACTION, STRIKE, DELAYED}
"""Products that lock a leaf electrically."""
MECHANICAL = frozenset({"mechanical_lock", "exit_device"})
EXIT_GROUP = frozenset({"exit_device", TRIM, RETRACTION})
"""Products that are, or sit on, one exit device of a leaf."""

READERS = frozenset({"reader", "keypad", "reader_controller"})
CONTROLLERS = frozenset({"reader_controller", "door_controller", "relay_module", "interlock_controller"})
COMMANDERS = frozenset({"reader_controller", "door_controller", "intercom", "keypad"})
SWITCHERS = CONTROLLERS | {"intercom", "keypad", "reader", "other"}
"""Devices whose output or contact switches a lock by a decision, where the wiring says so."""
SENSORS = frozenset({"request_to_exit_sensor", "touch_bar"})
RELEASERS = SENSORS | {"exit_button", "emergency_release"}
"""What somebody inside uses, or is seen by, to get out."""
FIRE = frozenset({"fire_alarm_relay", "smoke_detector", "fire_alarm_panel"})
STAFF = "key_switch"
ELECTRONIC = READERS | CONTROLLERS | {"intercom", "request_to_exit_sensor", "poe_splitter", "poe_extender", "converter"}
"""Devices that do nothing without power, whatever else their sheet says."""

Owner = Item | PowerSource


def kind_of(owner: Owner) -> str:
    """The kind of an item or source; empty where it is not known."""
    if isinstance(owner, PowerSource):
        return owner.kind if isinstance(owner.kind, str) else ""
    sheet = owner.sheet
    return sheet.kind if sheet is not None and isinstance(sheet.kind, str) else ""


def stated(part: Product | Item, name: str, table: Mapping[object, Truth]) -> Truth:
    """What the value of a field stands for by `table`; not known where the table has no entry for it."""
    value = getattr(part, name)
    found = table.get(value) if value is not UNKNOWN else None
    return found if found is not None else unknown(Undecided(name, part.at(name), stated=value is not None))


def sheet_truth(item: Item, name: str, table: Mapping[object, Truth]) -> Truth:
    """As `stated`, for a field of the item's product."""
    if item.sheet is None:
        return unknown(Undecided("product", item.at("product"), stated=item.product is not None))
    return stated(item.sheet, name, table)


@dataclass(frozen=True, slots=True)
class Leaf:
    """The locking and latching devices of one leaf. `undescribed` are items that may be anything."""

    name: str
    strikes: tuple[Item, ...]
    holders: tuple[Item, ...]  # magnets, bolts, delayed egress devices: each alone blocks the leaf
    latchers: tuple[Item, ...]  # what a strike lets through: lever locks, mechanical locks, exit devices
    undescribed: tuple[Item, ...] = ()

    @property
    def locks(self) -> tuple[Item, ...]:
        """Its electric locks."""
        return tuple(item for item in (*self.strikes, *self.holders, *self.latchers) if kind_of(item) in LOCK_KINDS)


class Door(SetOnce):
    """One opening with its wiring. Never changed after it is made; what it finds out is kept."""

    def __init__(self, opening: Opening, spec: Spec, wiring: Wiring) -> None:
        self.opening = opening
        self.spec = spec
        self.wiring = wiring
        self.items = tuple(opening.items.values())
        self.kept: dict[object, Any] = {}  # the moments already looked at, by their case

    @cached_property
    def leaves(self) -> tuple[Leaf, ...]:
        """The leaves that carry a lock or latch; empty where none is listed."""
        counted = [item for item in self.items if kind_of(item) in LOCK_KINDS | MECHANICAL or not kind_of(item)]
        names = {item.leaf for item in counted if item.leaf in ("active", "inactive")} or {"single"}
        return tuple(
            leaf
            for name in sorted(str(name) for name in names)
            if (leaf := _leaf(name, [item for item in counted if item.leaf == name or item.leaf not in names])).locks
            or leaf.latchers
            or leaf.undescribed
        )

    @cached_property
    def locks(self) -> tuple[Item, ...]:
        """All electric locks, in the order of the spec."""
        return tuple(item for item in self.items if kind_of(item) in LOCK_KINDS)

    @cached_property
    def deciders(self) -> frozenset[str]:
        """The identities of the devices that decide: controllers, and what else switches a lock by a decision."""
        found = {item.identity for item in self.items if kind_of(item) in CONTROLLERS}
        for lock in self.locks:
            for feed in self.feeds(lock):
                for use in feed.contacts:
                    if use.why == "switched_by" and isinstance(use.owner, Item) and kind_of(use.owner) in SWITCHERS:
                        found.add(use.owner.identity)
                owner = feed.terminal.owner
                if isinstance(owner, Item) and kind_of(owner) in SWITCHERS:
                    found.add(owner.identity)
        return frozenset(found)

    @cached_property
    def deciding_items(self) -> tuple[Item, ...]:
        """The deciders as items, in the order of the spec."""
        return tuple(item for item in self.items if item.identity in self.deciders)

    def feeds(self, item: Item) -> tuple[Feed, ...]:
        """How the item is fed; empty where the spec does not tell."""
        return self.wiring.by_item.get(item.identity, ())

    def feed_gap(self, item: Item) -> Undecided:
        """What is missing where an item has no feed."""
        if item.sheet is None:
            return Undecided("product", item.at("product"), stated=item.product is not None)
        if isinstance(item.fed_from, tuple) and "unknown" not in item.fed_from and not ports(item):
            return Undecided("coil", item.sheet.at("coil"), stated=item.sheet.coil is not None)
        return Undecided("fed_from", item.at("fed_from"), stated=item.fed_from is not None)

    @cached_property
    def _by_signal(self) -> Mapping[str, tuple[Item, ...]]:
        """The items by the name of what they report to, in the order of the spec."""
        found: dict[str, tuple[Item, ...]] = {}
        for item in self.items:
            name = signals_to(item)
            found[name] = (*found.get(name, ()), item)
        return found

    def telling(self, item: Item) -> tuple[Item, ...]:
        """The items that report to one themselves."""
        return self._by_signal.get(item.name, ())

    def commanders(self, module: Item) -> tuple[Item, ...]:
        """The devices that tell a relay module what to do; the module itself decides for any other device."""
        if kind_of(module) != "relay_module":
            return (module,)
        named = [item for item in self.telling(module) if kind_of(item) in COMMANDERS]
        return tuple(named or (item for item in self.items if kind_of(item) in COMMANDERS & CONTROLLERS))

    def reporting(self, decider: Item) -> tuple[Item, ...]:
        """The items whose signals reach a decider, or what commands it."""
        commanders = self.commanders(decider)
        if commanders == (decider,):
            return self.telling(decider)
        names = {decider.name, *(commander.name for commander in commanders)}
        return tuple(item for item in self.items if signals_to(item) in names)

    def readers(self, *, inside: bool) -> tuple[Item, ...]:
        """The devices at which a credential is presented on the unsecured side, or inside."""
        both = self.opening.unsecured_side == "both"
        readers = [item for item in self.items if kind_of(item) in READERS]
        if inside:
            return tuple(item for item in readers if both or item.side in ("secured", "boundary"))
        return tuple(item for item in readers if both or item.side not in ("secured", "remote"))

    @cached_property
    def relay_uses(self) -> Mapping[str, tuple[tuple[ContactUse, Feed], ...]]:
        """For each relay item by identity, where its contacts stand in feeds."""
        found: dict[str, list[tuple[ContactUse, Feed]]] = {}
        for item in self.items:
            for feed in self.feeds(item):
                for use in feed.contacts:
                    if isinstance(use.owner, Item):
                        found.setdefault(use.owner.identity, []).append((use, feed))
        return {name: tuple(uses) for name, uses in found.items()}

    def fail_mode(self, lock: Item) -> str | None:
        """safe, secure or as_is; None where the spec does not tell."""
        if isinstance(lock.fail, str):
            return lock.fail
        sheet = lock.sheet
        if sheet is not None and isinstance(sheet.fail, str) and sheet.fail != "selectable":
            return sheet.fail
        if sheet is not None and sheet.fail is None:
            # by what they are: a magnet holds by its current, a latch is drawn back by current
            return "safe" if sheet.kind in MAGNETS else "secure" if sheet.kind == RETRACTION else None
        return None

    def fail_gap(self, lock: Item) -> Undecided:
        """What is missing where the fail mode of a lock, or the state of a relay at rest, is not known."""
        if kind_of(lock) == "relay":
            stated = lock.energised_at_rest is not None
            return Undecided("energised_at_rest", lock.at("energised_at_rest"), stated=stated)
        sheet = lock.sheet
        if sheet is None or sheet.fail == "selectable":
            return Undecided("fail", lock.at("fail"), stated=lock.fail is not None)
        return Undecided("fail", sheet.at("fail"), stated=sheet.fail is not None)

    def rests_fed(self, feed: Feed, seen: frozenset[str] = frozenset()) -> bool | None:
        """Whether a feed carries current in normal operation, by what it feeds; None where that is not known.

        A lock must be locked then; a relay is in the state in which its contact keeps the lock locked.
        """
        item = feed.item
        kind = kind_of(item)
        if kind in LOCK_KINDS:
            mode = self.fail_mode(item)
            return None if mode is None else mode == "safe"
        if kind == "sounder":
            return False
        if kind != "relay":
            return True
        if isinstance(item.energised_at_rest, bool):
            return item.energised_at_rest
        for use, other in self.relay_uses.get(item.identity, ()):
            if other.item.identity in seen or other is feed:
                continue
            wanted = self.rests_fed(other, seen | {item.identity})
            closed = closed_without_power(use).value
            if wanted is not None and closed is not None:
                return wanted is not closed
        return None

    def opens_mechanically(self, item: Item) -> Truth:
        """Whether a device lets people out on the egress side without electricity, locked or not."""
        kind = kind_of(item)
        by_sheet: dict[object, Truth] = {"free": YES, "locked": NO}
        if kind in EXIT_GROUP:
            return YES
        if kind in MAGNETS or kind == DELAYED:
            return NO
        if kind == "electric_bolt" and item.sheet is not None and item.sheet.egress_side is None:
            return NO
        if kind == "mechanical_lock" and item.sheet is not None and item.sheet.egress_side is None:
            # every function of a mechanical lock has the inside free; a deadbolt thrown apart has not
            return YES if item.sheet.deadbolt is not True else sheet_truth(item, "egress_side", by_sheet)
        return sheet_truth(item, "egress_side", by_sheet)

    def lets_out(self, leaf: Leaf) -> Truth:
        """Whether the latching devices of a leaf let people out without electricity (yes where there are none)."""
        if leaf.latchers:
            return all_of(self.opens_mechanically(item) for item in leaf.latchers)
        if not leaf.strikes:
            return YES
        by_strike = [self.opens_mechanically(item) for item in leaf.strikes if item.sheet and item.sheet.egress_side]
        if by_strike:
            return all_of(by_strike)
        egress = self.opening.egress
        if egress is None or egress is UNKNOWN:
            return unknown(Undecided("egress", self.opening.at("egress"), stated=egress is UNKNOWN))
        # the strike holds the latch of a lock that is not listed; the spec says what people use to draw it
        if egress.by in ("lever", "bar"):
            return YES
        return unknown(Undecided("by", egress.at("by"), stated=egress.by is not None))

    def held_inside(self, lock: Item) -> Truth:
        """Whether a lock, while it is locked, holds people in."""
        if kind_of(lock) == STRIKE:
            return negate(all_of(self.lets_out(leaf) for leaf in self.leaves if lock in leaf.strikes))
        return negate(self.opens_mechanically(lock))

    @property
    def place(self) -> Place:
        """Where the opening stands."""
        return self.opening.place


def signals_to(item: Item) -> str:
    """The name of the item that this one reports to; empty where it reports to none."""
    return item.signals.partition(".")[0] if isinstance(item.signals, str) else ""


def _leaf(name: str, items: Iterable[Item]) -> Leaf:
    listed = tuple(items)
    return Leaf(
        name,
        tuple(item for item in listed if kind_of(item) == STRIKE),
        tuple(item for item in listed if kind_of(item) in MAGNETS | BOLTS | {DELAYED}),
        tuple(item for item in listed if kind_of(item) in LEVER_LOCKS | MECHANICAL | EXIT_GROUP),
        tuple(item for item in listed if not kind_of(item)),
    )


def closed_without_power(use: ContactUse) -> Truth:
    """Whether a contact passes current while its device has no power or has failed.

    The terminal of a change-over contact decides; of a single contact `rest`, and where it is not stated the form.
    """
    contact = use.contact
    by_rest = {"open": NO, "closed": YES}
    if contact.form in ("no", "nc"):
        return by_rest.get(str(contact.rest), YES if contact.form == "nc" else NO)
    if use.terminal:
        return YES if use.terminal == "nc" else NO
    if contact.rest in ("open", "closed"):
        return by_rest[str(contact.rest)]
    if contact.form == "spdt":
        return unknown(Undecided(use.why, use.place, stated=True))
    return unknown(Undecided("form", contact.at("form"), stated=contact.form is not None))


def powered(item: Item) -> bool:
    """Whether a device needs power for what it does, as far as its kind, its inputs and its feed tell."""
    return kind_of(item) in ELECTRONIC or bool(ports(item)) or item.fed_from is not None
