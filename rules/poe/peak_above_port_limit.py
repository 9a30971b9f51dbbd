"""The power peak of a door that fires against what a port allows, and for how long, before it cuts off."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint.circuit.demand import nominal, source_voltage
from doorlint.circuit.poe import hold_up_capacitance_f
from doorlint.circuit.poe_cures import port_repairs, supply_repairs
from doorlint.circuit.poe_links import (
    PEAK_ALLOWED_S,
    PeakDemand,
    PoeLink,
    PoeLinks,
    exact,
    own_power_w,
    states_output_limit,
)
from doorlint.circuit.tolerance import voltage_taken
from doorlint.context import Context
from doorlint.outcome import Cited, Level, Measure, Practice, Related, Step, Term, Verdict, at_least, at_most
from doorlint.outcome import not_applicable as idle
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import UNKNOWN, Undecided, known

RULE = Rule(
    "poe/peak-above-port-limit",
    title="Firing the lock takes more power than the PoE port allows",
    level=Level.ERROR,
    over=PoeLink,
    applies=lambda link: not link.passive,
    scope="ports that give power by IEEE 802.3",
    basis=(
        Cited(
            "IEEE 802.3", "2022", "clauses 33 and 145",
            "peak power of a device, 50 ms at most; a port cuts off after 50 to 75 ms", from_memory=True,
        ),
        Practice(
            "a peak beyond the class is bridged by energy stored in the device, or the lock has a supply of its own",
            physics="a port limits its current and cuts off; what it does not give must come from a capacitor",
        ),
    ),
    evidence=("peak power", "power allowed for that long", "margin"),
    why="The controller restarts exactly when the door is opened, and only with some switches or injectors.",
    cure="Use a lock with a lower peak, a device that holds up the peak, or a supply of its own for the lock.",
    limits="Everything on the device is taken to fire at once. Peaks of electronics count where the sheet states them. "
    "The share of the time in peak (5 % at most) is not checked. A hold-up time is read as energy: the device's own "
    "power for that long, drawn while the port gives its class power.",
)  # fmt: skip


def check(link: PoeLink, context: Context) -> Iterator[Verdict]:
    poe, name = context.poe, link.item.name
    reason = _nothing_to_judge(link, poe)
    if reason:
        yield idle(reason)
        return
    granted, available, peak = poe.grant(link).granted, poe.available(link), poe.peak(link)
    assert granted is not None
    steady = available.power_w
    short = exact(granted.pd_peak_w) - exact(granted.pd_w) + steady
    lasting = peak.steady_w if peak.top_w <= steady else peak.beyond(PEAK_ALLOWED_S)
    if peak.gaps and lasting <= steady and peak.top_w <= short:
        raise peak.gaps[0]
    fired = " and ".join(rise.feed.item.name for rise in peak.rises)
    what = f"power of {name} with " + (f"{fired} at peak" if fired else "everything on")
    figures, limit = (peak.top_w, short), "peak power allowed for 50 ms,"
    steps = (*available.steps, poe.demand(link).step, _peak_step(peak))
    if peak.top_w <= steady or lasting > steady:
        figures, limit = (
            (lasting if lasting > steady else peak.top_w, steady),
            "steady power at the end of its channel,",
        )
    held = _held_up(link)
    if lasting > steady and not peak.gaps and held is not None and held >= peak.shortfall_j(steady):
        lacking = Measure(peak.shortfall_j(steady), "energy")
        limit = f"energy that the peak of {fired} lacks,"
        at = link.load.at("hold_up")
        yield at_least(
            f"energy held up in {name}", Measure(held, "energy"), lacking, at, limit_name=limit, working=steps
        )
        return
    if lasting > steady and link.load.hold_up is UNKNOWN:
        known(link.load, "hold_up", Quantity)
    related = tuple(
        Related(rise.feed.load.at("peak"), f"{rise.feed.item.name} adds {_watt(rise.extra_w)}")
        for rise in peak.rises[:3]
    )
    yield at_most(
        f"{what} for more than 50 ms" if lasting > steady else what,
        _watt(figures[0]),
        _watt(figures[1]),
        link.place,
        limit_name=limit,
        related=related,
        working=(*steps, *_bridging(link, peak, steady, context)) if lasting > steady else steps,
        repairs=(*port_repairs(link, poe), *supply_repairs(link, poe)) if figures[0] > figures[1] else (),
    )


def _nothing_to_judge(link: PoeLink, poe: PoeLinks) -> str:
    """Why the peak of a link is not judged; empty where it is. Raises Undecided where the draw is not known."""
    demand, name = poe.demand(link), link.item.name
    if not demand.carried and link.load.peak is None:
        return f"{name} feeds nothing and its sheet states no peak of its own"
    granted = poe.grant(link).granted
    if granted is not None and demand.total_w is None and demand.least_w <= exact(granted.pd_w):
        if states_output_limit(link):
            return f"the sheet of {name} limits its outputs: their peaks are judged at the outputs"
        raise demand.gaps[0]
    if granted is None or demand.total_w is None or demand.total_w > poe.available(link).power_w:
        return f"{name} does not get its steady power: that is judged first"
    return ""


def _watt(value: Fraction | float) -> Measure:
    return Measure(value, "power")


def _held_up(link: PoeLink) -> Fraction | None:
    """Energy that the sheet's hold-up time stands for, J: the device's own power for that long."""
    if not isinstance(link.load.hold_up, Quantity):
        return None
    return own_power_w(link.load) * link.load.hold_up.value


def _peak_step(peak: PeakDemand) -> Step:
    terms = []
    for rise in peak.rises:
        lasts = "" if rise.duration_s is None else f" for {Measure(rise.duration_s, 'time')}"
        text = f"{Measure(rise.extra_w, 'power')}{lasts}"
        terms.append(Term(f"{rise.feed.item.name} above steady", text, rise.feed.load.at("peak")))
    formula = " + ".join(["power drawn", *(term.name for term in terms)])
    return Step("peak power", formula, _watt(peak.top_w), tuple(terms), "all fired at once")


def _bridging(link: PoeLink, peak: PeakDemand, steady: Fraction | float, context: Context) -> Iterator[Step]:
    """The energy that the port does not give, and the capacitor at the lock's output that would hold it."""
    lacking = peak.shortfall_j(steady)
    ground = "energy above the power at the end of the channel, until the peak is over"
    yield Step(
        "energy to be held up", "(peak power - power at the device) x time", Measure(lacking, "energy"), (), ground
    )
    first = max(peak.rises, key=lambda rise: rise.extra_w).feed
    sheet = link.item.sheet
    try:
        volts = float(nominal(source_voltage(first.terminal)))
        lowest = float(voltage_taken(first.load, context.spec.practice)[0].low)
    except Undecided:
        return
    if sheet is None or not isinstance(sheet.efficiency, Quantity) or lowest >= volts or first.supply == "poe":
        return
    farad = hold_up_capacitance_f(float(lacking * sheet.efficiency.value), 1.0, volts, lowest)
    terms = (Term("from", f"{volts:g} V", first.terminal.output.at("voltage")), Term("to", f"{lowest:g} V"))
    text = "2 x energy behind the converter / (V1^2 - V2^2)"
    yield Step(
        f"capacitor that would hold up {first.item.name}", text, Measure(farad, "capacitance"), terms, "E = C V^2 / 2"
    )
