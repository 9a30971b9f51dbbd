"""The highest voltage that reaches a load: battery float included."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.circuit.demand import source_voltage
from doorlint.circuit.feeds import Feed
from doorlint.circuit.tolerance import voltage_taken
from doorlint.circuit.voltages import root_of
from doorlint.context import Context
from doorlint.outcome import Level, Measure, Practice, Related, Verdict, at_most
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import Battery, PowerSource, known

RULE = Rule(
    "supply/float-over-maximum",
    title="The battery's float voltage is above what the device takes",
    level=Level.ERROR,
    over=Feed,
    applies=lambda feed: _battery(feed) is not None,
    scope="devices on a supply whose battery lies across its output",
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
    limits="The drop on the cable is left out: with the lock switched off there is none.",
)


def _battery(feed: Feed) -> Battery | None:
    owner = root_of(feed.terminal).owner
    if isinstance(owner, PowerSource) and isinstance(owner.battery, Battery) and owner.battery.regulated is not True:
        return owner.battery
    return None


def check(feed: Feed, context: Context) -> Iterator[Verdict]:
    battery = _battery(feed)
    assert battery is not None
    floating = known(battery, "float_voltage", Quantity)
    highest = max(floating.value, source_voltage(feed.terminal).high)
    taken, _ = voltage_taken(feed.load)
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
    )
