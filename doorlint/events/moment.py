"""The state of one opening at one moment: a pure function of its wiring and of what is the case then."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from ..quantity import Quantity
from ..spec.fields import UNKNOWN, Undecided
from ..spec.model import Item
from .circuit import Case, Circuit
from .door import (
    BOLTS,
    DELAYED,
    EXIT_GROUP,
    LEVER_LOCKS,
    LOCK_KINDS,
    RETRACTION,
    STRIKE,
    TRIM,
    Door,
    Leaf,
    kind_of,
    sheet_truth,
)
from .states import NO, YES, Egress, Ingress, Truth, all_of, any_of, negate, once, unknown

__all__ = ["Case", "Cells", "Moment", "cells", "moment", "way_out"]


class Moment(Circuit):
    """What the leaves of a door do in one case."""

    def door_locked(self) -> Truth:
        """Whether the door is locked as met from the unsecured side: every leaf is."""
        return all_of(self._leaf_locked(leaf) for leaf in self.door.leaves)

    def _leaf_locked(self, leaf: Leaf) -> Truth:
        locks = [self.locked(lock) for lock in leaf.locks]
        if not locks and not leaf.undescribed:
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
            # an item that may be anything may be a strike, and let the latch through
            doubts = [_undescribed(item) for item in leaf.undescribed]
            ways.append(all_of((bolts, *drawn, *(self.locked(strike) for strike in leaf.strikes), *doubts)))
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
            doubts = [_undescribed(item) for item in leaf.undescribed]
            ways.append(any_of((strike, latch(leaf), *doubts)))
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
        return self._passes(leaf, self.door.opens_mechanically, self._inside_latch)

    def _inside_latch(self, leaf: Leaf) -> Truth:
        if not leaf.latchers:
            return self.door.lets_out(leaf)
        return all_of(self._lets_out(item) for item in leaf.latchers)

    def _lets_out(self, item: Item) -> Truth:
        """A latching device lets people out by its hardware, or as long as its electric lock is released."""
        mechanical = self.door.opens_mechanically(item)
        return any_of((mechanical, negate(self.locked(item)))) if kind_of(item) in LOCK_KINDS else mechanical

    def delays(self, leaf: Leaf) -> bool:
        """Whether a leaf lets people out after a delay: what holds it is a delayed egress device."""
        held = [item for item in leaf.holders if self.locked(item).value is not False]
        return bool(held) and all(kind_of(item) == DELAYED for item in held) and self.door.lets_out(leaf).value is True


def moment(door: Door, case: Case) -> Moment:
    """The door in a case; each case is looked at once."""
    found: Moment | None = door.kept.get(case)
    if found is None:
        found = door.kept[case] = Moment(door, case)
    return found


def _undescribed(item: Item) -> Truth:
    if item.sheet is None:
        return unknown(Undecided("product", item.at("product"), stated=item.product is not None))
    return unknown(Undecided("kind", item.sheet.at("kind"), stated=item.sheet.kind is not None))


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
    now = moment(door, case)
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
    acting = moment(door, case.when(occupant=True))
    helped = moment(door, case.when(occupant=True, staff=True))
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
    granted = moment(door, case.when(grant=True))
    opened = any_of(granted.open_outside(leaf) for leaf in door.leaves)
    if opened.value is True:
        return Ingress.YES, ()
    if opened.value is None:
        return None, opened.gaps
    keyed = moment(door, case.when(key=True))
    by_key = any_of(any_of((keyed.open_by_key(leaf), keyed.open_outside(leaf))) for leaf in door.leaves)
    if by_key.value is None:
        return None, by_key.gaps
    return (Ingress.KEY if by_key.value else Ingress.NO), ()
