"""The voltage that arrives at a load while everything on its conductors is on, on mains and on battery."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.circuit.arrival import judge, other_rule_tells
from doorlint.circuit.feeds import Feed
from doorlint.circuit.lines import WARM_CONDUCTOR
from doorlint.circuit.tolerance import TOLERANCES
from doorlint.context import Context
from doorlint.outcome import Level, Practice, Verdict
from doorlint.rulebook import Rule

RULE = Rule(
    "supply/voltage-below-minimum",
    title="Too little voltage arrives at the device",
    level=Level.ERROR,
    over=Feed,
    applies=lambda feed: feed.terminal.supply != "poe",
    scope="devices that are not fed over PoE",
    needs=("load.voltage",),
    basis=(
        Practice(
            "the voltage at the device's terminals, conductors warm and contacts aged, source at its lowest, stays "
            "within what the device takes; at the end of the battery as well",
            physics="Ohm's and Kirchhoff's laws; copper gains 0.393 percent of resistance per kelvin",
        ),
    ),
    evidence=("voltage at the device", "lowest that it takes", "margin"),
    why="The supply is fine, yet the strike clicks without pulling and the magnet's bond sensor fails, first on warm "
    "afternoons and an hour into an outage.",
    cure="A thicker conductor, a shorter run, 24 V instead of 12 V, or a supply at the door.",
    parameters=(*TOLERANCES, WARM_CONDUCTOR),
    limits="Lengths as stated: the spec must give real runs, risers and slack included.",
    incomplete=uncounted.together(uncounted.sharing, uncounted.warmth),
)


def check(feed: Feed, context: Context) -> Iterator[Verdict]:
    yield other_rule_tells(feed, context.voltages) or judge(feed, context.voltages.steady(feed), context.voltages)
    on_battery = context.voltages.on_battery(feed)
    if on_battery is not None:
        yield judge(feed, on_battery, context.voltages)
