"""The closing moment of a closer against what presses the leaf open or off its latch."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.events.door import kind_of
from doorlint.mechanics.leaves import described, is_pressed, moments, pressing
from doorlint.outcome import Cited, Level, Measure, Practice, Step, Verdict, at_least, not_applicable, undecided
from doorlint.rulebook import Rule
from doorlint.spec import Item, Product

RULE = Rule(
    "fit/closer-does-not-latch",
    title="Seals and air pressure are stronger than the closer at the latch",
    level=Level.ERROR,
    over=Item,
    applies=lambda item: (
        kind_of(item) == "closer" and isinstance(item.sheet, Product) and described(item, "closing_moment")
    ),
    scope="closers whose size or closing moment is stated",
    basis=(
        Cited("EN 1154", "1996 with A1:2002", "table 1", "closing moments by size", from_memory=True),
        Practice(
            "a closer latches the leaf against its seals and the air pressure that is expected",
            physics="balance of moments about the hinges",
        ),
    ),
    evidence=("closing moment", "moment of pressure and seals"),
    why="The leaf stops a finger's breadth before the latch: not locked, and not closed in a fire.",
    cure="Set the closer stronger, use softer seals or a larger size, or relieve the pressure.",
    limits="The pressure is taken to push the leaf open; friction of latch and hinges comes on top.",
)


def check(closer: Item, context: Context) -> Iterator[Verdict]:
    opening = context.opening(closer)
    if not is_pressed(opening):
        yield not_applicable("nothing is said to press against the leaf: no seals, no pressure difference")
        return
    assert isinstance(closer.sheet, Product)
    by, against = moments(closer, "closing_moment"), pressing(opening)
    if by.low_nm < against.moment_nm <= by.high_nm:
        text = f"cannot be decided by the size alone: {by.low_nm} to {by.high_nm} N m against {against.step.result}"
        yield undecided(text, ("closing_moment",), closer.sheet.at("closing_moment"))
        return
    moment = Measure(by.high_nm if by.high_nm < against.moment_nm else by.low_nm, "torque")
    step = Step("closing moment", "as stated, or by the size", moment, (by.term,))
    yield at_least(
        f"closing moment of {closer.name}",
        moment,
        Measure(against.moment_nm, "torque"),
        closer.at("product"),
        limit_name="moment of pressure and seals",
        working=(step, against.step),
    )
