"""A feed of which one end is PoE and the other is not."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.circuit.feeds import Feed
from doorlint.context import Context
from doorlint.outcome import Level, Practice, Related, Verdict, failed, ok
from doorlint.rulebook import Rule
from doorlint.spec import UNKNOWN, Undecided

RULE = Rule(
    "poe/only-one-end-poe",
    title="Only one end of the feed is PoE",
    level=Level.ERROR,
    over=Feed,
    applies=lambda feed: "poe" in (feed.supply, feed.terminal.supply),
    scope="feeds with PoE at either end",
    basis=(
        Practice(
            "a PoE port feeds a PoE input and nothing else",
            physics="a port gives no power until it has detected a powered device; a PoE input takes no low voltage",
        ),
    ),
    evidence=("what feeds", "what is fed"),
    why="A lock on a network port, or a PoE input on a 12 V output, gets no power at all.",
    cure="Put a splitter between a port and a low-voltage device, or use the device's other input.",
    limits="Passive sources are judged by a rule of their own where the device has a PoE input.",
)


def check(feed: Feed, context: Context) -> Iterator[Verdict]:
    terminal, name = feed.terminal, feed.item.name
    what = "coil" if feed.supply == "coil" else f"{feed.supply} input"
    if terminal.supply is None or terminal.supply is UNKNOWN:
        raise Undecided("supply", terminal.output.at("supply"), stated=terminal.supply is UNKNOWN)
    if feed.supply == "poe" and terminal.supply == "poe":
        yield ok(f"{terminal.label} gives PoE and {name} takes it", feed.place)
        return
    related = (Related(feed.load.place.key, f"the {what} of {name}"),)
    if terminal.supply == "poe":
        text = f"{terminal.label} is a PoE port; the {what} of {name} takes no PoE"
    else:
        text = f"the PoE input of {name} is on {terminal.label}, which gives {str(terminal.supply).replace('_', ' ')}"
    yield failed(text, feed.place, related=related)
