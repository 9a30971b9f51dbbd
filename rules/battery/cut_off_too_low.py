"""The voltage at which a supply disconnects its battery."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint.circuit.supplies import FEEDERS
from doorlint.context import Context
from doorlint.outcome import Change, Level, Measure, Practice, Repair, Step, Term, Verdict, at_least, ok
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import Battery, PowerSource, known

LOWEST_PER_CELL_V = Fraction(170, 100)
USUAL_PER_CELL_V = Fraction(175, 100)

RULE = Rule(
    "battery/cut-off-too-low",
    title="The battery is not cut off before the electronics lose their footing",
    level=Level.WARNING,
    over=PowerSource,
    applies=lambda source: source.kind in FEEDERS and source.battery is not None,
    scope="power supplies and UPS with a battery",
    basis=(Practice("a 12 V lead-acid battery is cut off at 10.5 V, not below 10.2 V; the doors then fail cleanly"),),
    evidence=("cut-off voltage", "lowest cut-off voltage", "margin"),
    why="Between 6 and 9 V a lock half holds and a controller writes nonsense; the battery is ruined besides.",
    cure="Use a supply that cuts off at 1.75 V per cell.",
    limits="For other chemistries only that a cut-off is stated; its level is the battery maker's.",
)


def check(source: PowerSource, context: Context) -> Iterator[Verdict]:
    battery = known(source, "battery", Battery)
    cut_off = known(battery, "cut_off_voltage", Quantity).value
    if known(battery, "chemistry", str) != "lead_acid":
        yield ok(f"{source.id} cuts its battery off at {Measure(cut_off, 'voltage')}", battery.at("cut_off_voltage"))
        return
    cells = known(battery, "voltage", Quantity).value / 2
    lowest, usual = cells * LOWEST_PER_CELL_V, str(Measure(cells * USUAL_PER_CELL_V, "voltage"))
    term = Term("nominal voltage", str(Measure(cells * 2, "voltage")), battery.at("voltage"))
    step = Step("lowest cut-off", "1.70 V x cells of 2 V", Measure(lowest, "voltage"), (term,), "practice")
    yield at_least(
        f"cut-off voltage of {source.id}",
        Measure(cut_off, "voltage"),
        Measure(lowest, "voltage"),
        battery.at("cut_off_voltage"),
        limit_name="lowest cut-off voltage",
        working=(step,),
        repairs=(Repair(f"cut the battery off at {usual}", (Change(battery.at("cut_off_voltage"), usual),)),)
        if cut_off < lowest
        else (),
    )
