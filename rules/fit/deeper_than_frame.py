"""The depth of a strike or lock against the frame that it goes into."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint.circuit.substitutes import other_products
from doorlint.context import Context
from doorlint.outcome import Level, Measure, Practice, Related, Step, Term, Verdict, at_most
from doorlint.quantity import Quantity
from doorlint.rulebook import Parameter, Rule
from doorlint.spec import Item, Product, known

ROOM = Parameter(
    "room_behind",
    "room that a device in the frame leaves behind it",
    "length",
    Fraction(3, 1000),
    "higher",
    Practice("3 mm for wires and mortar; common practice, no source"),
)

RULE = Rule(
    "fit/deeper-than-frame",
    title="The device is deeper than the frame that it goes into",
    level=Level.ERROR,
    over=Item,
    applies=lambda item: isinstance(item.sheet, Product) and item.sheet.body_depth is not None,
    scope="devices in the frame whose depth is stated",
    basis=(
        Practice(
            "a device in the frame leaves 3 mm behind it for wires and mortar",
            physics="a body does not go into a hollow that is shallower than it is deep",
        ),
    ),
    evidence=("body depth", "frame depth", "room behind"),
    why="The strike hits the wall or the glass behind an aluminium jamb; the frame is cut and cannot be uncut.",
    cure="Use a shallow strike, a surface strike, or an electrified lock in the leaf.",
    parameters=(ROOM,),
    limits="Applies where the spec states the depth of the frame; mortar in the frame and reinforcement are site work.",
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    opening = context.opening(item)
    assert isinstance(item.sheet, Product)
    depth, frame = known(item.sheet, "body_depth", Quantity), known(opening, "frame_depth", Quantity)
    behind = context.parameter(RULE, "room_behind")
    room = Measure(frame.value - behind, "length")
    term = Term("frame depth", frame.text, opening.at("frame_depth"))
    yield at_most(
        f"depth of {item.name}",
        Measure(depth.value, "length"),
        room,
        item.at("product"),
        limit_name="depth that the frame has for it",
        related=(Related(opening.at("frame_depth"), f"the frame is {frame.text} deep"),),
        working=(Step("depth that the frame has", f"frame depth - {Measure(behind, 'length')}", room, (term,)),),
        repairs=tuple(other_products(item, context.spec)) if depth.value > room.value else (),
    )
