"""Which locking arrangement an opening follows, by its devices and their wiring, never by what the author claims."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from .events.door import DELAYED, RELEASERS, STAFF, Door, kind_of
from .events.states import once
from .outcome import Place
from .quantity import Quantity
from .spec.fields import UNKNOWN, Part, Undecided
from .spec.model import Egress, Item, Occupancy, Opening

if TYPE_CHECKING:
    from .context import Context


@dataclass(frozen=True, slots=True)
class Arrangement:
    """kind: a word of `Opening.arrangement`, NONE_PERMITTED where egress is held electrically and no arrangement
    is met, or None where the spec leaves it open (`open_because` names the fields, of which there is at least one).
    why: the reason in plain words. holding: the items that hold the egress side electrically. releasing: the items that
    release it for an occupant or, in controlled egress, for staff."""

    kind: str | None
    why: str
    holding: tuple[Item, ...]
    releasing: tuple[Item, ...]
    place: Place
    open_because: tuple[Undecided, ...] = field(default=(), compare=False)


NONE_PERMITTED = "none permitted"
"""What `classify` says where egress is held electrically and no arrangement is met."""
NO_WAY_OUT = "no way out"
"""What `classify` says where egress is held electrically at an opening that the spec calls no way out."""


def classify(opening: Opening, context: Context) -> Arrangement:
    """The locking arrangement that an opening follows. Use `context.arrangement`, which keeps the result.

    Only devices and wiring count, with what they cannot tell: whether the place is a lobby, an airlock, a place of care
    or of detention. Whether the arrangement is permitted there, and complete, is for the rules on each.
    """
    door = context.door(opening)
    gaps: list[Undecided] = []
    holding: list[Item] = []
    for lock in door.locks:
        held = door.held_inside(lock)
        if held.value is True:
            holding.append(lock)
        elif held.value is None:
            gaps.extend(held.gaps)
    released = tuple(item for item in door.items if kind_of(item) in RELEASERS and _releases(item, door, holding))
    if not holding:
        return _free(door, gaps)
    kind, why, releasing = _held(door, holding, released)
    place = holding[0].place.key
    if kind == NONE_PERMITTED and (doubts := once(_doubts(door, holding, released))):
        why = f"{_names(holding)} holds the egress side electrically, and it is not known by what arrangement"
        return Arrangement(None, why, tuple(holding), releasing, place, doubts)
    return Arrangement(kind, why, tuple(holding), releasing, place)


def undescribed(opening: Opening) -> Iterator[Undecided]:
    """The entries of an opening of which the spec says that it is not known what device they are."""
    if opening.set is UNKNOWN:
        yield Undecided("set", opening.at("set"), stated=True)
    for item in opening.items.values():
        if item.product is UNKNOWN:
            yield Undecided("product", item.at("product"), stated=True)
        elif item.sheet is not None and item.sheet.kind is UNKNOWN:
            yield Undecided("kind", item.sheet.at("kind"), stated=True)


def _free(door: Door, gaps: list[Undecided]) -> Arrangement:
    place = door.place
    if not door.items:
        gaps.append(Undecided("items", door.opening.place.key, stated=False))
    elif not door.leaves:
        return Arrangement("free_egress", "nothing that locks the leaf is listed", (), (), place)
    gaps.extend(gap for leaf in door.leaves for gap in door.lets_out(leaf).gaps)
    if gaps:
        return Arrangement(None, "it is not known what holds the egress side", (), (), place, once(gaps))
    stuck = [leaf for leaf in door.leaves if door.lets_out(leaf).value is False]
    if stuck and not door.locks:
        return Arrangement(NONE_PERMITTED, "the egress side is locked mechanically", (), (), place)
    if unnamed := once(undescribed(door.opening)):
        return Arrangement(None, "it is not known what each device is", (), (), place, unnamed)
    names = _names([item for leaf in door.leaves for item in (leaf.latchers or (*leaf.strikes, *leaf.holders))])
    if door.opening.stair is True and door.locks:
        why = f"the way into the stair is free by {names}; the stair side is locked by {_names(door.locks)}"
        return Arrangement("stair_reentry", why, (), (), place)
    return Arrangement("free_egress", f"{names} opens from inside without electricity", (), (), place)


def _held(door: Door, holding: list[Item], released: tuple[Item, ...]) -> tuple[str, str, tuple[Item, ...]]:
    opening, held = door.opening, f"{_names(holding)} holds the egress side electrically"
    egress = opening.egress
    if egress is not None and egress is not UNKNOWN and egress.side == "none":
        return NO_WAY_OUT, f"{held}; the spec says that the opening is no way out", released
    delay = egress.delay if egress is not None and egress is not UNKNOWN else None
    if any(kind_of(item) == DELAYED for item in holding):
        return "delayed_egress", f"{held} and lets people out after a delay", released
    if isinstance(delay, Quantity) and delay.value > 0 and released:
        return "delayed_egress", f"{held}; {_names(released)} releases it after {delay.text}", released
    if opening.interlocked_with and opening.interlocked_with is not UNKNOWN:
        return "interlock", f"{held}, as one of several doors of which one opens at a time", released
    for kind, found, how in (
        ("hardware_release", "touch_bar", "switches it off from the leaf"),
        ("sensor_release", "request_to_exit_sensor", "releases it when somebody comes near"),
    ):
        by = [item for item in released if kind_of(item) == found]
        if by:
            return kind, f"{held}; {_names(by)} {how}", released
    staff = tuple(i for i in door.items if kind_of(i) == STAFF and i.side != "unsecured")
    staff = (*staff, *(reader for reader in door.readers(inside=True) if reader not in staff))
    if opening.arrangement == "detention":
        return "detention", f"{held} in a place that the spec calls one of detention", staff
    if opening.elevator_lobby is True and not released:
        return "elevator_lobby", f"{held} at a lobby of elevators, and nothing there releases it for an occupant", staff
    if staff and not released and _care(opening):
        return "controlled_egress", f"{held}; only staff release it, by {_names(staff)}", staff
    return NONE_PERMITTED, f"{held}, and {_lacking(released, staff)}", (*released, *staff)


def _doubts(door: Door, holding: list[Item], released: tuple[Item, ...]) -> Iterator[Undecided]:
    """What the spec does not tell, and what may be all that an arrangement lacks."""
    opening = door.opening
    yield from undescribed(opening)
    for lock in holding:
        if not door.feeds(lock):
            yield door.feed_gap(lock)
        yield from _said_unknown(lock, "released_by", "switched_by")
    yield from _said_unknown(opening, "egress", "interlocked_with", "arrangement")
    if isinstance(opening.egress, Egress):
        yield from _said_unknown(opening.egress, "side", *(("delay",) if released else ()))
    if released:
        return
    yield from _said_unknown(opening, "elevator_lobby", "clinical_need", "occupancy")
    if isinstance(opening.occupancy, Occupancy):
        yield from _said_unknown(opening.occupancy, "group")
    for item in door.items:
        if kind_of(item) in RELEASERS:
            yield from _said_unknown(item, "signals")


def _said_unknown(part: Part, *names: str) -> Iterator[Undecided]:
    for name in names:
        value = getattr(part, name)
        if value is UNKNOWN or (isinstance(value, tuple) and "unknown" in value):
            yield Undecided(name, part.at(name), stated=True)


def _care(opening: Opening) -> bool:
    group = opening.occupancy.group if isinstance(opening.occupancy, Occupancy) else None
    return (
        opening.clinical_need is True
        or opening.arrangement == "controlled_egress"
        or (isinstance(group, str) and group.upper().startswith("I"))
    )


def _lacking(released: tuple[Item, ...], staff: tuple[Item, ...]) -> str:
    if released:
        return (
            f"{_names(released)} alone meets no arrangement: it takes a sensor or a switch in the hardware of the leaf"
        )
    if staff:
        return f"only {_names(staff)} releases it, which is for places of care alone"
    return "nothing on the egress side releases it"


def _releases(item: Item, door: Door, holding: list[Item]) -> bool:
    """Whether a release device bears on a holding lock: in its feed, or by a signal to what switches it.

    A touch bar or sensor that reports to the controller only is counted: the arrangement is meant, and incomplete.
    """
    if item.side == "unsecured":
        return False
    for lock in holding:
        for feed in door.feeds(lock):
            if any(use.owner is item for use in feed.contacts):
                return True
    return any(item in door.reporting(decider) for decider in door.deciding_items)


def _names(items: Iterable[Item]) -> str:
    return ", ".join(item.name for item in items) or "nothing"
