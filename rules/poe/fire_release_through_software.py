"""A lock on PoE that keeps people in, and whether the fire alarm itself breaks its feed."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.circuit.feeds import ContactUse, Feed, Wiring
from doorlint.circuit.poe_links import POE_KINDS
from doorlint.context import Context
from doorlint.outcome import Change, Level, Practice, Related, Repair, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import UNKNOWN, Coil, Egress, Item, Opening, Undecided, known

HOLDING = ("electromagnetic_lock", "shear_lock", "electric_bolt", "delayed_egress_device")
"""Locks that hold the leaf against people whatever the lever does."""

LATCHING = (
    "electric_strike",
    "electrified_mortise_lock",
    "electrified_cylindrical_lock",
    "electrified_exit_trim",
    "motor_lock",
    "gate_lock",
)
"""Locks that a lever or bar from inside opens, where the opening has one."""

MECHANICAL = ("lever", "bar", "free")

RULE = Rule(
    "poe/fire-release-through-software",
    title="No fire alarm contact breaks the feed of a PoE lock that keeps people in",
    level=Level.ERROR,
    over=Feed,
    applies=lambda feed: (
        isinstance(feed.load, Coil) and (feed.item.sheet is None or feed.item.sheet.kind in (*HOLDING, *LATCHING))
    ),
    scope="the coils of locks",
    basis=(
        Practice(
            "where a lock restrains egress, a contact of the fire alarm breaks its feed behind the PoE device, with no "
            "processor or network between",
            physics="software releases nothing while the network or the controller is down",
        ),
    ),
    evidence=("how people get out", "contacts in the feed"),
    why="Fire and a dead network together: the alarm tells a server, which tells nobody, and people are locked in.",
    cure="Put a fire alarm relay in series with the lock's own feed, at the door or in the closet.",
    limits="The adopted code says whether the alarm must release this door, and the authority decides. Other events "
    "and fail-secure locks, which a broken feed does not release, are rules of their own.",
    life_safety=True,
)


def check(feed: Feed, context: Context) -> Iterator[Verdict]:
    item, opening = feed.item, context.opening(feed.item)
    if item.sheet is None:
        raise Undecided("product", item.at("product"), stated=item.product is not None)
    if not feed.sources or not {source.kind for source in feed.sources} <= set(POE_KINDS):
        yield not_applicable(f"{item.name} is not held over PoE alone")
        return
    reason = _free_egress(item, opening)
    if reason:
        yield not_applicable(reason)
        return
    uses = [use for each in _behind_poe(feed) for use in each.contacts if use.why == "released_by"]
    breaking = next((use for use in uses if from_fire_alarm(use, context.wiring)), None)
    if breaking is not None:
        yield ok(f"{_name(breaking)} breaks the feed of {item.name} in a fire alarm", breaking.place)
        return
    for each in _behind_poe(feed):
        uncounted.insist(uncounted.in_feed(each.item, context, depth=4))
    named = ", ".join(dict.fromkeys(_name(use) for use in uses))
    what = f"only {named} can break its feed" if named else "nothing but the controller can break its feed"
    yield failed(
        f"{item.name} keeps people in and is held over PoE; {what}, no contact of the fire alarm",
        item.at("released_by"),
        related=(Related(feed.place, f"fed from {feed.terminal.label}"),),
        repairs=tuple(_repairs(item, opening)),
    )


def _free_egress(item: Item, opening: Opening) -> str:
    """Why a lock does not keep people in; empty where it does. Raises Undecided where it cannot be told."""
    egress = opening.egress
    if not isinstance(egress, Egress):
        raise Undecided("egress", opening.at("egress"), stated=egress is UNKNOWN)
    if egress.side == "none":
        return f"nobody leaves through {opening.id}"
    assert item.sheet is not None
    if item.sheet.kind in HOLDING:
        return ""
    by = known(egress, "by", str)
    return f"people leave {opening.id} by {by}, whatever {item.name} does" if by in MECHANICAL else ""


def _behind_poe(feed: Feed) -> Iterator[Feed]:
    """The feeds from the lock back to the device that takes the PoE, its own PoE feed not included."""
    here: Feed | None = feed
    while here is not None and here.supply != "poe":
        yield here
        here = here.terminal.upstream[0] if here.terminal.upstream else None


def from_fire_alarm(use: ContactUse, wiring: Wiring, depth: int = 4) -> bool:
    """Whether a contact is one of the fire alarm, or of a relay whose coil such a contact breaks."""
    owner = use.owner
    if not isinstance(owner, Item) or owner.sheet is None or depth == 0:
        return False
    if owner.sheet.kind == "fire_alarm_relay":
        return True
    if owner.sheet.kind != "relay":
        return False
    feeds = wiring.by_item.get(owner.identity, ())
    return any(from_fire_alarm(each, wiring, depth - 1) for feed in feeds for each in feed.contacts)


def _name(use: ContactUse) -> str:
    return use.owner.name if isinstance(use.owner, Item) else use.owner.id


def _repairs(item: Item, opening: Opening) -> Iterator[Repair]:
    listed = item.released_by if isinstance(item.released_by, tuple) else ()
    for other in opening.items.values():
        if other.sheet is None or other.sheet.kind != "fire_alarm_relay":
            continue
        for contact in other.sheet.contacts:
            text = f"[{', '.join([*listed, f'{other.name}.{contact}'])}]"
            change = (
                Change(item.place, text, key="released_by")
                if item.released_by is None
                else Change(item.at("released_by"), text)
            )
            yield Repair(f"break the feed of {item.name} by {other.name}.{contact}", (change,), life_safety=True)
