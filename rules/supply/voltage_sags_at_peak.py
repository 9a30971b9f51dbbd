"""The voltage at a load while loads that share its conductors draw their peak."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.circuit.arrival import excused, judge, other_rule_tells
from doorlint.circuit.demand import behind_converters, key_of
from doorlint.circuit.feeds import Feed
from doorlint.circuit.voltages import draws_peak
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
            "or ride through on their hold-up time; at the end of the battery as well",
            physics="Ohm's and Kirchhoff's laws",
        ),
    ),
    evidence=("voltage at the device at peak", "lowest that it takes", "margin"),
    why="The latch retracts half-way, or reader and controller restart at the very moment when the lock fires.",
    cure="A thicker or separate pair, a supply of its own for the lock, or a lock with a lower peak.",
    limits="A unit's loads are taken to peak with their release group, or one at a time. Electronics without a stated "
    "peak are taken to draw at most their stated current.",
    incomplete=uncounted.together(
        uncounted.sharing,
        uncounted.warmth,
        uncounted.where_unknown("items.release_group"),
    ),
)


def check(feed: Feed, context: Context) -> Iterator[Verdict]:
    told = other_rule_tells(feed, context.voltages)
    if told is not None:
        yield told
        return
    judged = False
    for fired in events(feed, context):
        if not _rides_through(feed, fired):
            judged = True
            for found in (context.voltages.firing(feed, fired), context.voltages.firing(feed, fired, on_battery=True)):
                if found is not None:
                    yield excused(judge(feed, found, context.voltages), feed)
    if not judged:
        yield not_applicable(f"nothing on the conductors of {feed.item.name} draws a peak that it would notice")


def _rides_through(feed: Feed, fired: tuple[Feed, ...]) -> bool:
    """Whether the device's hold-up time outlasts the peaks of others."""
    hold_up = feed.load.hold_up if isinstance(feed.load, Input) else None
    if not isinstance(hold_up, Quantity) or any(key_of(other) == key_of(feed) for other in fired):
        return False
    return hold_up.value >= max(known(other.load, "peak_duration", Quantity).value for other in fired)


def events(feed: Feed, context: Context) -> list[tuple[Feed, ...]]:
    """The sets of loads that peak together on the conductors of a feed: each release group, else each lock alone.

    Loads behind a converter on these conductors count, as their power passes through.
    """
    members = list(context.voltages.unit(feed).feeds)
    for member in members:  # grows while it is read: a converter may feed another
        members.extend(load for loaded in behind_converters(member, context.wiring) for load in loaded.feeds)
    groups: dict[str, list[Feed]] = {}
    for other in members:
        if isinstance(other.load, Coil) or other.item.switched_by is not None or key_of(other) == key_of(feed):
            if draws_peak(other):
                group = other.item.release_group if isinstance(other.item.release_group, str) else other.identity
                groups.setdefault(group, []).append(other)
        elif other.load.peak is not None and draws_peak(other):
            groups.setdefault(other.identity, []).append(other)
    return [tuple(fired) for fired in groups.values()]
