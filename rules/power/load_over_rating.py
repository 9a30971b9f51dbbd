"""The steady load of a supply, charging included, against what it gives at its ambient temperature."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.circuit.supplies import FEEDERS, full_load_current
from doorlint.circuit.supply_cures import larger_supply, load_elsewhere
from doorlint.context import Context
from doorlint.outcome import Level, Measure, Practice, Related, Step, Term, Verdict, at_most, not_applicable
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import Battery, PowerSource, known

RULE = Rule(
    "power/load-over-rating",
    title="Loads and charging draw more than the supply is rated for",
    level=Level.ERROR,
    over=PowerSource,
    applies=lambda source: source.kind in FEEDERS,
    scope="power supplies and UPS",
    basis=(
        Practice(
            "a supply carries all its loads at once and charges its battery meanwhile, at the warmest of its place",
            physics="conservation of charge: a supply cannot give more current than it takes its rating from",
        ),
    ),
    evidence=("steady load", "charging current", "current available", "margin"),
    why="The supply folds back, runs hot and never fills its battery, and the next outage finds it empty.",
    cure="Use a larger supply, or feed some of the loads from another one.",
    limits="Holding currents at nominal voltage; the charging current of a UPS is inside its own rating.",
    incomplete=uncounted.loads,
)


def check(source: PowerSource, context: Context) -> Iterator[Verdict]:
    supplies = context.supplies
    if not supplies.carries(source):
        uncounted.insist(uncounted.loads(source, context))
        yield not_applicable(f"nothing is fed from {source.id}")
        return
    load = supplies.steady(source)
    available = full_load_current(source)
    total, steps, what = load.value, [load.step], f"steady load of {source.id}"
    battery = source.battery
    if source.kind == "power_supply" and isinstance(battery, Battery) and total <= available.value:
        charging = known(battery, "charge_current", Quantity).value
        total += charging
        what += " with charging"
        term = Term("charging", str(Measure(charging, "current")), battery.at("charge_current"))
        steps.append(Step("with charging", "steady load + charging", Measure(total, "current"), (term,)))
    related = tuple(
        Related(feed.load.at("current"), f"current of {feed.identity}") for feed in supplies.feeds(source)[:3]
    )
    repairs = [] if total <= available.value else [*load_elsewhere(source, total - available.value, supplies)]
    if total > available.value and available.value:
        rated = known(source, "current", Quantity).value
        repairs += larger_supply(source, total * rated / available.value)
    yield at_most(
        what,
        Measure(total, "current"),
        Measure(available.value, "current"),
        source.at("current"),
        limit_name="current available",
        related=related,
        working=(*steps, available.step),
        repairs=tuple(repairs),
    )
