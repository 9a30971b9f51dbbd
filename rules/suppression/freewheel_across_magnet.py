"""A diode, or what acts like one, across a magnet whose release time cannot be shown."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint import uncounted
from doorlint.circuit.releases import SwitchedCoil, highest_source, is_magnet, slowest_path
from doorlint.circuit.substitutes import as_yaml
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
    at_least,
    not_applicable,
)
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import UNKNOWN, known
from doorlint.spec.model import Suppressor

from .stand_off_below_supply import FACTOR

FAST_SHARE = 0.5
"""From this share of the supply voltage on, the opposing voltage ends a magnet's current within one L/R: in
ln((1 + 0.5) / (0.22 + 0.5)) = 0.73 of it."""

RULE = Rule(
    "suppression/freewheel-across-magnet",
    title="A part that conducts at a low voltage keeps the magnet holding",
    level=Level.WARNING,
    over=SwitchedCoil,
    applies=lambda switched: is_magnet(switched.item),
    scope="electromagnets that hold a door",
    basis=(
        Practice(
            "no diode across a magnet, unless its release time is shown; a part that opposes the current with at least "
            "half of the supply voltage lets it go within one L/R",
            physics="the current of a coil dies the slower, the lower the voltage that opposes it",
        ),
    ),
    evidence=("opposing voltage", "half of the supply voltage", "what carries the current on"),
    why="With a diode, a rectifier inside the magnet, or a lamp in parallel, the door stays held for a noticeable time "
    "after the button is pressed; how long depends on an inductance that few sheets state.",
    cure="Fit a varistor or a bidirectional TVS instead, or state the coil's inductance so that the time is computed.",
    limits="Where the inductance is stated, the release time itself is judged by a rule of its own.",
    life_safety=True,
    incomplete=uncounted.together(
        uncounted.devices,
        uncounted.where_unknown("coil.rectifier", "items.switched_by", "items.fed_from"),
    ),
)


def check(switched: SwitchedCoil, context: Context) -> Iterator[Verdict]:
    item, coil = switched.item, switched.coil
    if isinstance(coil.inductance, Quantity):
        yield not_applicable(f"the inductance of {item.name} is stated, so its release time is computed")
        return
    if switched.feed.terminal.supply == "ac" and coil.rectifier is UNKNOWN:
        known(coil, "rectifier", bool)
    if switched.feed.terminal.supply == "ac" and coil.rectifier is not True:
        yield not_applicable(f"{item.name} is fed with AC")
        return
    way = slowest_path(switched)
    if way is None:
        yield not_applicable(f"nothing carries the current of {item.name} on after it is switched off")
        return
    path, volts = way
    supply, term = highest_source(switched.feed)
    half = Step(
        "half of the supply voltage", "0.5 x highest source voltage", Measure(FAST_SHARE * supply, "voltage"), (term,)
    )
    yield at_least(
        f"voltage with which {path.label} opposes the current of {item.name}, whose inductance is not stated,",
        Measure(volts, "voltage"),
        Measure(FAST_SHARE * supply, "voltage"),
        path.place,
        limit_name="lowest that lets it go quickly, half of the supply voltage,",
        related=(Related(coil.at("inductance"), "no inductance is stated here, so no release time can be computed"),),
        working=(
            Step(
                "opposing voltage",
                path.label,
                Measure(volts, "voltage"),
                (Term(path.label, str(path.kind), path.place),),
            ),
            half,
        ),
        repairs=tuple(other_parts(switched, context)) if volts < FAST_SHARE * supply else (),
    )


def other_parts(switched: SwitchedCoil, context: Context) -> Iterator[Repair]:
    """For the one suppressor fitted, every bidirectional part of the spec that stands off the supply instead."""
    item = switched.item
    if len(item.suppression) != 1:
        return
    supply = Fraction(highest_source(switched.feed)[0])
    fitted = item.suppression[0]
    factor = FACTOR.value(context.spec.practice)
    for product in context.spec.products.values():
        part = product.suppressor
        if not isinstance(part, Suppressor) or part.type not in ("tvs_bidirectional", "mov"):
            continue
        if isinstance(part.stand_off, Quantity) and part.stand_off.value >= factor * supply:
            change = Change(fitted.at("product"), as_yaml(product.id))
            yield Repair(f"fit {product.id} instead of {fitted.product}", (change,), life_safety=True)
