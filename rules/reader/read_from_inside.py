"""A reader that reads people as they pass, also inside."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint.context import Context
from doorlint.events.door import READERS
from doorlint.outcome import Kind, Level, Measure, Practice, Related, Step, Term, Verdict, at_most, ok
from doorlint.quantity import Quantity
from doorlint.rulebook import Parameter, Rule
from doorlint.spec import UNKNOWN, known
from doorlint.spec.model import Item

RANGE = Parameter(
    "reading_range",
    "range of a reader",
    "length",
    Fraction(1, 2),
    "lower",
    Practice("half a metre is within an arm of the reader; common practice, no source"),
)


def _far(item: Item) -> bool:
    sheet = item.sheet
    if sheet is None or sheet.kind not in READERS:
        return False
    return sheet.reading_range is not None or (isinstance(sheet.credentials, tuple) and "mobile" in sheet.credentials)


RULE = Rule(
    "reader/read-from-inside",
    title="The reader reads people who only pass by",
    level=Level.WARNING,
    over=Item,
    applies=_far,
    scope="readers that take mobile credentials, or whose range is stated",
    basis=(Practice("a reader reads within half a metre, or waits for a gesture of intent; common practice"),),
    evidence=(
        "reading range",
        "longest range",
    ),
    why="Somebody walks past inside, and the door unlocks for whoever waits outside.",
    cure="Turn the range down to half a metre, or have the reader wait for a touch or wave.",
    limits="Walls, metal and the phone in use change the range: it is tested on site.",
    parameters=(RANGE,),
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    sheet = item.sheet
    assert sheet is not None
    if sheet.asks_for_gesture is True:
        yield ok(f"{item.name} waits for a gesture", sheet.at("asks_for_gesture"))
        return
    reach, place = known(sheet, "reading_range", Quantity), sheet.at("reading_range")
    limit = Measure(context.parameter(RULE, "reading_range"), "length")
    step = Step("range", "as stated", Measure(reach.value, "length"), (Term("reading_range", reach.text, place),))
    related = (Related(item.place.key, f"{item.name} of {item.opening}"),)
    what = f"reading range of {item.name} of {item.opening}"
    verdict = at_most(what, Measure(reach.value, "length"), limit, place, related=related, working=(step,))
    if verdict.kind is Kind.FAIL and sheet.asks_for_gesture is UNKNOWN:
        known(sheet, "asks_for_gesture", bool)
    yield verdict
