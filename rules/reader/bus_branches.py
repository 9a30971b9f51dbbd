"""A branch of the bus that is too long."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint.context import Context
from doorlint.outcome import Cited, Level, Measure, Practice, Step, Term, Verdict, at_most
from doorlint.quantity import Quantity
from doorlint.rulebook import Parameter, Rule
from doorlint.spec import known
from doorlint.spec.model import Item

RULE = Rule(
    "reader/bus-branches",
    title="A branch of the RS-485 bus is too long",
    level=Level.WARNING,
    over=Item,
    applies=lambda item: item.stub is not None,
    scope="devices on a branch of a bus",
    basis=(
        Cited("TIA-485-A", "1998", "topology", "a line with short stubs", from_memory=True),
        Practice("branches are kept below 3 m"),
    ),
    evidence=(
        "branch",
        "longest branch",
    ),
    why="Branches send the signal back, and devices fail at random.",
    cure="Wire the bus from device to device, without star and with short branches.",
    limits="The length from which a branch matters follows from data rate and signal edges: 3 m is practice.",
    parameters=(
        Parameter(
            "bus_stub",
            "branch of an RS-485 bus",
            "length",
            Fraction(3),
            "lower",
            Practice("practice keeps branches below 3 m"),
        ),
    ),
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    stub, place = known(item, "stub", Quantity), item.at("stub")
    limit = Measure(context.parameter(RULE, "bus_stub"), "length")
    step = Step("branch", "as stated", Measure(stub.value, "length"), (Term("stub", stub.text, place),))
    yield at_most(f"branch to {item.name}", Measure(stub.value, "length"), limit, place, working=(step,))
