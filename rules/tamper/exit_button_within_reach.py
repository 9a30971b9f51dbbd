"""An exit button that an arm or stick reaches from outside."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint.context import Context
from doorlint.events.door import kind_of
from doorlint.outcome import Level, Measure, Practice, Step, Term, Verdict, at_least, not_applicable, ok
from doorlint.quantity import Quantity
from doorlint.rulebook import Parameter, Rule
from doorlint.spec import known
from doorlint.spec.model import Item, Leaf

BUTTON = Parameter(
    "button_from_hole",
    "distance of a button from a hole in leaf or wall",
    "length",
    Fraction(1),
    "higher",
    Practice("an arm with a stick reaches about a metre; common practice, no source"),
)

RULE = Rule(
    "tamper/exit-button-within-reach",
    title="The button for leaving can be reached from outside",
    level=Level.WARNING,
    over=Item,
    applies=lambda item: item.side == "secured" and kind_of(item) in ("exit_button", "emergency_release", "key_switch"),
    scope="buttons and emergency releases inside",
    basis=(
        Practice(
            "a button keeps 1 m from any hole through which an arm or stick reaches, or is shielded; "
            "commentary on gates, no figure published"
        ),
    ),
    evidence=(
        "distance",
        "least distance",
    ),
    why="An arm through the mesh presses the button, and the gate is open.",
    cure="Move the button a metre from any hole, or put a shield in front of it.",
    limits="Holes in walls and glass beside the leaf are seen only where the spec states the distance to them.",
    parameters=(BUTTON,),
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    leaf = context.opening(item).leaf
    mesh = isinstance(leaf, Leaf) and leaf.material == "steel_gate"
    if item.shielded is True:
        yield ok(f"{item.name} is shielded", item.at("shielded"))
    elif item.distance_to_opening is None and not mesh:
        yield not_applicable("the spec states no hole in leaf or wall, by a distance to one")
    else:
        distance, place = known(item, "distance_to_opening", Quantity), item.at("distance_to_opening")
        least = Measure(context.parameter(RULE, "button_from_hole"), "length")
        terms = (Term("distance_to_opening", distance.text, place),)
        step = Step("distance", "as stated", Measure(distance.value, "length"), terms)
        what = f"distance of {item.name} from the nearest hole"
        yield at_least(what, Measure(distance.value, "length"), least, place, working=(step,))
