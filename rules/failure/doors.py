"""What the rules on failures share. No rule stands here."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from doorlint import uncounted
from doorlint.circuit.feeds import ContactUse
from doorlint.context import Context
from doorlint.events import Event, Row
from doorlint.events.circuit import Case
from doorlint.events.door import FIRE, LOCK_KINDS, Door, kind_of
from doorlint.events.moment import Cells, cells
from doorlint.outcome import Change, Kind, Place, Repair, Verdict, undecided
from doorlint.spec import UNKNOWN, known
from doorlint.spec.fields import Undecided
from doorlint.spec.model import Item, Opening

WORN = "A state computed from the spec replaces neither a test of the finished door nor the judgement of its owner."


def is_lock(item: Item) -> bool:
    """Whether an item is an electric lock."""
    return item.sheet is not None and item.sheet.kind in LOCK_KINDS


def locks_of(opening: Opening) -> tuple[Item, ...]:
    """The electric locks of an opening."""
    return tuple(item for item in opening.items.values() if is_lock(item))


def has_lock(opening: Opening) -> bool:
    """Whether an opening has an electric lock."""
    return any(map(is_lock, opening.items.values()))


def lock_place(opening: Opening) -> Place:
    """Where a finding about the lock as a whole is shown: the first electric lock, else the opening."""
    return next((item.place.key for item in locks_of(opening)), opening.place.key)


def resists(opening: Opening) -> bool:
    """Whether the owner wants the opening to resist. Raises Undecided where the spec does not say."""
    return known(opening, "security", str) in ("medium", "high")


def row_of(opening: Opening, context: Context, event: Event) -> Row:
    """What the opening does in an event."""
    return context.matrix(opening).row(event)


def together(opening: Opening, context: Context, case: Case) -> Cells:
    """What the opening does where several things are the case at once."""
    return cells(context.door(opening), case)


def fire_contacts(opening: Opening, context: Context) -> tuple[ContactUse, ...]:
    """The contacts of the fire alarm in the feeds of the opening's electric locks, or of relays that switch those."""
    door = context.door(opening)
    return tuple(use for lock in door.locks for use in fire_contacts_of(lock, door))


def fire_contacts_of(item: Item, door: Door, depth: int = 3) -> tuple[ContactUse, ...]:
    """The contacts of the fire alarm in the feeds of an item, or of relays whose contacts stand in them."""
    found: list[ContactUse] = []
    for feed in door.feeds(item):
        for use in feed.contacts:
            if kind_of(use.owner) in FIRE:
                found.append(use)
            elif isinstance(use.owner, Item) and kind_of(use.owner) == "relay" and depth:
                found.extend(fire_contacts_of(use.owner, door, depth - 1))
    return tuple(found)


def with_fail_mode(item: Item, mode: str) -> Iterator[Repair]:
    """Proposals to set a lock that can be either to a fail mode: alone, and with the contacts that switch it turned
    round. Nothing for a lock whose product has one fail mode only."""
    if item.sheet is None or item.sheet.fail != "selectable":
        return
    change = Change(item.at("fail"), mode) if item.fail is not None else Change(item.place, mode, key="fail")
    yield Repair(f"set {item.name} to fail-{mode}", (change,), life_safety=True)
    before, after = (".nc", ".no") if mode == "secure" else (".no", ".nc")
    names = item.switched_by if isinstance(item.switched_by, tuple) else ()
    turned = [f"{name.removesuffix(before)}{after}" if name.endswith(before) else name for name in names]
    if turned != list(names):
        text = turned[0] if len(turned) == 1 else f"[{', '.join(turned)}]"
        title = f"set {item.name} to fail-{mode} and switch it by {' and '.join(turned)}"
        yield Repair(title, (change, Change(item.at("switched_by"), text)), life_safety=True)


def leads_out(opening: Opening, context: Context) -> bool:
    """Whether a release on fire alarm has its reason at an opening: a lock holds people in, or it is a stair door that
    unlocks for them. Raises Undecided where that hangs on data given as unknown."""
    arrangement = context.arrangement(opening)
    if arrangement.holding or opening.stair is True:
        return True
    for gap in arrangement.open_because if arrangement.kind is None else ():
        if gap.stated:
            raise gap
    if opening.stair is UNKNOWN:
        known(opening, "stair", bool)
    return False


def insist_on_fire_contacts(opening: Opening, context: Context) -> None:
    """Raise Undecided where it is not known of what stands in the feeds of the electric locks whether it is a contact
    of the fire alarm."""
    for lock in context.door(opening).locks:
        if lock.fed_from is UNKNOWN:
            known(lock, "fed_from", tuple)
        uncounted.insist(uncounted.in_feed(lock, context, depth=3))


def way(title: str, because: Iterable[str], end: str) -> str:
    """A chain of events: what happens -> why -> what comes of it."""
    return " -> ".join((title, *because, end))


def open_for(rows: Iterable[Row], opening: Opening) -> Verdict:
    """The open outcome for rows whose cell is not known, naming every field that they wait for."""
    listed = list(rows)
    gaps = [gap for row in listed for gap in row.open_because]
    events = ", ".join(row.event.title for row in listed[:2])
    more = f" and {len(listed) - 2} more" if len(listed) > 2 else ""
    return open_because(gaps, f"cannot be decided for: {events}{more}", opening)


def open_because(gaps: Iterable[Undecided], text: str, opening: Opening) -> Verdict:
    """The open outcome that names the fields it waits for."""
    listed = list(gaps)
    names = tuple(dict.fromkeys(gap.name for gap in listed)) or ("wiring",)
    how = "is not stated" if len(names) == 1 else "are not stated"
    place = listed[0].place if listed else opening.place.key
    verdict = undecided(f"{text}; {', '.join(names)} {how}", names, place)
    assert verdict.kind is Kind.OPEN
    return verdict
