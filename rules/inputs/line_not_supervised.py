"""A signal line of a high-security opening whose cut or short nobody notices."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.events.door import kind_of
from doorlint.outcome import Cited, Level, Practice, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.model import EndOfLine, Item

from ..tamper.doors import is_high

RULE = Rule(
    "inputs/line-not-supervised",
    title="Cut or short of a signal line is not noticed",
    level=Level.WARNING,
    over=Item,
    applies=lambda item: kind_of(item) in ("door_position_switch", "latch_monitor"),
    scope="position switches and latch monitors",
    basis=(
        Cited(
            "IEC 60839-11-1", "2013", "monitoring by grade", "lines of higher grades are monitored", from_memory=True
        ),
        Practice("signal lines of openings of high security are supervised"),
    ),
    why="One wire bridged, and the door is closed for the controller whatever happens.",
    cure="Supervise the line with resistors at the device.",
    limits="Judged at openings of high security only; whether the fault is answered is not seen.",
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    if not is_high(context.opening(item)):
        yield not_applicable("the opening is not of high security")
    elif item.end_of_line is not None and item.supervised is None:
        known(item, "end_of_line", EndOfLine)
        yield ok(f"the line of {item.name} has end-of-line resistors", item.at("end_of_line"))
    elif known(item, "supervised", bool):
        yield ok(f"the line of {item.name} is supervised", item.at("supervised"))
    else:
        yield failed(f"the line of {item.name} is not supervised", item.at("supervised"))
