"""A reader and its controller without a common 0 V."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.events.door import kind_of
from doorlint.outcome import Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import Undecided, known
from doorlint.spec.model import Item, PowerSource

RULE = Rule(
    "reader/no-common-zero-volts",
    title="Reader and controller have no common 0 V",
    level=Level.ERROR,
    over=Item,
    applies=lambda item: item.sheet is not None and item.sheet.interface in ("pulse", "rs_485"),
    scope="devices that send pulses or talk RS-485",
    basis=(
        Practice(
            "the 0 V of reader and controller are joined at one point",
            physics="a signal is a voltage against a common 0 V",
        ),
    ),
    why="The reader lights up and nothing it sends is understood.",
    cure="Join the 0 V of both supplies once, or feed the reader from the controller, or isolate the line.",
    limits="How far the two 0 V lie apart under load is not computed.",
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    opening = context.opening(item)
    panels = [other for other in opening.items.values() if kind_of(other) == "door_controller"]
    feeds = context.wiring.by_item
    if len(panels) != 1:
        yield not_applicable("there is no single controller that the reader reports to")
        return
    for each in (item, panels[0]):
        if not feeds.get(each.identity):
            raise context.door(opening).feed_gap(each)
    own = {source.id: source for feed in feeds[item.identity] for source in feed.sources}
    panel = {source.id: source for feed in feeds[panels[0].identity] for source in feed.sources}
    related = (Related(panels[0].at("fed_from"), f"{panels[0].name} is fed from {', '.join(panel)}"),)
    if own.keys() & panel.keys():
        yield ok(f"{item.name} and {panels[0].name} share a supply", item.at("fed_from"), related=related)
        return
    pairs = [(one, other) for one in own.values() for other in panel.values()]
    if any(_bonded(one, other) or _bonded(other, one) for one, other in pairs):
        yield ok("the 0 V of both supplies are joined", item.at("fed_from"), related=related)
    elif pairs[0][0].bonded_with is None and pairs[0][1].bonded_with is None:
        raise Undecided("bonded_with", pairs[0][0].at("bonded_with"), stated=False)
    else:
        text = f"{item.name} is fed from {', '.join(own)}, whose 0 V is not joined with that of {panels[0].name}"
        yield failed(text, item.at("fed_from"), related=related)


def _bonded(one: PowerSource, other: PowerSource) -> bool:
    return one.bonded_with is not None and other.id in known(one, "bonded_with", tuple)
