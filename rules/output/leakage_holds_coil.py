"""The current that still passes when an output is off, against what keeps the coil pulled in."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress

from doorlint.circuit.contacts import bleeder_resistance_ohm, leakage_limit_a
from doorlint.circuit.releases import Opener, SwitchedCoil, coil_ohm, drop_out
from doorlint.circuit.substitutes import other_sources
from doorlint.context import Context
from doorlint.outcome import Level, Measure, Practice, Related, Step, Term, Verdict, at_most
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import UNKNOWN, Undecided, known

RULE = Rule(
    "output/leakage-holds-coil",
    title="An output that is off passes too much for the coil to let go",
    level=Level.ERROR,
    over=SwitchedCoil,
    applies=lambda switched: any(_leaks(opener) for opener in switched.openers) or switch_unknown(switched),
    scope="coils that a semiconductor switches, or an output whose sheet states a leakage",
    basis=(
        Practice(
            "the leakage stays at or below half of the current at which the coil lets go; where the sheet gives none, "
            "a tenth of its rated current is taken for that",
            physics="a magnet or relay keeps its armature with a fraction of the current that pulls it in",
        ),
    ),
    evidence=("leakage", "half of the drop-out current", "margin"),
    why="The magnet sticks or the relay never drops although the output is off.",
    cure="Use a dry contact, or a bleed resistor across the coil.",
    limits="The leakage of suppressors, lamps and testers in the circuit is not in the spec.",
    life_safety=True,
)


def _leaks(opener: Opener) -> bool:
    return opener.solid_state or opener.part.leakage is not None


def switch_unknown(switched: SwitchedCoil) -> bool:
    """Whether the sheet says `unknown` of what switches the output that feeds a coil."""
    return switched.feed.terminal.output.switch is UNKNOWN


def check(switched: SwitchedCoil, context: Context) -> Iterator[Verdict]:
    if switch_unknown(switched):
        known(switched.feed.terminal.output, "switch", str)
    for opener in switched.openers:
        if _leaks(opener):
            yield _verdict(switched, opener, context)


def _verdict(switched: SwitchedCoil, opener: Opener, context: Context) -> Verdict:
    item, coil = switched.item, switched.coil
    leakage = known(opener.part, "leakage", Quantity)
    current, ground, place = drop_out(switched)
    limit = leakage_limit_a(current)
    steps = [
        Step("current at which it lets go", ground, Measure(current, "current"), (Term("figure", ground, place),)),
        Step("most leakage", "0.5 x that current", Measure(limit, "current")),
    ]
    bleeder = None
    with suppress(Undecided):  # the resistor is a hint; without the coil's resistance there is none
        bleeder = bleeder_resistance_ohm(float(leakage.value), coil_ohm(coil), limit)
    if bleeder is not None:
        formula = "R coil x limit / (leakage - limit)"
        steps.append(Step("largest bleed resistor that would cure it", formula, Measure(bleeder, "resistance")))
    return at_most(
        f"leakage of {opener.label} into {item.name}",
        Measure(leakage.value, "current"),
        Measure(limit, "current"),
        opener.place,
        limit_name="most that lets it go, half of its drop-out current,",
        related=(Related(opener.part.at("leakage"), f"{leakage.text} pass when it is off"), Related(place, ground)),
        working=tuple(steps),
        repairs=tuple(other_sources(switched.feed, context.spec, life_safety=True)) if leakage.value > limit else (),
    )
