"""One contact in the circuits of several sources."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.circuit.feeds import Feed, LoadedContact
from doorlint.circuit.voltages import root_of
from doorlint.context import Context
from doorlint.outcome import Level, Practice, Related, Verdict, failed, ok
from doorlint.rulebook import Rule
from doorlint.spec import Item

RULE = Rule(
    "contact/joins-sources",
    title="One contact joins the circuits of several sources",
    level=Level.ERROR,
    over=LoadedContact,
    basis=(
        Practice(
            "each loop has exactly one source; a contact that serves the circuits of several has a pole for each",
            physics="a pole has one pair of terminals: what is wired to it is tied together",
        ),
    ),
    evidence=("sources behind the contact",),
    why="Two supplies are tied together: faults and voltages cross from panel to panel, and fuses are defeated.",
    cure="Use a relay with a pole for each source, or let the contact drive one.",
    limits="Poles that the spec gives one name count as one; give each pole a contact of its own.",
    incomplete=uncounted.through,
)


def check(loaded: LoadedContact, context: Context) -> Iterator[Verdict]:
    owners: dict[str, str] = {}
    places: dict[str, Feed] = {}
    for feed in loaded.feeds:
        owner = root_of(feed.terminal).owner
        identity = owner.identity if isinstance(owner, Item) else owner.id
        owners.setdefault(identity, owner.name if isinstance(owner, Item) else owner.id)
        places.setdefault(identity, feed)
    if len(owners) == 1:
        yield ok(f"{loaded.use.name} is in the circuit of {next(iter(owners.values()))} alone", loaded.place)
        return
    related = tuple(
        Related(places[identity].place, f"{places[identity].item.name} is fed from {name}")
        for identity, name in owners.items()
    )
    text = f"{loaded.use.name} is one contact in the circuits of {' and '.join(owners.values())}"
    yield failed(text, loaded.use.place, related=related)
