"""End-of-line resistors that are not at the end of the line."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Level, Practice, Verdict, failed, ok
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.model import EndOfLine, Item

RULE = Rule(
    "inputs/resistors-at-the-panel",
    title="The end-of-line resistors are not at the device",
    level=Level.WARNING,
    over=Item,
    applies=lambda item: item.end_of_line is not None,
    scope="devices with end-of-line resistors",
    basis=(Practice("resistors are at the device", physics="the input sees nothing of what lies behind them"),),
    why="A short anywhere on the cable holds the door closed for the controller, and nothing is reported.",
    cure="Put the resistors into or right at the device.",
    limits="Where they really are shows only on site.",
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    ends = known(item, "end_of_line", EndOfLine)
    where, at = known(ends, "location", str), ends.at("location")
    if where == "at_device":
        yield ok(f"the resistors are at {item.name}", at)
    else:
        what = "controller" if where == "at_panel" else "junction on the way"
        yield failed(f"the resistors of {item.name} are at the {what}: a short behind them is not seen", at)
