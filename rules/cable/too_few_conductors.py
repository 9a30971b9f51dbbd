"""The conductors that a feed takes of its cable."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.circuit.feeds import Feed
from doorlint.circuit.substitutes import as_yaml
from doorlint.circuit.voltages import return_partner
from doorlint.context import Context
from doorlint.outcome import Change, Level, Practice, Related, Repair, Step, Term, Verdict, failed, ok
from doorlint.rulebook import Rule
from doorlint.spec import UNKNOWN, Cable, known

RULE = Rule(
    "cable/too-few-conductors",
    title="The cable has fewer conductors than the feed joins",
    level=Level.ERROR,
    over=Feed,
    applies=lambda feed: (
        feed.terminal.supply != "poe"
        and (
            feed.item.cable is UNKNOWN
            or (feed.item.cable_sheet is not None and feed.item.cable_sheet.conductors is not None)
        )
    ),
    scope="feeds over a cable whose number of conductors is stated, PoE apart",
    basis=(
        Practice(
            "a feed takes a conductor out and one back, and twice as many where two are joined for each way",
            physics="every current flows back to its source",
        ),
    ),
    evidence=("conductors taken", "conductors of the cable"),
    why="The drop was computed with conductors that the cable does not have.",
    cure="A cable with more conductors, or fewer joined.",
    limits="Counts the feed alone: contacts and data of the device may need conductors of their own.",
)


def check(feed: Feed, context: Context) -> Iterator[Verdict]:
    item, cable = feed.item, feed.item.cable_sheet
    known(item, "cable", str)
    assert isinstance(cable, Cable)
    there = known(cable, "conductors", int)
    joined = known(item, "parallel_conductors", int) if item.parallel_conductors is not None else 1
    ways = 1 if return_partner(feed, context.wiring) is not None else 2
    needed = joined * ways
    terms = (
        Term("joined for each way", str(joined), item.at("parallel_conductors")),
        Term("ways in this cable", str(ways), item.at("shares_return_with")),
    )
    step = Step("conductors taken", "joined x ways", str(needed), terms)
    text = f"the feed of {item.name} takes {needed} conductors of {cable.id}, which has {there}"
    if needed <= there:
        yield ok(text, item.at("cable"), working=(step,))
        return
    related = (Related(cable.at("conductors"), f"conductors of {cable.id}"),)
    yield failed(
        text, item.at("cable"), related=related, working=(step,), repairs=tuple(_repairs(feed, needed, context))
    )


def _repairs(feed: Feed, needed: int, context: Context) -> Iterator[Repair]:
    """Cables of the spec with enough conductors of the same size."""
    own = feed.item.cable_sheet
    for cable in context.spec.cables.values():
        same = own is not None and cable.conductor == own.conductor and cable.kind == own.kind
        if same and isinstance(cable.conductors, int) and cable.conductors >= needed:
            yield Repair(f"lay {cable.id} to {feed.item.name}", (Change(feed.item.at("cable"), as_yaml(cable.id)),))
