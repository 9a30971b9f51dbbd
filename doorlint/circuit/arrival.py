"""The verdict on a voltage that arrives at a load."""

from __future__ import annotations

from ..outcome import Measure, Place, Related, Verdict, at_least, failed
from .cures import line_repairs
from .feeds import Feed
from .tolerance import voltage_taken
from .voltages import LoadVoltage, Voltages


def judge(feed: Feed, found: LoadVoltage, voltages: Voltages) -> Verdict:
    """Whether enough voltage arrives in the state found. A circuit without operating point fails."""
    taken, _ = voltage_taken(feed.load)
    place = line_place(feed)
    related = (
        Related(feed.load.at("voltage"), f"{feed.item.name} takes {taken.text}"),
        Related(feed.terminal.output.place.key, f"fed from {feed.terminal.label}"),
    )
    low = Measure(taken.low, "voltage")
    if found.worst_v is None:
        text = f"the circuit of {feed.item.name} has no operating point, {found.state}: {found.collapse}"
        repairs = tuple(line_repairs(feed, found, voltages))
        return failed(text, place, related=related, limit=low, working=found.working, repairs=repairs)
    return at_least(
        f"voltage at {feed.item.name}, {found.state},",
        Measure(found.worst_v, "voltage"),
        low,
        place,
        limit_name="lowest that it takes,",
        related=related,
        working=found.working,
        repairs=tuple(line_repairs(feed, found, voltages)) if found.worst_v < taken.low else (),
    )


def line_place(feed: Feed) -> Place:
    """Where the line of a feed is stated: its length, else what feeds it."""
    return feed.item.at("length") if feed.item.length is not None else feed.place
