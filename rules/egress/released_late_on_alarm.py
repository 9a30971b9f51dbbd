"""The time from the signal of the fire alarm until the lock lets go."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint import codes
from doorlint.context import Context
from doorlint.outcome import Cited, Kind, Level, Measure, Step, Term, Verdict, not_applicable
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import Item, Product, known
from doorlint.spec.model import Opening

from .lists import CAUTION, Case, case_of, from_fire_alarm, nothing_holds

RULE = Rule(
    "egress/released-late-on-alarm",
    title="The lock lets go too long after the fire alarm",
    level=Level.ERROR,
    over=Opening,
    basis=(
        Cited("NFPA 72", "2010 to 2022", "time from initiation to actuation", from_memory=True),
        Cited("BS 7273-4", "2015", "time of actuation", from_memory=True),
    ),
    evidence=("response time of the relay", "delay of the lock", "limit"),
    why="The people are at the door before it is open, and those behind them push.",
    cure="Release by a contact in the feed of the lock, without delay.",
    limits="Only times that the spec states are added up; the fire alarm's own processing and the coil come on top. "
    + CAUTION,
    life_safety=True,
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    case = case_of(opening, context)
    chains = list(_chains(case))
    if not chains:
        if not case.holding:
            nothing_holds(case)
        yield not_applicable("neither the fire alarm's contact nor a lock that holds people in is said to take time")
        return
    for item, sheet in chains:
        terms, total, at = [], Fraction(0), sheet.at("response_time")
        if sheet.response_time is not None:
            response = known(sheet, "response_time", Quantity)
            terms, total = [Term("response_time", response.text, at)], response.value
        if item.release_delay is not None:
            delay, at = known(item, "release_delay", Quantity), item.at("release_delay") if not terms else at
            terms, total = [*terms, Term("release_delay", delay.text, item.at("release_delay"))], total + delay.value
        measured = Measure(total, "time")
        step = Step("time to release", "sum of the times stated", measured, tuple(terms))
        what = f"time from the fire signal to the release of {item.name}"
        together = Quantity(total, "time", str(measured))
        verdict = codes.judge(case.project, "fire_alarm/release_time", what, together, at, working=(step,))
        if verdict.kind is Kind.PASS:
            known(sheet, "response_time", Quantity)  # it comes on top of the delay of the lock
        yield verdict


def _chains(case: Case) -> Iterator[tuple[Item, Product]]:
    """Each holding device with the sheet of each fire alarm relay in its feed, where either is said to take time."""
    for item in case.holding:
        for use in from_fire_alarm(case, item):
            sheet = use.owner.sheet if isinstance(use.owner, Item) else None
            if sheet is not None and (sheet.response_time is not None or item.release_delay is not None):
                yield item, sheet
