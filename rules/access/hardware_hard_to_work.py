"""Force and torque to work the hardware that people open the door with."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import codes
from doorlint.context import Context
from doorlint.events.door import EXIT_GROUP, LEVER_LOCKS, kind_of
from doorlint.outcome import Cited, Level, Measure, Step, Term, Verdict
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import Item, Product, known

WORKED = LEVER_LOCKS | EXIT_GROUP | {"mechanical_lock", "motor_lock", "gate_lock"}
LIMITS = {"operating_force": "hardware/release_force", "operating_torque": "hardware/release_torque"}

RULE = Rule(
    "access/hardware-hard-to-work",
    title="Lever, knob or bar takes more force than the codes allow",
    level=Level.ERROR,
    over=Item,
    applies=lambda item: kind_of(item) in WORKED and any(getattr(item.sheet, name) is not None for name in LIMITS),
    scope="hardware on the leaf whose operating force or torque is stated",
    basis=(
        Cited("International Building Code", "2021 to 2024", "1010.1.3", "door opening force"),
        Cited("ADA Standards for Accessible Design", "2010", "309.4", "operable parts, operation"),
    ),
    evidence=("operating force or torque", "limit"),
    why="Somebody with weak hands cannot open the door.",
    cure="Use a lever that turns easily, or a device with a lighter spring.",
    limits="Whether the accessibility standard's 5 lbf binds door hardware is unsettled; the authority decides.",
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    assert isinstance(item.sheet, Product)
    for name, limit in LIMITS.items():
        if getattr(item.sheet, name) is None:
            continue
        value, at = known(item.sheet, name, Quantity), item.sheet.at(name)
        step = Step(
            name.replace("_", " "),
            "as the sheet states",
            Measure(value.value, value.dimension),
            (Term(name, value.text, at),),
        )
        what = f"{name.replace('_', ' ')} of {item.name}"
        yield codes.judge(context.spec.project, limit, what, value, item.at("product"), working=(step,))
