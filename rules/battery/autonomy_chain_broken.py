"""Standby that differs along one door: lock, sensor, reader and controller on sources that last differently."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.circuit.feeds import Feed
from doorlint.circuit.rest import LOCKS, kind_of
from doorlint.circuit.supplies import POE_KINDS, Autonomy
from doorlint.context import Context
from doorlint.outcome import Level, Measure, Practice, Related, Verdict, at_least, not_applicable
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import Opening, PowerSource, known

LINKS = (
    *LOCKS,
    "reader",
    "keypad",
    "reader_controller",
    "door_controller",
    "relay_module",
    "relay",
    "converter",
    "request_to_exit_sensor",
    "touch_bar",
    "fire_alarm_relay",
)

RULE = Rule(
    "battery/autonomy-chain-broken",
    title="One link of the door fails before the others in an outage",
    level=Level.WARNING,
    over=Opening,
    basis=(
        Practice(
            "the time without mains of a door is that of its weakest link; where one supply of the door is to go on "
            "for a time, the others are too"
        ),
    ),
    evidence=("time of the weakest link", "time demanded at the door", "margin"),
    why="The magnet holds for four hours and the sensor that lets people out, or the reader, is dead at once.",
    cure="Feed all links of a door from the same standby, or give the weak one its own.",
    limits="A link whose own source has the same demand is judged there. Links that only PoE feeds are judged apart.",
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    links = [(feeds, _sources(feeds)) for feeds in _feeds(opening, context)]
    demands = [s for _, sources in links for s in sources if isinstance(s.required_backup, Quantity)]
    if not demands:
        uncounted.insist([*uncounted.devices(opening, context), *_feeds_unknown(opening, context)])
        yield not_applicable("no supply of this opening has a standby time demanded")
        return
    strictest = max(demands, key=lambda s: known(s, "required_backup", Quantity).value)
    required = known(strictest, "required_backup", Quantity).value
    weakest: tuple[Feed, Autonomy] | None = None
    for feeds, sources in links:
        if any(isinstance(s.required_backup, Quantity) and s.required_backup.value >= required for s in sources):
            continue
        best = max((context.supplies.autonomy(s) for s in sources), key=lambda found: found.time_s)
        if weakest is None or best.time_s < weakest[1].time_s:
            weakest = (feeds[0], best)
    if weakest is None:
        yield not_applicable("every link of this opening hangs on sources with the same demand, judged there")
        return
    feed, found = weakest
    name = feed.sources[0].id
    related = (Related(strictest.at("required_backup"), f"demanded of {strictest.id}, which feeds this door too"),)
    yield at_least(
        f"time without mains of {feed.item.name} on {name}",
        Measure(found.time_s, "time"),
        Measure(required, "time"),
        feed.place,
        limit_name=f"time demanded of {strictest.id}",
        related=related,
        working=(found.step,),
    )


_feeds_unknown = uncounted.where_unknown("items.fed_from")
"""The feeds that may hang on a source with a demand."""


def _feeds(opening: Opening, context: Context) -> Iterator[tuple[Feed, ...]]:
    for item in opening.items.values():
        feeds = context.wiring.by_item.get(item.identity, ())
        if kind_of(item) in LINKS and _sources(feeds):
            yield feeds


def _sources(feeds: tuple[Feed, ...]) -> list[PowerSource]:
    """The sources of a link; empty where only PoE feeds it."""
    sources = [source for feed in feeds for source in feed.sources]
    return [] if all(source.kind in POE_KINDS for source in sources) else sources
