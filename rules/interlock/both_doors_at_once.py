"""Whether an interlock keeps what it promises: one door at a time, also when two people ask at once."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint.context import Context
from doorlint.outcome import Level, Measure, Practice, Related, Step, Term, Verdict, at_least, failed, ok, to_authority
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.model import Interlock, Opening

from ..egress.lists import Case, Requirement, by_practice, case_of, stated

SHORTEST_DEBOUNCE = Measure(Fraction(1, 20), "time")

RULE = Rule(
    "interlock/both-doors-at-once",
    title="An interlock can open both doors, or gives up too soon",
    level=Level.WARNING,
    over=Opening,
    applies=lambda opening: opening.interlocked_with is not None,
    scope="openings that are interlocked with others",
    basis=(
        Practice(
            "an interlock runs on one controller or on wires, locks the second door before it releases the first, "
            "ignores contact bounce of some 50 to 200 ms, and gives the slowest person time to cross"
        ),
    ),
    evidence=("time-out", "time to cross", "debounce time"),
    why="Two requests in the same instant open both doors, and the interlock is none.",
    cure="Put all its doors on one controller, and set the times by the slowest user.",
    limits="The logic inside the controller is as stated; only a test shows that it is so.",
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    known(opening, "interlock", Interlock)
    yield from by_practice(REQUIREMENTS, case_of(opening, context))


def _interlock(case: Case) -> Interlock:
    return known(case.opening, "interlock", Interlock)


def _made_by(case: Case) -> Verdict:
    interlock = _interlock(case)
    by, at = known(interlock, "by", str), interlock.at("by")
    if by == "network":
        return failed("the doors hang on the network: without it nobody knows what the other door does", at)
    return ok("the doors are wired to one place", at)


def _exclusion(case: Case) -> Verdict:
    return stated(
        _interlock(case),
        "lock_before_unlock",
        "the other door is locked before one is released",
        "one door is released before the other is locked",
    )


def _debounce(case: Case) -> Verdict:
    interlock = _interlock(case)
    time, at = known(interlock, "debounce", Quantity), interlock.at("debounce")
    if time.value > 4 * SHORTEST_DEBOUNCE.value:
        return to_authority(f"a debounce time of {time.text} is long: a door that opens meanwhile is not seen", at)
    step = Step("debounce time", "as stated", Measure(time.value, "time"), (Term("debounce", time.text, at),))
    return at_least("debounce time", Measure(time.value, "time"), SHORTEST_DEBOUNCE, at, working=(step,))


def _time_out(case: Case) -> Verdict:
    interlock = _interlock(case)
    limit = known(interlock, "time_out", Quantity)
    crossing, closing = known(interlock, "crossing_time", Quantity), known(interlock, "closing_time", Quantity)
    need = Measure(crossing.value + closing.value, "time")
    terms = (
        Term("crossing_time", crossing.text, interlock.at("crossing_time")),
        Term("closing_time", closing.text, interlock.at("closing_time")),
    )
    step = Step("time of a passage", "crossing time + closing time", need, terms)
    related = (Related(interlock.at("crossing_time"), "the slowest person"),)
    return at_least(
        "time-out",
        Measure(limit.value, "time"),
        need,
        interlock.at("time_out"),
        limit_name="time of a passage",
        related=related,
        working=(step,),
    )


REQUIREMENTS = (
    Requirement("what makes it", "", _made_by),
    Requirement("one at a time", "", _exclusion),
    Requirement("debounce", "", _debounce),
    Requirement("time-out", "", _time_out),
)
