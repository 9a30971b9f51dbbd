"""Cable whose resistance comes near that of the end-of-line resistor."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint.circuit.inputs import cable_loop_ohm
from doorlint.context import Context
from doorlint.outcome import Level, Measure, Practice, Step, Term, Verdict, at_most, not_applicable
from doorlint.quantity import Quantity
from doorlint.rulebook import Parameter, Rule
from doorlint.spec import known
from doorlint.spec.model import EndOfLine, Item

SHARE = Parameter(
    "cable_share_of_resistor",
    "share of a signal cable in its end-of-line resistor",
    "ratio",
    Fraction(1, 20),
    "lower",
    Practice("practice names 5 to 10 %"),
)

RULE = Rule(
    "inputs/cable-near-resistor",
    title="The cable takes too large a share of the end-of-line resistance",
    level=Level.WARNING,
    over=Item,
    applies=lambda item: item.end_of_line is not None,
    scope="devices with end-of-line resistors",
    basis=(
        Practice(
            "the loop of the cable stays within 5 % of the resistor; practice names 5 to 10 %", physics="Ohm's law"
        ),
    ),
    evidence=(
        "loop of the cable",
        "resistor",
        "share",
    ),
    why="On a hot day the door reports a fault, and at night it is gone.",
    cure="Lay a thicker cable, or use larger resistors where the controller takes them.",
    limits="Where the ranges of the input are stated, a rule of its own computes each state.",
    parameters=(SHARE,),
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    ends = known(item, "end_of_line", EndOfLine)
    if ends.series is not None and known(ends, "series", Quantity).value == 0:
        yield not_applicable("there is no resistor in series")
        return
    series = known(ends, "series", Quantity)
    loop = cable_loop_ohm(item, context.opening(item), context.spec).low
    share = Measure(loop / float(series.value), "ratio")
    terms = (
        Term("loop of the cable", f"{loop:.1f} ohm at 20 degC", item.at("length")),
        Term("series", series.text, ends.at("series")),
    )
    step = Step("share", "loop / series resistor", share, terms)
    limit = Measure(context.parameter(RULE, "cable_share_of_resistor"), "ratio")
    place = item.at("length")
    yield at_most(f"share of the cable of {item.name} in its resistor", share, limit, place, working=(step,))
