"""A sensor that keeps the door unlocked long after the person has gone."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint.context import Context
from doorlint.events.door import kind_of
from doorlint.outcome import Level, Measure, Practice, Step, Term, Verdict, at_most
from doorlint.quantity import Quantity
from doorlint.rulebook import Parameter, Rule
from doorlint.spec import known
from doorlint.spec.model import Item

RULE = Rule(
    "inputs/unlocked-long-by-sensor",
    title="The sensor keeps the door unlocked far longer than people need",
    level=Level.WARNING,
    over=Item,
    applies=lambda item: kind_of(item) == "request_to_exit_sensor" and item.hold_time is not None,
    scope="sensors whose hold time is stated",
    basis=(
        Practice(
            "a sensor releases for 1 to 5 s at a time, and only the button for 30 s; commentary on "
            "codes, no figure for sensors"
        ),
    ),
    evidence=(
        "hold time",
        "longest hold time",
    ),
    why="For half a minute after each person the door is open to whoever waits outside.",
    cure="Let the sensor release for 1 to 5 s at a time; 30 s are for the button that the code asks for.",
    limits="People who need longer are seen by the sensor all the while.",
    parameters=(
        Parameter(
            "sensor_hold",
            "time for which an exit sensor releases",
            "time",
            Fraction(5),
            "lower",
            Practice("one to five seconds are usual"),
        ),
    ),
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    hold, place = known(item, "hold_time", Quantity), item.at("hold_time")
    limit = Measure(context.parameter(RULE, "sensor_hold"), "time")
    step = Step("hold time", "as stated", Measure(hold.value, "time"), (Term("hold_time", hold.text, place),))
    yield at_most(f"hold time of {item.name}", Measure(hold.value, "time"), limit, place, working=(step,))
