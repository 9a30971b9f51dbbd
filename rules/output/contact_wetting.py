"""A current too small to keep a contact clean."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.circuit.demand import steady
from doorlint.circuit.feeds import LoadedContact
from doorlint.circuit.substitutes import other_products
from doorlint.context import Context
from doorlint.outcome import Level, Measure, Practice, Related, Step, Term, Verdict, at_least
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import Item, known

RULE = Rule(
    "contact/current-below-smallest",
    title="The contact switches less current than keeps it clean",
    level=Level.WARNING,
    over=LoadedContact,
    applies=lambda loaded: loaded.contact.smallest_current is not None,
    scope="contacts whose sheet states a smallest current",
    basis=(
        Practice(
            "a contact switches at least its smallest current: about 1 mA for gold, 10 to 100 mA for silver",
            physics="only an arc, or a soft surface, breaks the film that grows on a contact",
        ),
    ),
    evidence=("smallest load", "smallest current", "margin"),
    why="It works for a year and then now and then, when the film has grown.",
    cure="Use a contact for small signals (gold), or put a load in parallel.",
    limits="Feeds only: the current of a controller's input is not in a spec, so signals are not judged.",
)


def check(loaded: LoadedContact, context: Context) -> Iterator[Verdict]:
    smallest = known(loaded.contact, "smallest_current", Quantity)
    drawn = [(steady(feed, context.wiring), feed) for feed in loaded.feeds]
    total = sum(current for current, _ in drawn)
    terms = tuple(
        Term(feed.item.name, str(Measure(current, "current")), feed.load.at("current")) for current, feed in drawn
    )
    owner = loaded.use.owner
    names = " and ".join(feed.item.name for _, feed in drawn[:3])
    others = tuple(other_products(owner, context.spec)) if isinstance(owner, Item) and total < smallest.value else ()
    yield at_least(
        f"current of {names}",
        Measure(total, "current"),
        Measure(smallest.value, "current"),
        loaded.contact.at("smallest_current"),
        limit_name=f"smallest that {loaded.use.name} needs,",
        related=tuple(Related(feed.load.at("current"), f"current of {feed.item.name}") for _, feed in drawn[:3]),
        working=(Step("current through the contact", "sum of its loads", Measure(total, "current"), terms),),
        repairs=others,
    )
