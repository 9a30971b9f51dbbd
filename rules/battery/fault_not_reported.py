"""Whether anybody hears of it when the mains of a supply fail or its battery is low."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.circuit.supplies import FEEDERS
from doorlint.context import Context
from doorlint.outcome import Level, Practice, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import PowerSource, known

RULE = Rule(
    "battery/fault-not-reported",
    title="Nobody is told when the mains fail or the battery is low",
    level=Level.WARNING,
    over=PowerSource,
    applies=lambda source: source.kind in FEEDERS and source.battery is not None,
    scope="power supplies and UPS with a battery",
    basis=(Practice("mains failure and low battery of a supply are wired to somebody who acts on them, and tested"),),
    evidence=("what is reported",),
    why="The outage is noticed by the first person who stands before a dead door.",
    cure="Wire the fault contacts of the supply to an input that raises an alarm.",
    limits="The spec says whether they are reported, not whether the report was tested.",
)


def check(source: PowerSource, context: Context) -> Iterator[Verdict]:
    if not context.supplies.carries(source):
        uncounted.insist(uncounted.loads(source, context))
        yield not_applicable(f"nothing is fed from {source.id}")
        return
    for name, what in (("mains_failure_reported", "mains failure"), ("low_battery_reported", "low battery")):
        if known(source, name, bool):
            yield ok(f"{what} of {source.id} is reported", source.at(name))
        else:
            yield failed(f"{what} of {source.id} is reported to nobody", source.at(name))
