"""The force that a lock withstands against the level that the owner wants."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint.context import Context
from doorlint.events.door import MAGNETS, STRIKE, kind_of
from doorlint.outcome import Cited, Level, Measure, Practice, Related, Step, Term, Verdict, at_least, not_applicable
from doorlint.quantity import Quantity
from doorlint.rulebook import Parameter, Rule
from doorlint.spec import known
from doorlint.spec.model import Item

from ..failure.doors import resists

POUND_FORCE = Fraction("4.4482216152605")  # newton, exact by the international pound and standard gravity
LEVELS = Practice("500 and 1000 lbf are common levels of strikes and locks; which security asks for which is practice")
MEDIUM = Parameter(
    "strength_medium", "strength of a lock at medium security", "force", 500 * POUND_FORCE, "higher", LEVELS
)
HIGH = Parameter("strength_high", "strength of a lock at high security", "force", 1000 * POUND_FORCE, "higher", LEVELS)

RULE = Rule(
    "tamper/lock-weaker-than-its-door",
    title="The lock gives way to less force than the opening is to resist",
    level=Level.WARNING,
    over=Item,
    applies=lambda item: kind_of(item) in MAGNETS | {STRIKE},
    scope="magnets and strikes",
    basis=(
        Cited("UL 1034", "", "static strength levels", "500, 1000 and 1500 lbf", from_memory=True),
        Practice("500 lbf for medium security and 1000 lbf for high are taken; common practice"),
    ),
    evidence=(
        "strength",
        "strength asked for",
    ),
    why="A shoulder against the leaf, and the magnet lets go.",
    cure="Use a lock of the strength asked for; leaf, frame and glass must match it.",
    limits="Strength of leaf, frame, glass and fixings is not seen. Dynamic strength is not judged.",
    parameters=(
        MEDIUM,
        HIGH,
    ),
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    opening, sheet = context.opening(item), item.sheet
    assert sheet is not None
    if not resists(opening):
        yield not_applicable(f"the opening need not resist (security {opening.security})")
        return
    force, place = known(sheet, "holding_force", Quantity), sheet.at("holding_force")
    limit = Measure(context.parameter(RULE, f"strength_{opening.security}"), "force")
    step = Step("strength", "as stated", Measure(force.value, "force"), (Term("holding_force", force.text, place),))
    related = (Related(opening.at("security"), f"security {opening.security}"), Related(item.place.key, item.name))
    what = f"strength of {item.name} of {item.opening}"
    yield at_least(what, Measure(force.value, "force"), limit, place, related=related, working=(step,))
