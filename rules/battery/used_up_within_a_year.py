"""How long the batteries of a stand-alone lock last at the traffic of its door."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint.context import Context
from doorlint.outcome import Level, Measure, Practice, Related, Step, Term, Verdict, at_least, ok
from doorlint.rulebook import Rule
from doorlint.spec import Item, known

DAY_S = 24 * 3600
CHANGED_EVERY_DAYS = 365
SHARE_USED = Fraction(1, 2)

RULE = Rule(
    "battery/used-up-within-a-year",
    title="The batteries of the lock do not last a year at this door",
    level=Level.WARNING,
    over=Item,
    applies=lambda item: item.sheet is not None and item.sheet.battery_operations is not None,
    scope="devices whose sheet says how many operations a set of batteries lasts",
    basis=(
        Practice("batteries are changed once a year, with half of their rated operations in reserve for cold and age"),
    ),
    evidence=("operations on a set of batteries", "operations per day", "days that they last", "margin"),
    why="A dead stand-alone lock is a locked door with nobody at hand who has the key.",
    cure="Wire the lock, use one that lasts longer, or plan the change of batteries by the traffic of the door.",
    limits="Fail state and key for an empty battery are judged elsewhere; cold is covered by the reserve only.",
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    sheet = item.sheet
    assert sheet is not None
    rated = known(sheet, "battery_operations", int)
    per_day = known(item, "operations_per_day", int)
    if per_day == 0:
        yield ok(f"{item.name} does not work on a usual day", item.at("operations_per_day"))
        return
    lasts = Measure(Fraction(rated) * SHARE_USED / per_day * DAY_S, "time")
    terms = (
        Term("operations on a set of batteries", str(rated), sheet.at("battery_operations")),
        Term("operations per day", str(per_day), item.at("operations_per_day")),
    )
    yield at_least(
        f"batteries of {item.name}, lasting",
        lasts,
        Measure(Fraction(CHANGED_EVERY_DAYS * DAY_S), "time"),
        item.at("operations_per_day"),
        limit_name="year until they are changed,",
        related=(Related(sheet.at("battery_operations"), "operations on a set of batteries"),),
        working=(Step("time that they last", "half of the operations / operations per day", lasts, terms, "practice"),),
    )
