"""The peak of the locks that act at once against what the supply gives for as long as the peak lasts."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.circuit.rest import peak_of
from doorlint.circuit.supplies import FEEDERS, Group, full_load_current
from doorlint.circuit.supply_cures import larger_supply, release_apart
from doorlint.context import Context
from doorlint.outcome import Level, Measure, Practice, Related, Step, Term, Verdict, at_most, not_applicable
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import PowerSource, known

RULE = Rule(
    "power/peak-over-supply",
    title="Locks that act at once peak above what the supply gives",
    level=Level.ERROR,
    over=PowerSource,
    applies=lambda source: source.kind in FEEDERS,
    scope="power supplies and UPS",
    basis=(
        Practice(
            "the locks of a release group, of a schedule and of one opening act at once, on top of all other loads; "
            "where the sheet of a supply states no peak, its rating counts",
            physics="conservation of charge: beyond its peak a supply limits, folds back or shuts down",
        ),
    ),
    evidence=("peak load of the worst group", "peak of the supply", "margin"),
    why="The supply folds back at the moment of a group command, and every door on it stays shut or resets.",
    cure="Release the locks half a second to a second apart, use locks that peak lower, or a supply that peaks higher.",
    limits="Locks of different openings without a common group are taken to act one opening at a time.",
    incomplete=uncounted.together(uncounted.loads, uncounted.schedules),
)


def check(source: PowerSource, context: Context) -> Iterator[Verdict]:
    supplies = context.supplies
    group = supplies.worst_group(source)
    if group is None:
        uncounted.insist(uncounted.loads(source, context))
        yield not_applicable(f"no lock hangs on {source.id}")
        return
    load = supplies.steady(source)
    total = load.value + group.extra
    available = full_load_current(source)
    name, limit = "current", available.value
    if total > limit and source.peak is not None and _lasts(source, group):
        name, limit = "peak", max(limit, known(source, "peak", Quantity).value)
    terms = tuple(
        Term(f"{feed.identity} peak", str(Measure(peak_of(feed), "current")), feed.load.at("peak"))
        for feed in group.feeds
    )
    step = Step(f"peak load, {group.name}", "steady load + peaks above it", Measure(total, "current"), terms)
    repairs = [] if total <= limit else [*release_apart(group), *larger_supply(source, total)]
    yield at_most(
        f"peak load of {source.id} while {_words(group)} at once",
        Measure(total, "current"),
        Measure(limit, "current"),
        source.at(name),
        limit_name="peak of the supply" if name == "peak" else "current available",
        related=tuple(Related(feed.load.at("peak"), f"peak of {feed.identity}") for feed in group.feeds[:3]),
        working=(load.step, step, available.step),
        repairs=tuple(repairs),
    )


def _words(group: Group) -> str:
    return f"{group.name} acts" if not group.name.startswith("locks") else f"{group.name} act"


def _lasts(source: PowerSource, group: Group) -> bool:
    """Whether the supply gives its peak for as long as the longest peak of the group."""
    if group.longest is None:
        return True
    return known(group.longest.load, "peak_duration", Quantity).value <= known(source, "peak_duration", Quantity).value
