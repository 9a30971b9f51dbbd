"""A sensor that lets people out, triggered from outside through a gap."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint.context import Context
from doorlint.events.door import kind_of
from doorlint.outcome import (
    Level,
    Measure,
    Practice,
    Related,
    Step,
    Term,
    Verdict,
    at_least,
    at_most,
    not_applicable,
    ok,
)
from doorlint.quantity import Quantity
from doorlint.rulebook import Parameter, Rule
from doorlint.spec import Undecided, known
from doorlint.spec.model import Item, Leaf

from .doors import leaf_of

ZONE = Parameter(
    "zone_from_gap",
    "distance of the zone of an exit sensor from the gap",
    "length",
    Fraction(1, 2),
    "higher",
    Practice("half a metre is beyond what is blown or pushed through a gap; common practice, no source"),
)
GAP = Parameter(
    "sensor_gap",
    "gap in front of an exit sensor",
    "length",
    Fraction(6, 1000),
    "lower",
    Practice("little passes through 6 mm with a sweep behind it; common practice, no source"),
)

RULE = Rule(
    "tamper/exit-sensor-triggered-outside",
    title="The sensor that unlocks for leaving can be triggered from outside",
    level=Level.ERROR,
    over=Item,
    applies=lambda item: kind_of(item) == "request_to_exit_sensor",
    scope="request-to-exit sensors",
    basis=(
        Practice(
            "a sensor that unlocks has two ways of sensing, sees direction, or keeps 0.5 m from gaps of "
            "more than 6 mm; published cases and tests show the attack, the figures are practice without "
            "source",
            physics="a sensor of moving warmth cannot tell a person from anything else that is warm or cold and moves",
        ),
    ),
    evidence=(
        "gap",
        "distance of the sensed zone",
    ),
    why="A balloon, a sheet of paper or a puff of gas through the gap moves in front of the sensor, "
    "and the magnet lets go.",
    cure="Use a sensor with two ways of sensing or one that sees direction, aim it away from the gap, "
    "or close the gap.",
    limits="A sensor must still see everybody who leaves: aim and masking are set on site and tested for both.",
    parameters=(
        ZONE,
        GAP,
    ),
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    opening, sheet = context.opening(item), item.sheet
    assert sheet is not None
    arrangement = context.arrangement(opening)
    if arrangement.kind is None and item not in arrangement.releasing:
        raise arrangement.open_because[0]
    if item not in arrangement.releasing:
        yield not_applicable(f"{item.name} does not unlock what holds the door")
    elif known(opening, "security", str) == "none":
        yield not_applicable("the opening need not resist")
    elif sheet.direction_sensitive is True or sheet.sensing == "dual":
        how = "sees direction" if sheet.direction_sensitive is True else "has two ways of sensing"
        related = (Related(sheet.at("sensing"), "its data sheet"),)
        yield ok(f"{item.name} {how}", item.at("product"), related=related)
    elif item.distance_from_gap is not None:
        yield _aimed(item, context)
    elif sheet.sensing is None:
        raise Undecided("sensing", sheet.at("sensing"), stated=False)
    else:
        yield _gap(item, leaf_of(opening), context)


def _aimed(item: Item, context: Context) -> Verdict:
    distance, place = known(item, "distance_from_gap", Quantity), item.at("distance_from_gap")
    least = Measure(context.parameter(RULE, "zone_from_gap"), "length")
    terms = (Term("distance", distance.text, place),)
    step = Step("distance", "as stated", Measure(distance.value, "length"), terms)
    what = f"distance of the zone of {item.name} from the gap"
    return at_least(what, Measure(distance.value, "length"), least, place, working=(step,))


def _gap(item: Item, leaf: Leaf, context: Context) -> Verdict:
    gaps = {name: known(leaf, name, Quantity) for name in ("edge_gap", "bottom_gap")}
    widest = max(gaps, key=lambda name: gaps[name].value)
    terms = tuple(Term(name, gap.text, leaf.at(name)) for name, gap in gaps.items())
    width = Measure(gaps[widest].value, "length")
    limit = Measure(context.parameter(RULE, "sensor_gap"), "length")
    step = Step("widest gap", "the wider of edge and bottom", width, terms)
    related = (Related(leaf.at(widest), "the gap"),)
    what = f"gap in front of {item.name}"
    return at_most(what, width, limit, item.at("product"), related=related, working=(step,))
