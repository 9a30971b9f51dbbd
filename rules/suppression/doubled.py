"""More than one suppressor across one coil."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.circuit.feeds import Feed
from doorlint.context import Context
from doorlint.outcome import Change, Level, Practice, Related, Repair, Verdict, failed, ok
from doorlint.rulebook import Rule
from doorlint.spec import Coil, Contact, Output, Undecided, known

RULE = Rule(
    "suppression/doubled",
    title="The coil has more than one suppressor",
    level=Level.WARNING,
    over=Feed,
    applies=lambda feed: isinstance(feed.load, Coil) and bool(
        feed.item.suppression or feed.item.suppression_unknown
    ),
    scope="coils with a fitted suppressor",
    basis=(
        Practice(
            "a coil has one suppressor; a second one, built in or at the panel, takes over where it conducts at a "
            "lower voltage",
            physics="of two parts in parallel the one with the lower clamp voltage carries the current",
        ),
    ),
    evidence=("built-in suppression", "fitted suppression"),
    why="The part that was chosen for a quick release has no effect: the diode beside it holds the current up.",
    cure="Leave out the fitted part where one is built in, and open the panel's jumper.",
    limits="A second part at the panel counts only where the output or contact states it as built in.",
    incomplete=uncounted.together(
        uncounted.devices,
        uncounted.where_unknown(
            "terminal.output.built_in_suppression",
            "contacts.contact.built_in_suppression",
            "item.switched_by",
            "item.released_by",
        ),
    ),
)


def check(feed: Feed, context: Context) -> Iterator[Verdict]:
    item, coil = feed.item, feed.coil
    assert coil is not None
    if item.suppression_unknown and not item.suppression:
        raise Undecided("suppression", item.at("suppression"), stated=True)
    fitted = [str(one.product or "a suppressor") for one in item.suppression]
    found = [(name, item.at("suppression")) for name in fitted]
    if coil.built_in_suppression is None:
        raise Undecided("built_in_suppression", coil.at("built_in_suppression"), stated=False)
    if known(coil, "built_in_suppression", str) != "none":
        found.append((f"one built in ({coil.built_in_suppression})", coil.at("built_in_suppression")))
    parts: list[Output | Contact] = [feed.terminal.output, *(use.contact for use in feed.contacts)]
    for part in parts:
        if isinstance(part.built_in_suppression, str) and part.built_in_suppression != "none":
            found.append((f"one at the output ({part.built_in_suppression})", part.at("built_in_suppression")))
    if len(found) == 1:
        yield ok(f"{item.name} has one suppressor, {found[0][0]}", item.at("suppression"))
        return
    related = tuple(Related(place, name) for name, place in found[1:])
    text = f"the coil of {item.name} has {len(found)} suppressors: {', '.join(name for name, _ in found)}"
    repair = Repair("leave out the fitted part", (Change(item.at("suppression"), "none"),))
    yield failed(text, item.at("suppression"), related=related, repairs=(repair,))
