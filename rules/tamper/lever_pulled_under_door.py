"""A lever that a wire tool pulls down through the gap at the floor."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint.context import Context
from doorlint.outcome import Level, Measure, Practice, Step, Term, Verdict, at_most, not_applicable
from doorlint.quantity import Quantity
from doorlint.rulebook import Parameter, Rule
from doorlint.spec import known
from doorlint.spec.model import Egress, Opening

from .doors import is_high, leaf_of

RULE = Rule(
    "tamper/lever-pulled-under-door",
    title="The gap at the floor lets a tool pull the lever inside",
    level=Level.WARNING,
    over=Opening,
    applies=is_high,
    scope="openings of high security",
    basis=(Practice("the gap below a leaf with a lever inside is 10 mm at most; no source"),),
    evidence=(
        "gap",
        "widest gap",
    ),
    why="A bent wire under the leaf hooks the lever; the door opens without a mark.",
    cure="Close the gap by a threshold or sweep, or shroud the lever.",
    limits="Shrouds over levers are not in the spec. Clearances of fire doors have limits of their own.",
    parameters=(
        Parameter(
            "gap_under_lever",
            "gap below a leaf with a lever inside",
            "length",
            Fraction(1, 100),
            "lower",
            Practice("a wire tool passes through more than 10 mm; common practice, no source"),
        ),
    ),
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    egress = known(opening, "egress", Egress)
    if egress.by != "lever":
        yield not_applicable("people leave by other means than a lever")
        return
    leaf = leaf_of(opening)
    gap, place = known(leaf, "bottom_gap", Quantity), leaf.at("bottom_gap")
    limit = Measure(context.parameter(RULE, "gap_under_lever"), "length")
    step = Step("gap", "as stated", Measure(gap.value, "length"), (Term("bottom_gap", gap.text, place),))
    yield at_most("gap below the leaf", Measure(gap.value, "length"), limit, place, working=(step,))
