"""The alarm of a door held open before the door can close."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint.context import Context
from doorlint.events.door import kind_of
from doorlint.outcome import Level, Measure, Practice, Related, Step, Term, Verdict, at_least, not_applicable
from doorlint.quantity import Quantity, show
from doorlint.rulebook import Parameter, Rule
from doorlint.spec import known
from doorlint.spec.model import Opening

RULE = Rule(
    "inputs/held-open-alarm-early",
    title="The alarm of a door held open comes before the door can close",
    level=Level.WARNING,
    over=Opening,
    applies=lambda opening: opening.held_open_time is not None,
    scope="openings whose held-open time is stated",
    basis=(
        Practice(
            "the time is at least delayed action, closing time and 5 s; common practice",
            physics="a leaf cannot close faster than its closer lets it",
        ),
    ),
    evidence=(
        "held-open time",
        "time to close",
    ),
    why="Everybody with a trolley sets off the alarm, and it is switched off.",
    cure="Set the time to delayed action and closing time and 5 s more.",
    limits="Openings held open on purpose need other means.",
    parameters=(
        Parameter(
            "held_open_spare",
            "spare time before the alarm of a door held open",
            "time",
            Fraction(5),
            "higher",
            Practice("five seconds for somebody who holds the door; common practice, no source"),
        ),
    ),
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    closers = [item for item in opening.items.values() if kind_of(item) == "closer"]
    if not closers:
        yield not_applicable("no closer is listed")
        return
    held = known(opening, "held_open_time", Quantity)
    spare = context.parameter(RULE, "held_open_spare")
    for closer in closers:
        closing = known(closer, "closing_time", Quantity)
        terms = [Term("closing_time", closing.text, closer.at("closing_time")), Term("spare", show(spare, "time"))]
        total = closing.value + spare
        if closer.delayed_action is not None:
            delay = known(closer, "delayed_action", Quantity)
            terms.append(Term("delayed_action", delay.text, closer.at("delayed_action")))
            total += delay.value
        need = Measure(total, "time")
        step = Step("time to close", "delayed action + closing time + spare", need, tuple(terms))
        related = (Related(closer.place.key, closer.name),)
        place, took = opening.at("held_open_time"), Measure(held.value, "time")
        limit = "time to close"
        yield at_least("held-open time", took, need, place, limit_name=limit, related=related, working=(step,))
