"""Steady power that a door draws over PoE against what its port and channel leave for it."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint import uncounted
from doorlint.circuit.poe_cures import channel_repairs, channel_that_leaves, port_repairs, supply_repairs
from doorlint.circuit.poe_links import PoeLink, PoeLinks, exact, rank, states_output_limit
from doorlint.context import Context
from doorlint.outcome import (
    Cited,
    Level,
    Measure,
    Practice,
    Related,
    Repair,
    Step,
    Verdict,
    at_most,
    not_applicable,
    ok,
    undecided,
)
from doorlint.rulebook import Rule

RULE = Rule(
    "poe/draw-above-available-power",
    title="The door draws more over PoE than its port and cable leave for it",
    level=Level.ERROR,
    over=PoeLink,
    applies=lambda link: not link.passive,
    scope="ports that give power by IEEE 802.3",
    basis=(
        Cited("IEEE 802.3", "2022", "clauses 33 and 145", "power at the device by class", from_memory=True),
        Practice(
            "device, lock and accessories together stay within the power of the class granted",
            physics="conservation of energy: a port cuts off, or a converter folds back, beyond its power",
        ),
    ),
    evidence=("power drawn, converter losses included", "power at the end of the channel", "margin"),
    why="The controller restarts whenever the lock is held; the door works on the bench and fails in the evening, when "
    "everything is on at once.",
    cure="Use a lock that draws less, feed the lock from a supply of its own, or a device and port of a higher class. "
    "A higher port alone gives nothing more to a device that asks for a lower class.",
    limits="Everything is taken to be on at once. Behind a device that passes PoE on, the far device is judged with "
    "what is left for it. Extended power on short channels is not counted.",
    incomplete=uncounted.loads,
)


def check(link: PoeLink, context: Context) -> Iterator[Verdict]:
    poe, name = context.poe, link.item.name
    grant = poe.grant(link)
    if grant.granted is None:
        text = f"a port of class {grant.port} may not power a device of class {grant.asked} at all"
        yield not_applicable(text)
        return
    demand = poe.demand(link)
    ceiling = exact(grant.granted.pd_w)
    if link.carries_poe and demand.own_w is not None and demand.own_w <= ceiling:
        yield not_applicable(f"{name} passes PoE on: what it leaves is judged at the devices behind it")
        return
    related = (
        Related(grant.port_place, f"the port has class {grant.port}"),
        Related(grant.asked_place, f"{name} asks for class {grant.asked}"),
        *(Related(c.feed.place, f"{c.feed.item.name} is fed through {name}") for c in demand.carried[:3]),
    )
    what = f"power that {name} draws"
    if demand.total_w is None and demand.least_w <= ceiling:
        if states_output_limit(link) and rank(grant.granted.number) >= rank(grant.asked):
            text = f"{name} gets class {grant.asked} as it asks; its sheet limits its outputs to what that class leaves"
            yield ok(text, link.place, related=related)
            return
        missing = tuple(dict.fromkeys(gap.name for gap in demand.gaps))
        text = f"cannot be decided: {name} draws at least {Measure(demand.least_w, 'power')}; the rest is not known"
        yield undecided(text, missing, demand.gaps[0].place, related=related)
        return
    drawn = demand.least_w if demand.total_w is None else demand.total_w
    power: Fraction | float
    steps: tuple[Step, ...]
    if drawn > ceiling:
        power, steps = ceiling, (demand.step,)
    else:
        available = poe.available(link)
        power, steps = available.power_w, (*available.steps, demand.step)
    yield at_most(
        what if demand.total_w is not None else f"{what}, at the least,",
        Measure(drawn, "power"),
        Measure(power, "power"),
        link.place,
        limit_name="power at the end of its channel,",
        related=related,
        working=steps,
        repairs=tuple(_repairs(link, poe, drawn)) if drawn > power else (),
    )


def _repairs(link: PoeLink, poe: PoeLinks, drawn: Fraction) -> Iterator[Repair]:
    granted = poe.grant(link).granted
    assert granted is not None
    yield from port_repairs(link, poe)
    if link.upstream is None:
        most = channel_that_leaves(granted, poe.lowest_port_v(link, granted), float(drawn))
        if most is not None:
            yield from channel_repairs(link, poe, most)
    yield from supply_repairs(link, poe)
