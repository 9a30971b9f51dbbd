"""The time in which a closer brings the leaf from 90 to 12 degrees."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import codes
from doorlint.context import Context
from doorlint.events.door import kind_of
from doorlint.outcome import Cited, Level, Measure, Step, Term, Verdict
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import Item, known

RULE = Rule(
    "access/closes-too-fast",
    title="The closer shuts the leaf faster than slow people pass",
    level=Level.ERROR,
    over=Item,
    applies=lambda item: kind_of(item) == "closer" and item.sweep_time is not None,
    scope="closers whose sweep time is stated",
    basis=(Cited("ADA Standards for Accessible Design", "2010", "404.2.8.1", "door closers and gate closers"),),
    evidence=("sweep time", "least time"),
    why="The leaf hits somebody with a walking aid, or a child behind.",
    cure="Set the closer slower between 90 and 12 degrees; the last degrees may go faster to latch.",
    limits="A setting is measured on site and drifts with temperature; spring hinges have a time of their own.",
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    time = known(item, "sweep_time", Quantity)
    at = item.at("sweep_time")
    step = Step("sweep time", "as stated", Measure(time.value, "time"), (Term("sweep_time", time.text, at),))
    name = f"sweep time of {item.name}"
    yield codes.judge(context.spec.project, "door/closing_time", name, time, at, working=(step,))
