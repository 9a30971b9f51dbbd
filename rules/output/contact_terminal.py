"""A terminal that the contact does not have."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.circuit.feeds import Feed
from doorlint.context import Context
from doorlint.outcome import Level, Practice, Related, Verdict, failed, ok
from doorlint.rulebook import Rule
from doorlint.spec import known

RULE = Rule(
    "contact/terminal-not-there",
    title="The contact does not have the terminal that the feed runs through",
    level=Level.ERROR,
    over=Feed,
    applies=lambda feed: any(use.terminal for use in feed.contacts),
    scope="feeds that name the terminal of a contact",
    basis=(
        Practice(
            "the wiring names only terminals that the contact has",
            physics="a contact with one form has two terminals and no third",
        ),
    ),
    evidence=("form of the contact", "terminal named"),
    why="The installer takes the terminal that is there: the lock works the wrong way round.",
    cure="Name the terminal that the contact has, or use a change-over contact.",
    limits="Knows the form that the sheet states; how the terminals are marked on the device is not in the spec.",
)


def check(feed: Feed, context: Context) -> Iterator[Verdict]:
    for use in feed.contacts:
        if not use.terminal:
            continue
        form = known(use.contact, "form", str)
        if form in ("spdt", use.terminal):
            yield ok(f"{use.name} has the terminal {use.terminal}", use.place)
            continue
        related = (Related(use.contact.at("form"), f"its form is {form}"),)
        text = f"the feed of {feed.item.name} runs through {use.terminal} of {use.name}, which has only {form}"
        yield failed(text, use.place, related=related)
