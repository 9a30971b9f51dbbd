"""A long data line without a resistor at each end."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint.context import Context
from doorlint.outcome import Cited, Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.quantity import Quantity
from doorlint.rulebook import Parameter, Rule
from doorlint.spec import known
from doorlint.spec.model import Item

RULE = Rule(
    "reader/bus-not-terminated",
    title="A long RS-485 line is not terminated at both ends",
    level=Level.WARNING,
    over=Item,
    applies=lambda item: item.sheet is not None and item.sheet.interface == "rs_485",
    scope="devices on RS-485",
    basis=(
        Cited("TIA-485-A", "1998", "termination of the line", from_memory=True),
        Practice(
            "lines of more than 60 m are terminated at both ends; practice names 10 to 60 m",
            physics="a wave comes back from the open end of a line that is long against its rise time",
        ),
    ),
    why="The signal comes back from the open end, and telegrams fail at random.",
    cure="Fit 120 ohm at both ends of the line, and nowhere else.",
    limits="Data rate and the steepness of the signal decide from which length on: 60 m is practice.",
    parameters=(
        Parameter(
            "unterminated_line",
            "length of an RS-485 line without termination",
            "length",
            Fraction(60),
            "lower",
            Practice("practice terminates from 10 to 60 m on, by data rate"),
        ),
    ),
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    length = known(item, "length", Quantity)
    limit = context.parameter(RULE, "unterminated_line")
    related = (Related(item.at("length"), f"line of {length.text}"),)
    if length.value <= limit:
        yield not_applicable(f"the line of {item.name} is short ({length.text})")
    elif known(item, "terminated", str) == "both_ends":
        yield ok(f"the line of {item.name} is terminated at both ends", item.at("terminated"), related=related)
    else:
        text = f"the line of {item.name} is {length.text} long and not terminated at both ends"
        yield failed(text, item.at("terminated"), related=related)
