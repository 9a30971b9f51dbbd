"""Whether an output stays within the power at which its wiring may be run as power-limited (Class 2)."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint.circuit.demand import nominal, source_voltage
from doorlint.circuit.feeds import LoadedOutput
from doorlint.context import Context
from doorlint.outcome import Cited, Level, Measure, Step, Term, Verdict, ok, to_authority
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import PowerSource, known

MOST_POWER_VA = Fraction(100)
MOST_VOLTAGE_V = {"ac": Fraction(30), "dc": Fraction(60)}
MOST_CURRENT_UP_TO_20_V_A = Fraction(5)

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
    limits="Class 2 is a mark of the listed source; the figures only show where it cannot be taken for granted.",
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
    numbers = {"measured": Measure(power, "apparent_power"), "limit": Measure(most, "apparent_power")}
    given = f"{label} can give {Measure(power, 'apparent_power')} at {Measure(voltage, 'voltage')}"
    if power <= most and voltage <= highest:
        text = f"{given}, within {Measure(most, 'apparent_power')} of a Class 2 source"
        yield ok(text, output.at(name), working=working, relation="at most", what=f"power of {label}", **numbers)
        return
    text = (
        f"{given}, more than the {Measure(most, 'apparent_power')} and {Measure(highest, 'voltage')} of a Class 2 "
        "source: by its marking or as Class 1 wiring, as the authority having jurisdiction accepts"
    )
    yield to_authority(text, output.at(name), working=working, **numbers)
