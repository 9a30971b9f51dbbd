"""The locks of both leaves of a pair that draw their peak at one moment from one source."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint.circuit.demand import own_current, own_peak
from doorlint.circuit.feeds import Feed
from doorlint.circuit.voltages import root_of
from doorlint.context import Context
from doorlint.outcome import (
    Change,
    Kind,
    Level,
    Measure,
    Place,
    Practice,
    Related,
    Repair,
    Step,
    Term,
    Verdict,
    at_least,
    not_applicable,
    ok,
)
from doorlint.quantity import Quantity, show
from doorlint.rulebook import Rule
from doorlint.spec import UNKNOWN, Item, Opening, PowerSource, Undecided, known

PAUSE = Fraction(1, 10)

RULE = Rule(
    "release/leaves-peak-together",
    title="The locks of both leaves draw their peak at the same moment",
    level=Level.WARNING,
    over=Opening,
    applies=lambda opening: {"active", "inactive"} <= {item.leaf for item in opening.items.values()},
    scope="openings with devices on an active and an inactive leaf",
    basis=(
        Practice(
            "the second leaf is released 0.1 s after the peak of the first, or the source gives both peaks at once",
            physics="two peaks at one moment add up",
        ),
    ),
    evidence=("delay between the leaves", "peak and pause", "what the source gives"),
    why="The first leaf opens and the second one does not, most often when the battery is old.",
    cure="Delay the release of the second leaf, or use a source that gives both peaks.",
    limits="Looks at the two leaves alone; the other loads of the source are judged with its budget.",
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    pairs = list(_pairs(opening, context))
    if not pairs:
        yield not_applicable("no two devices of the two leaves peak above their steady current on one source")
    for one, two in pairs:
        yield _verdict(one, two)


def _pairs(opening: Opening, context: Context) -> Iterator[tuple[Feed, Feed]]:
    """Devices of different leaves that peak, on one source; each pair once."""
    feeds: dict[str, list[Feed]] = {"active": [], "inactive": []}
    for item in opening.items.values():
        if item.leaf in ("active", "inactive"):
            for feed in context.wiring.by_item.get(item.identity, ()):
                if feed.supply != "poe" and feed.load.peak is not None and own_peak(feed) > own_current(feed):
                    feeds[str(item.leaf)].append(feed)
    for one in feeds["active"]:
        for two in feeds["inactive"]:
            if root_of(one.terminal).owner == root_of(two.terminal).owner:
                yield one, two


def _verdict(one: Feed, two: Feed) -> Verdict:
    peaks = own_peak(one) + own_peak(two)
    gives, place, source = _gives(one, two)
    names = f"{one.item.name} and {two.item.name}"
    if gives is not None and gives >= peaks:
        text = f"{source} gives {Measure(gives, 'current')}, the peaks of {names} together {Measure(peaks, 'current')}"
        return ok(text, place)
    groups = [feed.item.release_group for feed in (one, two)]
    if all(isinstance(group, str) for group in groups) and groups[0] != groups[1]:
        return ok(f"{names} belong to two release groups, which are released apart", one.item.at("release_group"))
    for feed in (one, two):
        if feed.item.release_group is UNKNOWN:
            known(feed.item, "release_group", str)
    delays = [_delay(feed.item) for feed in (one, two)]
    gap = abs(delays[0] - delays[1])
    first, second = (one, two) if delays[0] <= delays[1] else (two, one)
    lasts = known(first.load, "peak_duration", Quantity)
    needed = lasts.value + PAUSE
    terms = (
        Term(f"peak of {first.item.name} lasts", lasts.text, first.load.at("peak_duration")),
        Term("pause", "0.1 s"),
    )
    related = [
        Related(feed.load.at("peak"), f"{feed.item.name} peaks at {Measure(own_peak(feed), 'current')}")
        for feed in (one, two)
    ]
    if gives is not None:
        related.append(Related(place, f"{source} gives {Measure(gives, 'current')}"))
    verdict = at_least(
        f"delay between {first.item.name} and {second.item.name}",
        Measure(gap, "time"),
        Measure(needed, "time"),
        second.item.at("release_delay"),
        limit_name="peak and pause,",
        related=tuple(related),
        working=(Step("least delay", "peak duration + pause", Measure(needed, "time"), terms),),
        repairs=_repairs(second.item, min(delays) + needed),
    )
    if verdict.kind is Kind.FAIL and gives is None and isinstance(root_of(one.terminal).owner, PowerSource):
        raise Undecided("current", place, stated=False)
    return verdict


def _delay(item: Item) -> Fraction:
    return Fraction(0) if item.release_delay is None else known(item, "release_delay", Quantity).value


def _gives(one: Feed, two: Feed) -> tuple[Fraction | None, Place, str]:
    """The peak that the source of both gives (its output, where both are on one); None where it is not stated."""
    root = root_of(one.terminal)
    if root.identity == root_of(two.terminal).identity:
        figures, label = root.output, root.label
    else:
        assert isinstance(root.owner, PowerSource | Item)
        if isinstance(root.owner, Item):
            return None, root.place, root.label
        source = root.owner
        name = "peak" if source.peak is not None else "current"
        value = getattr(source, name)
        if value is UNKNOWN:
            known(source, name, Quantity)
        return (value.value if isinstance(value, Quantity) else None), source.at(name), source.id
    name = "peak" if figures.peak is not None else "current"
    value = getattr(figures, name)
    if value is UNKNOWN:
        known(figures, name, Quantity)
    return (value.value if isinstance(value, Quantity) else None), figures.at(name), label


def _repairs(item: Item, delay: Fraction) -> tuple[Repair, ...]:
    text = show(delay, "time")
    if item.release_delay is None:
        change = Change(item.place, text, "release_delay")
    else:
        change = Change(item.at("release_delay"), text)
    return (Repair(f"release {item.name} after {text}", (change,)),)
