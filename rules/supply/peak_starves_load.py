"""The voltage at a load while loads that share its conductors draw their peak."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.circuit.arrival import judge
from doorlint.circuit.demand import own_current, own_peak
from doorlint.circuit.feeds import Feed
from doorlint.context import Context
from doorlint.outcome import Level, Practice, Verdict, not_applicable
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import Coil, Input, known

RULE = Rule(
    "supply/voltage-sags-at-peak",
    title="The voltage sags too far while a lock draws its peak",
    level=Level.ERROR,
    over=Feed,
    applies=lambda feed: feed.terminal.supply != "poe",
    scope="devices that are not fed over PoE",
    needs=("load.voltage",),
    basis=(
        Practice(
            "a lock gets its voltage while it pulls in, and electronics on the same conductors keep theirs meanwhile, "
            "or ride through on their hold-up time",
            physics="Ohm's and Kirchhoff's laws",
        ),
    ),
    evidence=("voltage at the device at peak", "lowest that it takes", "margin"),
    why="The latch retracts half-way, or reader and controller restart at the very moment when the lock fires.",
    cure="A thicker or separate pair, a supply of its own for the lock, or a lock with a lower peak.",
    limits="A unit's loads are taken to peak with their release group, or one at a time.",
)


def check(feed: Feed, context: Context) -> Iterator[Verdict]:
    judged = False
    for fired in events(feed, context):
        longest = max(known(f.load, "peak_duration", Quantity).value for f in fired)
        hold_up = feed.load.hold_up if isinstance(feed.load, Input) else None
        if isinstance(hold_up, Quantity) and feed not in fired and hold_up.value >= longest:
            continue
        judged = True
        yield judge(feed, context.voltages.firing(feed, fired), context.voltages)
    if not judged:
        yield not_applicable(f"nothing on the conductors of {feed.item.name} draws a peak above its steady current")


def events(feed: Feed, context: Context) -> list[tuple[Feed, ...]]:
    """The sets of loads that peak together on the conductors of a feed: each release group, else each coil alone."""
    groups: dict[str, list[Feed]] = {}
    for other in context.voltages.unit(feed).feeds:
        if isinstance(other.load, Coil) or other is feed:
            peak = own_peak(other)
            if peak > own_current(other):
                group = other.item.release_group if isinstance(other.item.release_group, str) else other.identity
                groups.setdefault(group, []).append(other)
    return [tuple(fired) for fired in groups.values()]
