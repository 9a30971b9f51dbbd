"""What a PoE source sets aside for all its devices against its budget."""

from __future__ import annotations

from collections.abc import Iterator
from math import ceil

from doorlint import uncounted
from doorlint.circuit.poe_cures import setting
from doorlint.circuit.poe_links import Allotment, PoeSource
from doorlint.context import Context
from doorlint.outcome import (
    Level,
    Measure,
    Practice,
    Related,
    Repair,
    Step,
    Verdict,
    at_most,
    not_applicable,
    undecided,
)
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import known

RULE = Rule(
    "poe/budget-exceeded",
    title="The PoE source sets aside more power than its budget",
    level=Level.ERROR,
    over=PoeSource,
    applies=lambda poe: bool(poe.links) and poe.source.standard != "passive",
    scope="sources with devices on them that give power by IEEE 802.3",
    basis=(
        Practice(
            "the power set aside for all ports, by class or by use as configured, stays within the budget",
            physics="conservation of energy: what is beyond the budget is refused, port by port",
        ),
    ),
    evidence=("power set aside", "budget", "margin"),
    why="Each port could feed its door, all together cannot: after a restart the last doors stay dark.",
    cure="Use a source with a higher budget, spread the doors over two, or let it count by use instead of by class.",
    limits="Only devices that the spec lists are counted: phones, cameras and others on the source come on top.",
    incomplete=uncounted.loads,
)


def check(poe: PoeSource, context: Context) -> Iterator[Verdict]:
    source = poe.source
    if source.kind == "poe_injector" and source.budget is None and len(poe.links) == 1:
        yield not_applicable(f"{source.id} feeds one device: its class says what it gives")
        return
    budget = known(source, "budget", Quantity)
    allotment, how = context.poe.set_aside(poe)
    if allotment.total_w is None and allotment.least_w <= budget.value:
        names = tuple(dict.fromkeys(gap.name for gap in allotment.gaps))
        text = f"cannot be decided: {Measure(allotment.least_w, 'power')} are set aside {how}; the rest is not known"
        yield undecided(text, names, allotment.gaps[0].place, working=(allotment_step(allotment, how),))
        return
    over = allotment.least_w > budget.value
    yield at_most(
        f"power that {source.id} sets aside {how}",
        Measure(allotment.least_w, "power"),
        Measure(budget.value, "power"),
        source.at("budget"),
        limit_name="budget",
        related=tuple(Related(link.place, f"{link.identity} is on it") for link in poe.links[:3]),
        working=(allotment_step(allotment, how),),
        repairs=tuple(_repairs(poe, allotment, how)) if over else (),
    )


def allotment_step(allotment: Allotment, how: str) -> Step:
    """The working of an allotment."""
    ground = (
        "power at the port by class"
        if how == "by class"
        else "power at the port for the steady draw, never above class"
    )
    return Step(
        f"power set aside {how}", "sum over the ports", Measure(allotment.least_w, "power"), allotment.terms, ground
    )


def _repairs(poe: PoeSource, allotment: Allotment, how: str) -> Iterator[Repair]:
    source = poe.source
    if how == "by class":
        yield Repair(f"let {source.id} count by use", (setting(source, "allocation", "by_use"),))
    text = f"{ceil(allotment.least_w / 10) * 10} W"
    yield Repair(f"use a source with a budget of {text} for {source.id}", (setting(source, "budget", text),))
