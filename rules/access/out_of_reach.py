"""The height of what people operate at an accessible door besides its own hardware."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from doorlint import codes
from doorlint.context import Context
from doorlint.events.door import READERS, kind_of
from doorlint.outcome import Cited, Level, Measure, Step, Term, Verdict, not_applicable
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import Item, known

OPERATED = READERS | {"intercom", "actuator", "key_switch"}

RULE = Rule(
    "access/out-of-reach",
    title="Reader or actuator hangs higher or lower than people reach",
    level=Level.ERROR,
    over=Item,
    applies=lambda item: kind_of(item) in OPERATED and item.mount_height is not None,
    scope="readers, keypads, intercoms and actuators whose height is stated",
    basis=(Cited("ADA Standards for Accessible Design", "2010", "308.2.1", "unobstructed forward reach"),),
    evidence=("height", "range"),
    why="Who sits in a wheelchair holds the card up and does not reach the reader.",
    cure="Hang it within the range, beside the clear floor space.",
    limits="Unobstructed reach only; over a counter or a planter the range is smaller, which a spec does not tell.",
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    if context.opening(item).accessible_route is False:
        yield not_applicable("the opening is on no accessible route")
        return
    height, at = known(item, "mount_height", Quantity), item.at("mount_height")
    step = Step("height", "as stated", Measure(height.value, "length"), (Term("mount_height", height.text, at),))
    name = f"height of {item.name}"
    verdict = codes.judge(context.spec.project, "hardware/reach", name, height, at, working=(step,))
    yield replace(verdict, measured=None, limit=None, relation="")
