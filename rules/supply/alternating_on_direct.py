"""Alternating against direct current: the kind of supply that feeds an input."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.circuit.feeds import Feed
from doorlint.circuit.substitutes import other_products, other_sources
from doorlint.context import Context
from doorlint.outcome import Level, Practice, Related, Verdict, failed, ok
from doorlint.rulebook import Rule
from doorlint.spec import UNKNOWN, Coil, Undecided, known

# What each kind of source is good for, by the kind that the load takes.
_SERVES = {
    "dc": {"dc", "dc_filtered"},
    "dc_filtered": {"dc_filtered"},
    "ac": {"ac"},
    "ac_or_dc": {"ac", "dc", "dc_filtered"},
    "poe": {"poe"},
}
_WORDS = {"ac": "AC", "dc": "DC", "dc_filtered": "filtered DC", "ac_or_dc": "AC or DC", "poe": "PoE"}

RULE = Rule(
    "supply/current-kind-mismatch",
    title="AC, DC or PoE feeds an input that takes another kind",
    level=Level.ERROR,
    over=Feed,
    basis=(
        Practice(
            "a DC coil on AC hums and chatters, an AC coil on DC overheats, and electronics take only their own kind",
            physics="on DC a coil's current is limited by its resistance alone, on AC by its reactance too",
        ),
    ),
    evidence=("kind of source", "kind of load"),
    why="A DC strike on an AC transformer buzzes and does not hold; an AC coil on DC burns out.",
    cure="Feed it from a source of its own kind, or put a rectifier with filter in between.",
    limits="Coils that state `dc` are taken to work on unfiltered DC too; magnets that need filtered DC must say so.",
)


def check(feed: Feed, context: Context) -> Iterator[Verdict]:
    taken = known(feed.load, "supply", str)
    supply = feed.terminal.supply
    if supply is None or supply is UNKNOWN:
        raise Undecided("supply", feed.terminal.output.at("supply"), stated=supply is UNKNOWN)
    label = feed.terminal.label
    if supply in _SERVES[taken]:
        yield ok(f"{label} gives {_WORDS[supply]}, which {feed.item.name} takes", feed.place)
        return
    related = (
        Related(feed.load.at("supply"), f"{feed.item.name} takes {_WORDS[taken]}"),
        Related(feed.terminal.output.at("supply"), f"{label} gives {_WORDS[supply]}"),
    )
    what = "coil" if isinstance(feed.load, Coil) else "input"
    text = f"{label} gives {_WORDS[supply]}, and the {what} of {feed.item.name} takes {_WORDS[taken]}"
    repairs = (*other_sources(feed, context.spec), *other_products(feed.item, context.spec))
    yield failed(text, feed.place, related=related, repairs=repairs)
