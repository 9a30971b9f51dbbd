"""The steady load of a supply against the share of its rating that is meant to be used."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint import uncounted
from doorlint.circuit.supplies import FEEDERS, LOAD_SHARE, full_load_current
from doorlint.circuit.supply_cures import larger_supply, load_elsewhere
from doorlint.context import Context
from doorlint.outcome import Level, Measure, Practice, Related, Step, Term, Verdict, at_most, not_applicable
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import PowerSource, known

RULE = Rule(
    "power/load-over-share",
    title="The supply is loaded beyond the share of its rating meant for use",
    level=Level.WARNING,
    over=PowerSource,
    applies=lambda source: source.kind in FEEDERS,
    scope="power supplies and UPS",
    basis=(Practice("a supply is loaded steadily with 75 to 80 percent of its rating; 80 where no share is stated"),),
    evidence=("steady load", "share of the rating", "margin"),
    why="A supply at its limit runs hot and ages, and there is nothing left for the next door.",
    cure="Use a larger supply, or feed some of the loads from another one.",
    parameters=(LOAD_SHARE,),
    limits="Holding currents at nominal voltage with every load on; peaks are a rule of their own.",
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
    stated = source.load_share is not None
    share = known(source, "load_share", Quantity).value if stated else LOAD_SHARE.value(context.spec.practice)
    limit = available.value * share
    percent = f"{float(share) * 100:g} %"
    term = Term("share", percent, source.at("load_share") if stated else None)
    ground = "" if stated else "practice, as no share is stated"
    used = Step("meant for use", "current available x share", Measure(limit, "current"), (term,), ground)
    repairs = [] if load.value <= limit else [*load_elsewhere(source, load.value - limit, supplies)]
    if load.value > limit > 0:
        repairs += larger_supply(source, load.value * known(source, "current", Quantity).value / limit)
    feeds = supplies.feeds(source)[:3]
    yield at_most(
        f"steady load of {source.id}",
        Measure(load.value, "current"),
        Measure(Fraction(limit), "current"),
        source.at("current"),
        limit_name=f"{percent} of the current available,",
        related=tuple(Related(feed.load.at("current"), f"current of {feed.identity}") for feed in feeds),
        working=(load.step, available.step, used),
        repairs=tuple(repairs),
    )
