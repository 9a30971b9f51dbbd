"""A cable of lock or controller that runs within reach of strangers."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Level, Practice, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.model import Item

from ..failure.doors import resists

RULE = Rule(
    "tamper/cable-within-reach",
    title="The cable runs where strangers reach it",
    level=Level.WARNING,
    over=Item,
    applies=lambda item: item.route is not None,
    scope="devices whose cable route is stated",
    basis=(
        Practice(
            "cables of locks and controllers run inside the secured space or in metal conduit",
            physics="a conductor within reach can be cut, joined and fed",
        ),
    ),
    why="Behind a ceiling tile of the public corridor run the two wires that open the door.",
    cure="Run the cable inside the secured space, or in metal conduit.",
    limits="Judged only where the spec states the route of the cable.",
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    if not resists(context.opening(item)):
        yield not_applicable("the opening need not resist")
    elif known(item, "route", str) == "unsecured":
        yield failed(f"the cable of {item.name} runs within reach of strangers", item.at("route"))
    else:
        yield ok(f"the cable of {item.name} is out of reach", item.at("route"))
