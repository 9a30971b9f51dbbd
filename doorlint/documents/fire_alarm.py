"""The fire-alarm interface list: every contact of the fire alarm at the openings, its rating, its state at rest, the
locks that it releases and what current runs through it."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from ..circuit.demand import peak, steady
from ..circuit.feeds import Feed
from ..context import Context
from ..events import Event
from ..events.door import FIRE, Owner, closed_without_power, kind_of
from ..reviewing import Result
from ..spec.model import Contact, Item, PowerSource
from .sequence import relock, states
from .tables import NONE, Cell, Column, Table, computed, found, optional, stated, text, waiting, words

CONTACTS = (
    Column("device"), Column("contact"), Column("form"), Column("terminal used"), Column("at rest or dead"),
    Column("rated", "A"), Column("rated for coils", "A"), Column("highest voltage", "V"), Column("releases"),
    Column("circuit voltage"), Column("steady current", "A"), Column("peak current", "A"), Column("reset"),
    Column("supervised"), Column("reports to"),
)  # fmt: skip
OPENINGS = tuple(
    map(Column, ("opening", "title", "fire rating", "lock in fire alarm", "latch", "egress", "locks again", "why"))
)


def build(_: Result, context: Context) -> tuple[Table, ...]:
    """One row for each contact of a fire-alarm device and terminal used, and what each opening does in fire alarm."""
    return (
        Table(
            "contacts",
            "Contacts of the fire alarm",
            CONTACTS,
            tuple(_contacts(context)),
            notes=(
                "Currents: all feeds through the contact together, what they pass on included.",
                "At rest or dead: whether the terminal used passes current while its device has no power.",
            ),
            cautions=(
                "The fire-alarm designer and the authority having jurisdiction decide how the interface is wired and "
                "supervised.",
            ),
        ),
        Table(
            "openings",
            "Openings in fire alarm",
            OPENINGS,
            tuple(_openings(context)),
            notes=("As the wiring makes them do; an opening that does nothing in fire alarm is listed too.",),
        ),
    )


def _contacts(context: Context) -> Iterator[tuple[Cell, ...]]:
    used: dict[str, dict[str, list[Feed]]] = {}
    for feed in context.wiring.feeds:
        for use in feed.contacts:
            used.setdefault(use.identity, {}).setdefault(use.terminal, []).append(feed)
    for owner in _devices(context):
        contacts = owner.contacts if isinstance(owner, PowerSource) else owner.sheet.contacts if owner.sheet else {}
        for name, contact in contacts.items():
            for terminal, feeds in used.get(f"{owner.identity}.{name}", {"": []}).items():
                yield _contact(owner, name, contact, terminal, feeds, context)
        if not contacts:
            yield (words(owner.identity), *(NONE,) * (len(CONTACTS) - 4), *_reaction(owner))


def _devices(context: Context) -> Iterator[Owner]:
    yield from (source for source in context.spec.power.values() if kind_of(source) in FIRE)
    for one in context.spec.openings.values():
        yield from (item for item in one.items.values() if kind_of(item) in FIRE)


def _contact(
    owner: Owner, name: str, contact: Contact, terminal: str, feeds: list[Feed], context: Context
) -> tuple[Cell, ...]:
    voltages = dict.fromkeys(str(text(feed.terminal.voltage, "voltage")) for feed in feeds)
    return (
        words(owner.identity),
        words(name),
        text(contact.form, "form"),
        text(terminal or None, "no or nc") if feeds and contact.form == "spdt" else terminal or NONE,
        _rest(name, contact, feeds, owner),
        stated(contact, "current", "current", "A"),
        NONE if contact.inductive_current is None else stated(contact, "inductive_current", "current", "A"),
        stated(contact, "highest_voltage", "voltage", "V"),
        words(", ".join(dict.fromkeys(feed.identity for feed in feeds))) if feeds else NONE,
        ", ".join(voltages) if feeds else NONE,
        computed(lambda: sum((steady(f, context.wiring) for f in feeds), Fraction(0)), "current", "A")
        if feeds
        else NONE,
        computed(lambda: sum((_peak(f, context) for f in feeds), Fraction(0)), "current", "A") if feeds else NONE,
        *_reaction(owner),
    )


def _peak(feed: Feed, context: Context) -> Fraction:
    # a magnet states no peak: it has none above its steady current
    from ..circuit.voltages import draws_peak

    return peak(feed, context.wiring) if draws_peak(feed) else steady(feed, context.wiring)


def _rest(name: str, contact: Contact, feeds: list[Feed], owner: Owner) -> Cell:
    use = next(
        (use for feed in feeds for use in feed.contacts if use.owner is owner and use.name == name), None
    )
    if use is None:
        return optional(contact.rest)
    truth = closed_without_power(use)
    if truth.value is None:
        return waiting(truth.gaps)
    return "closed" if truth.value else "open"


def _reaction(owner: Owner) -> tuple[Cell, Cell, Cell]:
    if not isinstance(owner, Item):
        return NONE, NONE, NONE
    return text(owner.reset, "reset"), text(owner.supervised, "supervised"), optional(owner.signals)


def _openings(context: Context) -> Iterator[tuple[Cell, ...]]:
    for one in context.spec.openings.values():
        row = context.matrix(one).row(Event.FIRE_ALARM)
        lock, latch, egress, _, _ = states(row)
        yield (
            text(one.id, "id"),
            optional(one.title),
            text(one.fire_rating, "fire_rating"),
            lock,
            latch,
            egress,
            found(lambda row=row: words(row.relock) if row.relock else relock(row)),  # type: ignore[misc]
            words("; ".join(row.because)) if row.because else NONE,
        )
