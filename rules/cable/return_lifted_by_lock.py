"""How far a lock's current lifts the 0 V of electronics that share its return conductor."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint import uncounted
from doorlint.circuit.arrival import volts
from doorlint.circuit.demand import key_of, peak
from doorlint.circuit.feeds import Feed
from doorlint.circuit.lines import WARM_CONDUCTOR, warm_conductor_c
from doorlint.circuit.voltages import return_partner
from doorlint.context import Context
from doorlint.outcome import (
    Change,
    Level,
    Measure,
    Practice,
    Related,
    Repair,
    Step,
    Term,
    Verdict,
    at_most,
    not_applicable,
    ok,
)
from doorlint.rulebook import Parameter, Rule
from doorlint.spec import Input

LARGEST_SHIFT = Parameter(
    "shared_return_shift",
    "voltage by which another load may move the 0 V of electronics on a shared return",
    "voltage",
    Fraction(3, 10),
    "lower",
    Practice("0.3 V; common practice, no source"),
)

RULE = Rule(
    "cable/return-lifted-by-lock",
    title="A shared return lifts the 0 V of electronics when a lock draws",
    level=Level.WARNING,
    over=Feed,
    applies=lambda feed: isinstance(feed.load, Input) and feed.terminal.supply != "poe",
    scope="electronics that are not fed over PoE",
    basis=(
        Practice(
            "the 0 V of a reader or controller moves by at most 0.3 V when another load on its return draws; common "
            "practice, no source",
            physics="Ohm's law: current of the others x resistance of the common conductor",
        ),
    ),
    evidence=("shift of the 0 V", "largest shift", "margin"),
    why="The reader misreads or restarts at the moment when the lock fires, and never on the bench.",
    cure="A return conductor of its own for the lock.",
    parameters=(LARGEST_SHIFT, WARM_CONDUCTOR),
    limits="Counts peaks of all other loads on the common conductor at once.",
    incomplete=uncounted.together(uncounted.sharing, uncounted.returns, uncounted.warmth),
)


def check(feed: Feed, context: Context) -> Iterator[Verdict]:
    carrier, others = _sharing(feed, context)
    if not others and any(item.shares_return_with is not None for item in context.opening(feed.item).items.values()):
        yield ok(f"{feed.item.name} has a return of its own", feed.place)
        return
    if not others:
        yield not_applicable(f"{feed.item.name} shares its return with no other load")
        return
    line = context.voltages.line(carrier)
    warm = warm_conductor_c(context.spec, context.opening(carrier.item))
    ohm = line.ohm("minus", warm, 1.0)
    current = sum((peak(other, context.wiring) for other in others), Fraction(0))
    largest = LARGEST_SHIFT.value(context.spec.practice)
    shift = volts(float(current) * ohm)
    names = " and ".join(other.item.name for other in others)
    terms = (
        Term(f"peak of {names}", str(Measure(current, "current")), others[0].load.at("peak")),
        *(element.term for element in line.elements if element.leg == "minus"),
    )
    formula = f"current of the others x resistance of the return at {warm:.0f} degC"
    shared_by = feed if feed.item.shares_return_with not in (None, "none") else others[0]
    place = shared_by.item.at("shares_return_with")
    repairs = (Repair(f"a return conductor of its own for {shared_by.item.name}", (Change(place, "none"),)),)
    yield at_most(
        f"shift of the 0 V of {feed.item.name} while {names} draws",
        shift,
        Measure(largest, "voltage"),
        place,
        limit_name="largest that does not disturb electronics,",
        related=(Related(carrier.item.at("length"), f"the common conductor is that of {carrier.item.name}"),),
        working=(Step("shift of the 0 V", formula, shift, terms),),
        repairs=repairs if shift.value > largest else (),
    )


def _sharing(feed: Feed, context: Context) -> tuple[Feed, list[Feed]]:
    """The feed that owns the conductor in which this one's current flows back, and the other feeds that use it."""
    carrier = _carrier(feed, context)
    users = [one for one in context.voltages.unit(feed).feeds if key_of(_carrier(one, context)) == key_of(carrier)]
    return carrier, [one for one in users if key_of(one) != key_of(feed)]


def _carrier(feed: Feed, context: Context) -> Feed:
    seen = {key_of(feed)}
    while (partner := return_partner(feed, context.wiring)) is not None and key_of(partner) not in seen:
        feed = partner
        seen.add(key_of(feed))
    return feed
