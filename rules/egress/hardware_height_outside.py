"""The height of what people operate to get out."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from doorlint import codes
from doorlint.context import Context
from doorlint.outcome import Cited, Level, Measure, Step, Term, Verdict
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import Item, known

from .lists import CAUTION, ON_LEAF, kind_of

RULE = Rule(
    "egress/hardware-height-outside",
    title="Hardware stands higher or lower than people reach",
    level=Level.ERROR,
    over=Item,
    applies=lambda item: kind_of(item) in ON_LEAF and item.mount_height is not None,
    scope="hardware on the leaf whose height is stated",
    basis=(
        Cited("International Building Code", "2015 to 2024", "hardware height", "clause by edition"),
        Cited("ADA Standards for Accessible Design", "2010", "404.2.7", "door and gate hardware"),
    ),
    evidence=("height", "range"),
    why="Who sits or is small does not reach it; inspectors measure it.",
    cure="Mount it within the range.",
    limits="Locks used only for security and not in normal operation may stand at any height under some codes. "
    + CAUTION,
    life_safety=True,
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    height = known(item, "mount_height", Quantity)
    at = item.at("mount_height")
    step = Step("height", "as stated", Measure(height.value, "length"), (Term("mount_height", height.text, at),))
    verdict = codes.judge(
        context.spec.project, "hardware/height", f"height of {item.name}", height, at, working=(step,)
    )
    yield replace(verdict, measured=None, limit=None, relation="")
