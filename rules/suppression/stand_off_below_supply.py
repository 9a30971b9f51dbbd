"""The stand-off voltage of a suppressor against the highest voltage of the supply."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint import uncounted
from doorlint.circuit.demand import source_voltage
from doorlint.circuit.feeds import Feed
from doorlint.circuit.substitutes import suppressor_swaps
from doorlint.context import Context
from doorlint.outcome import Level, Measure, Practice, Related, Step, Term, Verdict, at_least, not_applicable
from doorlint.quantity import Quantity
from doorlint.rulebook import Parameter, Rule
from doorlint.spec import Coil, known

from .polarised_on_alternating import kind_of, suppressor_of

FACTOR = Parameter(
    "stand_off_factor",
    "stand-off voltage of a suppressor, as a multiple of the highest supply voltage",
    "ratio",
    Fraction(105, 100),
    "higher",
    Practice("1.05 times; common practice, no source"),
)

RULE = Rule(
    "suppression/stand-off-below-supply",
    title="The suppressor already conducts at the supply's voltage",
    level=Level.ERROR,
    over=Feed,
    applies=lambda feed: isinstance(feed.load, Coil) and bool(feed.item.suppression),
    scope="coils with a fitted suppressor",
    basis=(
        Practice(
            "the stand-off voltage is at least 1.05 times the highest supply voltage, battery float included",
            physics="above its stand-off voltage a suppressor conducts, and heats until it fails short",
        ),
    ),
    evidence=("stand-off voltage", "least stand-off voltage", "margin"),
    why="The part conducts all the time, heats, fails short and blows the fuse.",
    cure="Use the next higher stand-off: commonly 15 V to 18 V on 12 V and 30 V to 33 V on 24 V.",
    parameters=(FACTOR,),
    limits="The tolerance of the supply counts only where the spec states it.",
    incomplete=uncounted.where_unknown("terminal.output.supply", "terminal.owner.supply"),
)


def check(feed: Feed, context: Context) -> Iterator[Verdict]:
    source = source_voltage(feed.terminal)
    highest = source.high
    root_two = Fraction(1414214, 1000000) if feed.terminal.supply == "ac" else Fraction(1)
    factor = FACTOR.value(context.spec.practice)
    least = highest * factor * root_two
    for fitted in feed.item.suppression:
        suppressor = suppressor_of(fitted)
        kind, words = kind_of(suppressor)
        if not kind.needs_stand_off:
            yield not_applicable(f"{fitted.product} is a {words}, which has no stand-off voltage")
            continue
        stand_off = known(suppressor, "stand_off", Quantity)
        term = Term("highest supply voltage", str(Measure(highest, "voltage")), feed.terminal.output.at("voltage"))
        peak = " x 1.414 (peak of AC)" if feed.terminal.supply == "ac" else ""
        formula = f"{float(factor):g} x highest supply voltage{peak}"
        yield at_least(
            f"stand-off of {fitted.product} at {feed.item.name}",
            Measure(stand_off.value, "voltage"),
            Measure(least, "voltage"),
            fitted.at("product"),
            limit_name="least that the supply asks for,",
            related=(
                Related(suppressor.at("stand_off"), "its stand-off voltage"),
                Related(feed.terminal.output.at("voltage"), f"{feed.terminal.label} gives {source.text}"),
            ),
            working=(Step("least stand-off", formula, Measure(least, "voltage"), (term,)),),
            repairs=suppressor_swaps(fitted, context.spec) if stand_off.value < least else (),
        )
