"""A device that takes power, and of which nobody says from what, where other devices are wired."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.circuit.feeds import ports
from doorlint.context import Context
from doorlint.events.door import LOCK_KINDS, kind_of
from doorlint.outcome import Level, Practice, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import UNKNOWN, Undecided, known
from doorlint.spec.model import Item

CONTACTS = ("switched_by", "released_by")

RULE = Rule(
    "consistency/feed-not-stated",
    title="Nothing feeds a device that takes power",
    level=Level.WARNING,
    over=Item,
    basis=(
        Practice(
            "of each device that takes power the spec says what feeds it and through which contacts",
            physics="voltage, load, standby time and release all follow from the feed",
        ),
    ),
    evidence=("what feeds the device",),
    why="Voltage, load, standby and release are judged along feeds; a device without one is passed over by all of it.",
    cure="Write under `fed_from` the output that feeds the device.",
    limits="A device whose sheet has no power input, and that is not fed, is taken to need no power. In a spec that "
    "wires nothing at all it is open what feeds each device.",
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    for field in ("fed_from", *CONTACTS):
        value = getattr(item, field)
        if value is not None and (not isinstance(value, tuple) or "unknown" in value):
            raise Undecided(field, item.at(field), stated=True)
    takes, fed = bool(ports(item)), item.fed_from if isinstance(item.fed_from, tuple) else ()
    if not fed and not takes:
        yield not_applicable(f"{item.name} is not fed, and its sheet has no power input")
    elif fed and not takes and item.sheet is not None:
        name = "coil" if kind_of(item) in LOCK_KINDS else "inputs"
        raise Undecided(name, item.sheet.at(name), stated=getattr(item.sheet, name) is not None)
    elif fed:
        for feed in context.wiring.by_item.get(item.identity, ()):
            if feed.terminal.output.through is UNKNOWN:
                known(feed.terminal.output, "through", str)
        yield ok(f"{item.name} is fed from {' and '.join(fed)}", item.at("fed_from"))
    elif context.stated_anywhere("fed_from"):
        yield failed(f"{item.name} takes power, and nothing feeds it: other devices are wired", item.place.key)
    else:
        raise Undecided("fed_from", item.at("fed_from"), stated=False)
