"""The pull of a coil that is warm from being on."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.circuit.arrival import compared, other_rule_tells, volts
from doorlint.circuit.coils import hot_current_fraction
from doorlint.circuit.feeds import Feed
from doorlint.context import Context
from doorlint.outcome import Level, Measure, Practice, Related, Step, Term, Verdict, not_applicable
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import Coil, known

RULE = Rule(
    "supply/hot-coil-below-pull-in",
    title="A warm coil gets too little voltage to pull in again",
    level=Level.ERROR,
    over=Feed,
    applies=lambda feed: isinstance(feed.load, Coil) and feed.terminal.supply not in ("poe", "ac"),
    scope="coils on DC",
    basis=(
        Practice(
            "a coil that has been on pulls in again: warm, it needs the same current as at its pull-in voltage cold",
            physics="copper gains 0.393 percent of resistance per kelvin: 60 K leave 81 percent of the current",
        ),
    ),
    evidence=("voltage at the warm coil", "pull-in voltage, warm", "margin"),
    why="The lock works in the morning and not after hours of use.",
    cure="More voltage at the lock: a thicker conductor, a shorter run, a higher supply; or a cooler duty.",
    limits="Only coils whose sheet states a pull-in voltage; for others the stated range of voltage counts. The "
    "pull-in voltage is read as that of a coil at 20 degC.",
)


def check(feed: Feed, context: Context) -> Iterator[Verdict]:
    coil = feed.load
    assert isinstance(coil, Coil)
    if coil.pull_in_voltage is None:
        yield not_applicable(f"the sheet of {feed.item.name} states no pull-in voltage; its range of voltage counts")
        return
    told = other_rule_tells(feed, context.voltages)
    if told is not None:
        yield told
        return
    cold = known(coil, "pull_in_voltage", Quantity)
    rise = known(coil, "temperature_rise", Quantity)
    warm = Measure(float(cold.value) / hot_current_fraction(float(rise.value)), "voltage")
    terms = (
        Term("pull-in voltage, cold", cold.text, coil.at("pull_in_voltage")),
        Term("temperature rise", rise.text, coil.at("temperature_rise")),
    )
    step = Step("pull-in voltage, warm", "cold x (1 + 0.00393 x temperature rise)", warm, terms)
    for found in (context.voltages.hot(feed), context.voltages.hot(feed, on_battery=True)):
        if found is not None:
            related = (Related(coil.at("pull_in_voltage"), f"{feed.item.name} pulls in, cold"),)
            name = "voltage at which it pulls in warm,"
            yield compared(feed, found, context.voltages, volts(float(warm.value)), name, related, (step,))
