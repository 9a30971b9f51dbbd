"""The voltage that an output passes on against the highest that it may switch."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.circuit.demand import source_voltage
from doorlint.circuit.feeds import LoadedOutput
from doorlint.circuit.substitutes import other_sources
from doorlint.context import Context
from doorlint.outcome import Level, Measure, Practice, Related, Step, Term, Verdict, at_most
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import known

RULE = Rule(
    "output/voltage-over-rating",
    title="The output passes on a higher voltage than it may",
    level=Level.ERROR,
    over=LoadedOutput,
    applies=lambda loaded: loaded.output.highest_voltage is not None and loaded.terminal.supply != "poe",
    scope="outputs whose sheet states a highest voltage",
    basis=(
        Practice(
            "an output switches no more than its highest voltage",
            physics="a semiconductor breaks down, and the arc of a relay does not go out, above it",
        ),
    ),
    evidence=("highest source voltage", "highest voltage of the output", "margin"),
    why="The output is destroyed, or its relay burns.",
    cure="Feed the device from a lower voltage, or switch the load with a relay of its own.",
    limits="The voltage of the source at its highest. The kick of a coil on top is judged with its suppressor, "
    "by rules of their own.",
)


def check(loaded: LoadedOutput, context: Context) -> Iterator[Verdict]:
    volts = source_voltage(loaded.terminal)
    rated = known(loaded.output, "highest_voltage", Quantity)
    upstream = loaded.terminal
    while upstream.passes_on is not None:
        upstream = upstream.passes_on.terminal
    passing = loaded.terminal.passes_on
    place = upstream.output.at("voltage")
    yield at_most(
        f"voltage on {loaded.terminal.label}",
        Measure(volts.high, "voltage"),
        Measure(rated.value, "voltage"),
        loaded.output.at("highest_voltage"),
        limit_name="highest that it may switch,",
        related=(Related(place, f"{upstream.label} gives {volts.text}"),),
        working=(
            Step(
                "highest voltage",
                "top of the range",
                Measure(volts.high, "voltage"),
                (Term("source", volts.text, place),),
            ),
        ),
        repairs=tuple(other_sources(passing, context.spec)) if passing and volts.high > rated.value else (),
    )
