"""The highest voltage that reaches a load: battery float included."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.circuit.cures import setting_repairs
from doorlint.circuit.demand import source_voltage
from doorlint.circuit.feeds import Feed
from doorlint.circuit.substitutes import other_products, other_sources
from doorlint.circuit.tolerance import TOLERANCES, voltage_taken
from doorlint.circuit.voltages import own_battery, root_of, voltage_place
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
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import Battery, PowerSource, known

RULE = Rule(
    "supply/float-over-maximum",
    title="The battery's float voltage is above what the device takes",
    level=Level.ERROR,
    over=Feed,
    applies=lambda feed: isinstance(root_of(feed.terminal).owner, PowerSource) and feed.terminal.supply != "poe",
    scope="devices fed by a power source, but not over PoE",
    needs=("load.voltage",),
    basis=(
        Practice(
            "the float voltage stays within what the device takes; 2.25 to 2.30 V per lead-acid cell is 13.5 to 13.8 V "
            "on 12 V and twice that on 24 V",
            physics="a coil's heat grows with the square of its voltage",
        ),
    ),
    evidence=("float voltage", "highest that the device takes", "margin"),
    why="Coils run hot and die early, a magnet stays sticky, electronics for 12 V only fail.",
    cure="A supply that regulates its output apart from the battery, or devices with a wider range.",
    parameters=TOLERANCES,
    limits="The drop on the cable is left out: with the lock switched off there is none.",
)


def check(feed: Feed, context: Context) -> Iterator[Verdict]:
    battery = own_battery(root_of(feed.terminal))
    owner = root_of(feed.terminal).owner
    if battery is None and isinstance(owner, PowerSource) and isinstance(owner.battery, Battery):
        yield ok(f"{owner.id} keeps its output apart from its battery", feed.place)
        return
    if battery is None:
        yield not_applicable(f"{feed.terminal.label} has no battery")
        return
    floating = known(battery, "float_voltage", Quantity)
    taken, _ = voltage_taken(feed.load, context.spec.practice)
    source = source_voltage(feed.terminal)
    if source.high > taken.high:
        yield not_applicable(f"{feed.terminal.label} gives more than {feed.item.name} takes even without its battery")
        return
    highest = max(floating.value, source.high)
    yield at_most(
        f"voltage of {feed.terminal.label} while its battery floats",
        Measure(highest, "voltage"),
        Measure(taken.high, "voltage"),
        feed.place,
        limit_name=f"highest that {feed.item.name} takes,",
        related=(
            Related(battery.at("float_voltage"), "the float voltage"),
            Related(feed.load.at("voltage"), f"{feed.item.name} takes {taken.text}"),
        ),
        working=(_working(feed, battery, Measure(highest, "voltage")),),
        repairs=tuple(_repairs(feed, battery, context)) if highest > taken.high else (),
    )


def _working(feed: Feed, battery: Battery, highest: Measure) -> Step:
    source = source_voltage(feed.terminal)
    terms = (
        Term("float voltage", str(Measure(known(battery, "float_voltage", Quantity).value, "voltage")),
             battery.at("float_voltage")),
        Term("output", source.text, voltage_place(root_of(feed.terminal))),
    )  # fmt: skip
    return Step("highest voltage at the output", "the higher of float voltage and output voltage", highest, terms)


def _repairs(feed: Feed, battery: Battery, context: Context) -> Iterator[Repair]:
    yield from setting_repairs(feed.item)
    yield from other_sources(feed, context.spec)
    if battery.regulated is None:
        yield Repair("a supply that keeps its output voltage apart from the battery",
                     (Change(battery.place, "true", key="regulated"),))  # fmt: skip
    yield from other_products(feed.item, context.spec)
