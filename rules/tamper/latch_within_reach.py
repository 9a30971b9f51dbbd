"""A latch that a blade or hook reaches through the gap."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint.context import Context
from doorlint.outcome import Level, Measure, Practice, Step, Term, Verdict, at_most, not_applicable, ok
from doorlint.quantity import Quantity
from doorlint.rulebook import Parameter, Rule
from doorlint.spec import known
from doorlint.spec.model import Opening

from .doors import is_high, leaf_of, swings_outwards

RULE = Rule(
    "tamper/latch-within-reach",
    title="The latch can be reached through the gap beside the leaf",
    level=Level.WARNING,
    over=Opening,
    applies=is_high,
    scope="openings of high security",
    basis=(
        Practice(
            "a guard covers the latch of a leaf that swings towards the unsecured side, or the gap "
            "beside it is 3 mm at most; no source"
        ),
    ),
    evidence=(
        "gap",
        "widest gap",
    ),
    why="A strip of steel behind the latch, and the strike has nothing to hold.",
    cure="Fit a latch guard or astragal, or close the gap.",
    limits="A latch with a working deadlatch resists longer; whether it works is for the fitting.",
    parameters=(
        Parameter(
            "latch_gap",
            "gap beside a latch",
            "length",
            Fraction(3, 1000),
            "lower",
            Practice("a blade finds the latch through more than 3 mm; common practice, no source"),
        ),
    ),
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    latched = any(leaf.strikes or leaf.latchers for leaf in context.door(opening).leaves)
    if not latched or not swings_outwards(opening):
        yield not_applicable("no latch shows on the unsecured side")
        return
    leaf = leaf_of(opening)
    if leaf.latch_guard is True:
        yield ok("a guard covers the latch", leaf.at("latch_guard"))
        return
    gap, place = known(leaf, "edge_gap", Quantity), leaf.at("edge_gap")
    limit = Measure(context.parameter(RULE, "latch_gap"), "length")
    step = Step("gap", "as stated", Measure(gap.value, "length"), (Term("edge_gap", gap.text, place),))
    yield at_most("gap beside the latch", Measure(gap.value, "length"), limit, place, working=(step,))
