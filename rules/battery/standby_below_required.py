"""The time that a source goes on without mains against the time that is demanded."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.circuit.supplies import FEEDERS
from doorlint.context import Context
from doorlint.outcome import Level, Measure, Practice, Related, Verdict, at_least, not_applicable
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import PowerSource, known

RULE = Rule(
    "battery/standby-below-required",
    title="The source does not go on for as long as is demanded",
    level=Level.WARNING,
    over=PowerSource,
    applies=lambda source: source.kind in FEEDERS,
    scope="power supplies and UPS",
    basis=(
        Practice("a standby time is stated with its source, and the time that a source states or gets is no shorter"),
    ),
    evidence=("time without mains", "time demanded", "margin"),
    why="'With battery backup' is no requirement: what is missing shows at acceptance, or in the outage.",
    cure="State the time demanded, and choose source and battery for it.",
    limits="A battery of a supply that states no time is judged by its capacity.",
    incomplete=uncounted.together(uncounted.loads, uncounted.schedules),
)


def check(source: PowerSource, context: Context) -> Iterator[Verdict]:
    supplies = context.supplies
    if source.required_backup is None and source.backup is None:
        why = "its battery is judged by capacity" if source.battery is not None else "no standby is demanded of it"
        yield not_applicable(f"{source.id} states no time: {why}")
        return
    required = known(source, "required_backup", Quantity).value
    if source.kind == "power_supply" and source.backup is None and source.battery is not None:
        yield not_applicable(f"the battery of {source.id} is judged by capacity")
        return
    found = supplies.autonomy(source)
    yield at_least(
        f"time that {source.id} goes on without mains ({found.why})",
        Measure(found.time_s, "time"),
        Measure(required, "time"),
        source.at("required_backup"),
        limit_name="time demanded",
        related=(Related(found.place, "what keeps it going"),),
        working=(found.step,),
    )
