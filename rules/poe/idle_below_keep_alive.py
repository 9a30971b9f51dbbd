"""The draw of a device at rest against what a port wants to see to keep it on."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint import uncounted
from doorlint.circuit.poe import HIGHEST_VOLTAGE_V
from doorlint.circuit.poe_links import PoeLink, PoeLinks, exact
from doorlint.context import Context
from doorlint.outcome import Cited, Level, Measure, Place, Practice, Step, Term, Verdict, at_least, not_applicable
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import UNKNOWN, Input, Undecided

BARE = ("poe_splitter", "poe_extender", "converter")
"""Devices with hardly any electronics of their own: what keeps their port on is what hangs on them."""

RULE = Rule(
    "poe/idle-below-keep-alive",
    title="At rest the device draws too little for its PoE port to stay on",
    level=Level.ERROR,
    over=PoeLink,
    applies=lambda link: not link.passive,
    scope="ports that give power by IEEE 802.3",
    basis=(
        Cited("IEEE 802.3", "2022", "clauses 33 and 145", "maintain power signature", from_memory=True),
        Practice(
            "a device at rest draws at least 10 mA (16 mA from class 5 on) at the highest port voltage, 57 V",
            physics="a port takes a load below that for an unplugged cable and switches off within 0.4 s",
        ),
    ),
    evidence=("power at rest", "least power", "margin"),
    why="The port drops and starts again every few seconds while nothing happens at the door.",
    cure="Put a steady load such as the reader on the splitter, or use a device that keeps its port alive by itself.",
    limits="A pulsed signature is not considered. A device with electronics of its own is taken to keep its port alive "
    "unless its sheet states an idle power.",
)


def check(link: PoeLink, context: Context) -> Iterator[Verdict]:
    sheet, load = link.item.sheet, link.load
    bare = sheet is not None and sheet.kind in BARE
    if load.idle_power is None and not bare:
        why = "has electronics that stay on, and its sheet states no idle power, as one that sleeps does"
        yield not_applicable(f"{link.item.name} {why}")
        return
    granted = context.poe.grant(link).granted
    if granted is None:
        yield not_applicable("the port may not power the device at all")
        return
    least = exact(granted.mps_a) * exact(HIGHEST_VOLTAGE_V)
    own = load.idle_power.value if isinstance(load.idle_power, Quantity) else Fraction(0)
    terms = [Term(f"{link.item.name} at rest", str(Measure(own, "power")), load.at("idle_power"))]
    total = own
    for name, watt, place in _at_rest(link, context.poe):
        total += watt
        terms.append(Term(f"{name} at rest", str(Measure(watt, "power")), place))
    if total < least and not isinstance(load.idle_power, Quantity):
        raise Undecided("idle_power", load.at("idle_power"), stated=load.idle_power is not None)
    if total < least:
        uncounted.insist([*_not_stated(link, context.poe), *uncounted.loads(link, context)])
    formula = " + ".join(term.name for term in terms)
    keep = Step("least power", f"{granted.mps_a * 1000:g} mA x {HIGHEST_VOLTAGE_V:g} V", Measure(least, "power"))
    yield at_least(
        f"power of {link.item.name} at rest",
        Measure(total, "power"),
        Measure(least, "power"),
        load.at("idle_power"),
        limit_name="least that keeps the port on,",
        working=(Step("power at rest", formula, Measure(total, "power"), tuple(terms)), keep),
    )


def _at_rest(link: PoeLink, poe: PoeLinks) -> Iterator[tuple[str, Fraction, Place]]:
    """What the loads of a device draw at rest for certain: electronics whose sheet states it, without losses."""
    for each in poe.demand(link).carried:
        load = each.feed.load
        if isinstance(load, Input) and isinstance(load.idle_power, Quantity):
            yield each.feed.item.name, load.idle_power.value, load.at("idle_power")


def _not_stated(link: PoeLink, poe: PoeLinks) -> Iterator[Undecided]:
    """The loads of which it is given as unknown what they draw at rest."""
    for each in poe.demand(link).carried:
        load = each.feed.load
        if isinstance(load, Input) and load.idle_power is UNKNOWN:
            yield Undecided("idle_power", load.at("idle_power"), stated=True)
