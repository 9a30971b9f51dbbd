"""Whether an output stays within the power at which its wiring may be run as power-limited (Class 2)."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint.circuit.demand import nominal, source_voltage
from doorlint.circuit.feeds import LoadedOutput
from doorlint.context import Context
from doorlint.outcome import Cited, Level, Measure, Step, Term, Verdict, at_most, failed, to_authority
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import PowerSource, known

MOST_POWER_VA = Fraction(100)
MOST_VOLTAGE_V = {"ac": Fraction(30), "dc": Fraction(60)}
MOST_CURRENT_UP_TO_20_V_A = Fraction(5)
MARKS = ("Class 2", "LPS", "UL 1310", "UL 5085-3")

RULE = Rule(
    "power/output-not-power-limited",
    title="The output can give more than power-limited wiring is meant for",
    level=Level.WARNING,
    over=LoadedOutput,
    applies=lambda loaded: (
        isinstance(loaded.terminal.owner, PowerSource) and loaded.terminal.owner.kind == "power_supply"
    ),
    scope="outputs of power supplies",
    basis=(
        Cited(
            "NFPA 70",
            "2005 to 2023",
            "Chapter 9, Tables 11(A) and 11(B)",
            "nameplate limits of Class 2 sources: 5 A up to 20 V, above that 100 VA",
            from_memory=True,
        ),
    ),
    evidence=("power of the output", "limit of a Class 2 source"),
    why="Cable for power-limited circuits is not made for more: a short heats it before the supply gives way.",
    cure="Use an output that is limited and marked Class 2 or limited power, or wire the circuit as Class 1.",
    limits="Class 2 is a mark of the listed source; the figures only show where it cannot be. Where the circuit is "
    "wired as Class 1, waive the finding.",
)


def check(loaded: LoadedOutput, context: Context) -> Iterator[Verdict]:
    output, label = loaded.output, loaded.terminal.label
    name = "protection_current" if output.protection_current is not None else "current"
    current = known(output, name, Quantity).value
    voltage = nominal(source_voltage(loaded.terminal))
    power = voltage * current
    terms = (
        Term("voltage", str(Measure(voltage, "voltage"))),
        Term(name.replace("_", " "), str(Measure(current, "current")), output.at(name)),
    )
    working = (Step(f"power of {label}", "voltage x current", Measure(power, "apparent_power"), terms),)
    highest = MOST_VOLTAGE_V["ac" if loaded.terminal.supply == "ac" else "dc"]
    most = min(MOST_POWER_VA, voltage * MOST_CURRENT_UP_TO_20_V_A) if voltage <= 20 else MOST_POWER_VA
    if voltage > highest:
        given, most_v = Measure(voltage, "voltage"), Measure(highest, "voltage")
        text = f"{label} gives {given}, more than the {most_v} of a Class 2 source"
        yield failed(text, output.at(name))
        return
    if power > most and (marks := _marks(loaded)):
        text = (
            f"{label} can give {Measure(power, 'apparent_power')} by its figures and is marked {marks[0]}: settle which"
        )
        yield to_authority(text, output.at(name), working=working)
        return
    yield at_most(
        f"power that {label} can give",
        Measure(power, "apparent_power"),
        Measure(most, "apparent_power"),
        output.at(name),
        limit_name="limit of a Class 2 source,",
        working=working,
    )


def _marks(loaded: LoadedOutput) -> list[str]:
    source = loaded.terminal.owner
    listings = source.listings if isinstance(source, PowerSource) and isinstance(source.listings, tuple) else ()
    return [text for text in listings if any(mark in text for mark in MARKS)]
