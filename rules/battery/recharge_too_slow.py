"""The charging current against what brings the battery back within a day."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint.circuit.battery import CHARGE_FACTOR
from doorlint.circuit.standby import charge_current
from doorlint.circuit.supplies import FEEDERS
from doorlint.circuit.supply_cures import larger_charger
from doorlint.context import Context
from doorlint.outcome import Cited, Level, Measure, Practice, Verdict, at_least
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import Battery, PowerSource, Undecided, known

LEAD_ACID_FACTOR = Fraction(CHARGE_FACTOR).limit_denominator(100)

RULE = Rule(
    "battery/recharge-too-slow",
    title="The charger does not bring the battery back within a day",
    level=Level.WARNING,
    over=PowerSource,
    applies=lambda source: source.kind in FEEDERS and source.battery is not None,
    scope="power supplies and UPS with a battery",
    basis=(
        Cited("DIN VDE 0833", "", "recharge of the battery", "80 percent within 24 h"),
        Practice("1.2 ampere-hours go into a lead-acid battery for each that comes out"),
    ),
    evidence=("charging current", "charging current needed", "margin"),
    why="The second outage of a week meets a battery that is still empty from the first.",
    cure="Use a charger with more current, within what the battery stands, or a second supply.",
    limits="Constant current throughout; the last fifth of a charge is slower. Other standards allow up to 72 h.",
)


def check(source: PowerSource, context: Context) -> Iterator[Verdict]:
    battery = known(source, "battery", Battery)
    current = known(battery, "charge_current", Quantity).value
    needed, step = charge_current(battery)
    if battery.chemistry != "lead_acid" and needed <= current < needed * LEAD_ACID_FACTOR:
        raise Undecided("chemistry", battery.at("chemistry"), stated=battery.chemistry is not None)
    yield at_least(
        f"charging current of {source.id}",
        Measure(current, "current"),
        Measure(needed, "current"),
        battery.at("charge_current"),
        limit_name="current that brings 80 % back within 24 h,",
        working=(step,),
        repairs=() if current >= needed else tuple(larger_charger(battery, needed)),
    )
