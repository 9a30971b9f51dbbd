"""Hinge pins on the unsecured side that can be driven out."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Level, Practice, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.model import Opening

from .doors import is_high, leaf_of, swings_outwards

RULE = Rule(
    "tamper/hinge-pins-outside",
    title="The hinge pins can be driven out from outside",
    level=Level.WARNING,
    over=Opening,
    applies=is_high,
    scope="openings of high security",
    basis=(Practice("a leaf that swings towards the unsecured side has fixed pins or security studs"),),
    why="The lock holds; the leaf is lifted out on the other edge.",
    cure="Fix the pins with set screws, or use hinges with security studs.",
    limits="Asked for openings of high security only.",
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    if not swings_outwards(opening):
        yield not_applicable("the leaf swings away from the unsecured side: its hinges are inside")
        return
    leaf = leaf_of(opening)
    if known(leaf, "hinge_pins", str) == "fixed":
        yield ok("the hinge pins cannot be drawn", leaf.at("hinge_pins"))
    else:
        yield failed("the hinges are outside, and their pins can be driven out", leaf.at("hinge_pins"))
