"""The capacity of a supply's battery against what the standby time needs."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.circuit.battery import BATTERY_SHARE_LEFT
from doorlint.circuit.supplies import FEEDERS
from doorlint.circuit.supply_cures import larger_battery
from doorlint.context import Context
from doorlint.outcome import Cited, Level, Measure, Practice, Verdict, at_least, not_applicable, undecided
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import UNKNOWN, Battery, PowerSource, known

RULE = Rule(
    "battery/capacity-too-small",
    title="The battery is too small for the standby time",
    level=Level.ERROR,
    over=PowerSource,
    applies=lambda source: source.kind in FEEDERS and source.battery is not None,
    scope="power supplies and UPS with a battery",
    basis=(
        Cited("IEEE 485", "2020", "sizing of lead-acid batteries", "ageing factor 1.25", from_memory=True),
        Cited("NFPA 72", "2022", "10.6.10.1", "capacity = (standby + alarm) x factor, the pattern of the calculation"),
        Practice(
            "cold, a discharge faster than 20 h and an end voltage above 1.75 V per cell take further shares of the "
            "capacity; what is energised at rest counts, fail-safe locks above all",
            physics="conservation of charge",
        ),
    ),
    evidence=("current at rest", "standby time", "capacity needed", "capacity", "margin"),
    why="The doors open, or stay shut, hours before the time that was promised; nobody notices until the outage.",
    cure="Use the next larger battery with a charger to match, or locks that draw nothing at rest.",
    parameters=(BATTERY_SHARE_LEFT,),
    limits="Door cycles during the outage are neglected. Other chemistries than lead-acid are decided only where even "
    "the plain charge is too much; the maker's discharge table goes before the shares used here.",
    incomplete=uncounted.together(uncounted.loads, uncounted.schedules),
)


def check(source: PowerSource, context: Context) -> Iterator[Verdict]:
    supplies = context.supplies
    if not supplies.carries(source):
        uncounted.insist(uncounted.loads(source, context))
        yield not_applicable(f"nothing is fed from {source.id}")
        return
    if source.kind == "ups" and source.efficiency is None:
        known(source, "backup", Quantity)
        yield not_applicable(f"the time of {source.id} is stated, not computed", source.at("backup"))
        return
    if source.battery is UNKNOWN:
        known(source, "battery", Battery)
    duration, at = supplies.standby(source)
    need = supplies.need(source, duration, at)
    battery = known(source, "battery", Battery)
    capacity = known(battery, "capacity", Quantity).value
    enough = need.covered_by(capacity)
    if enough is None:
        doubt = need.doubts[0]
        text = f"cannot be decided: {doubt.why}; {Measure(need.least, 'charge')} are needed at least"
        yield undecided(text, (doubt.name,), doubt.place, working=need.working)
        return
    needed = need.most if enough and need.most is not None else need.least
    wanted = need.most if need.most is not None else need.least
    yield at_least(
        f"battery of {source.id} for {Measure(duration, 'time')},",
        Measure(capacity, "charge"),
        Measure(needed, "charge"),
        battery.at("capacity"),
        limit_name="capacity needed",
        working=need.working_most if enough else need.working,
        repairs=() if enough else tuple(larger_battery(battery, wanted)),
    )
