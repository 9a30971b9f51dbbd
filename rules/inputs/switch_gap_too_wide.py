"""A position switch whose magnet is too far away once the leaf sags."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint.context import Context
from doorlint.events.door import kind_of
from doorlint.outcome import Level, Measure, Practice, Related, Step, Term, Verdict, at_least
from doorlint.quantity import Quantity, show
from doorlint.rulebook import Parameter, Rule
from doorlint.spec import known
from doorlint.spec.model import Item

RULE = Rule(
    "inputs/switch-gap-too-wide",
    title="The position switch loses its magnet when the leaf sags",
    level=Level.WARNING,
    over=Item,
    applies=lambda item: kind_of(item) == "door_position_switch" and item.gap is not None,
    scope="position switches whose gap is stated",
    basis=(Practice("a switch works on steel at the gap there is and 5 mm more for sag; common practice"),),
    evidence=(
        "gap",
        "sag",
        "gap bridged",
    ),
    why="The alarm of a forced door comes with the winter, when the leaf hangs 5 mm lower.",
    cure="Use a switch with a wider gap on steel, or set the magnet closer.",
    limits="The sag is practice; a heavy leaf on worn hinges hangs lower.",
    parameters=(
        Parameter(
            "leaf_sag",
            "sag of a leaf",
            "length",
            Fraction(5, 1000),
            "higher",
            Practice("hinges wear and leaves sag by some 5 mm; common practice, no source"),
        ),
    ),
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    sheet = item.sheet
    assert sheet is not None
    gap, reach = known(item, "gap", Quantity), known(sheet, "gap_on_steel", Quantity)
    sag = context.parameter(RULE, "leaf_sag")
    need = Measure(gap.value + sag, "length")
    terms = (Term("gap", gap.text, item.at("gap")), Term("sag", show(sag, "length")))
    step = Step("gap to be bridged", "gap + sag", need, terms)
    what = f"gap on steel that {item.name} bridges"
    limit = "gap with sag"
    related = (Related(item.at("gap"), "gap with the leaf closed"),)
    place = sheet.at("gap_on_steel")
    yield at_least(
        what, Measure(reach.value, "length"), need, place, limit_name=limit, related=related, working=(step,)
    )
