"""The verdict on a voltage that arrives at a load."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from ..outcome import Kind, Measure, Place, Related, Step, Verdict, at_least, failed, not_applicable, undecided
from ..spec.fields import UNKNOWN
from ..spec.model import Input
from .cures import line_repairs
from .demand import source_voltage
from .feeds import Feed
from .tolerance import voltage_taken
from .voltages import LoadVoltage, Voltages


def judge(feed: Feed, found: LoadVoltage, voltages: Voltages) -> Verdict:
    """Whether enough voltage arrives in the state found. A circuit without operating point fails."""
    taken, _ = voltage_taken(feed.load, voltages.spec.practice)
    related = (
        Related(feed.load.at("voltage"), f"{feed.item.name} takes {taken.text}"),
        Related(feed.terminal.output.place.key, f"fed from {feed.terminal.label}"),
    )
    return compared(feed, found, voltages, Measure(taken.low, "voltage"), "lowest that it takes,", related)


def compared(
    feed: Feed,
    found: LoadVoltage,
    voltages: Voltages,
    least: Measure,
    name: str,
    related: tuple[Related, ...],
    more: tuple[Step, ...] = (),
) -> Verdict:
    """Whether the voltage found is at least `least`; `name` is what the limit is called, `more` its working."""
    place, working = line_place(feed), (*found.working, *more)
    if found.worst_v is None:
        text = f"the circuit of {feed.item.name} has no operating point, {found.state}: {found.collapse}"
        repairs = tuple(line_repairs(feed, found, voltages, float(least.value)))
        return failed(text, place, related=related, limit=least, working=working, repairs=repairs)
    arrives = volts(found.worst_v)
    return at_least(
        f"voltage at {feed.item.name}, {found.state},",
        arrives,
        least,
        place,
        limit_name=name,
        related=related,
        working=working,
        repairs=tuple(line_repairs(feed, found, voltages, float(least.value))) if arrives.value < least.value else (),
    )


def volts(value: float) -> Measure:
    """A computed voltage to the nanovolt, far finer than any data: so that 10.2 V is 10.2 V and not a hair less."""
    return Measure(Fraction(round(value * 10**9), 10**9), "voltage")


def other_rule_tells(feed: Feed, voltages: Voltages) -> Verdict | None:
    """not applicable where the source itself gives less than the load takes: that is a rule of its own, and the line
    can do nothing about it."""
    source, (taken, _) = source_voltage(feed.terminal), voltage_taken(feed.load, voltages.spec.practice)
    if source.low >= taken.low:
        return None
    return not_applicable(
        f"{feed.terminal.label} itself gives less than {feed.item.name} takes; that is a rule of its own"
    )


def excused(verdict: Verdict, feed: Feed) -> Verdict:
    """A failure that a hold-up time given as unknown might excuse is open."""
    if verdict.kind is Kind.FAIL and isinstance(feed.load, Input) and feed.load.hold_up is UNKNOWN:
        text = f"cannot be decided: hold_up is given as unknown, and without it {verdict.message}"
        opened = undecided(text, ("hold_up",), feed.load.at("hold_up"), related=verdict.related)
        return replace(opened, working=verdict.working)
    return verdict


def line_place(feed: Feed) -> Place:
    """Where the line of a feed is stated: its length, else what feeds it."""
    return feed.item.at("length") if feed.item.length is not None else feed.place
