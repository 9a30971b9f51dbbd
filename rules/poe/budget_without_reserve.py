"""What a PoE source sets aside against the share of its budget that leaves a reserve."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint import uncounted
from doorlint.circuit.poe_links import PoeSource
from doorlint.context import Context
from doorlint.outcome import Level, Measure, Practice, Step, Term, Verdict, at_most, not_applicable, undecided
from doorlint.quantity import Quantity
from doorlint.rulebook import Parameter, Rule
from doorlint.spec import PowerSource, known

from .budget_exceeded import allotment_step

SHARE = Parameter(
    "poe_budget_share",
    "share of a PoE source's budget that doors are planned on",
    "ratio",
    Fraction(80, 100),
    "lower",
    Practice("80 percent; common practice, no source"),
)

RULE = Rule(
    "poe/budget-without-reserve",
    title="The PoE source's budget is used up to less than its reserve",
    level=Level.WARNING,
    over=PoeSource,
    applies=lambda poe: bool(poe.links) and poe.source.standard != "passive" and poe.source.budget is not None,
    scope="sources with a stated budget and devices on them",
    basis=(
        Practice(
            "doors are planned on at most 80 percent of a source's power: devices are "
            "added, one power module of two fails, and power falls with heat"
        ),
    ),
    evidence=("power set aside", "share of the budget", "margin"),
    why="The next device that somebody plugs in takes the power of a door.",
    cure="Use a source with a higher budget, or spread the doors over two.",
    parameters=(SHARE,),
    limits="Only devices that the spec lists are counted.",
    incomplete=uncounted.loads,
)


def check(poe: PoeSource, context: Context) -> Iterator[Verdict]:
    source = poe.source
    budget = known(source, "budget", Quantity).value
    allotment, how = context.poe.set_aside(poe)
    if allotment.least_w > budget:
        yield not_applicable(f"{source.id} is beyond its whole budget already")
        return
    share = SHARE.value(context.spec.practice)
    limit = budget * share
    step = allotment_step(allotment, how)
    if allotment.total_w is None and allotment.least_w <= limit:
        names = tuple(dict.fromkeys(gap.name for gap in allotment.gaps))
        text = f"cannot be decided: {Measure(allotment.least_w, 'power')} are set aside {how}; the rest is not known"
        yield undecided(text, names, allotment.gaps[0].place, working=(step,))
        return
    yield at_most(
        f"power that {source.id} sets aside {how}",
        Measure(allotment.least_w, "power"),
        Measure(limit, "power"),
        source.at("budget"),
        limit_name=f"planned share ({SHARE.show(share)} of its budget),",
        working=(step, _share_step(source, limit, share)),
    )


def _share_step(source: PowerSource, limit: Fraction, share: Fraction) -> Step:
    budget = Term("budget", known(source, "budget", Quantity).text, source.at("budget"))
    terms = (budget, Term("share", SHARE.show(share)))
    return Step("planned share", "budget x share", Measure(limit, "power"), terms, "common practice")
