"""What feeds an input against what the input takes."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.circuit.cures import setting_repairs
from doorlint.circuit.demand import source_voltage
from doorlint.circuit.feeds import Feed
from doorlint.circuit.substitutes import other_products, other_sources
from doorlint.circuit.tolerance import TOLERANCES, voltage_taken
from doorlint.context import Context
from doorlint.outcome import Level, Measure, Practice, Related, Repair, Step, Term, Verdict, at_least, at_most
from doorlint.rulebook import Rule

RULE = Rule(
    "supply/voltage-mismatch",
    title="What feeds the device is not a voltage that it takes",
    level=Level.ERROR,
    over=Feed,
    applies=lambda feed: feed.terminal.supply != "poe",
    scope="devices that are not fed over PoE",
    needs=("load.voltage",),
    basis=(
        Practice(
            "a device works within the voltage range of its data sheet; where a sheet states only a nominal voltage, "
            "85 to 110 percent is taken for coils and 90 to 110 percent for electronics",
            physics="a coil's current follows its voltage, and its heat the square of it",
        ),
    ),
    evidence=("source voltage", "lowest or highest voltage taken", "margin"),
    why="A 12 V coil on 24 V draws twice the current and four times the heat; a 24 V lock on 12 V does not pull. "
    "Electronics for 12 V only are destroyed by 24 V.",
    cure="Feed the device from an output of its own voltage, choose its other coil setting, or another product.",
    parameters=TOLERANCES,
    limits="Looks at the voltage at the source, without the drop on the cable: that is a rule of its own.",
)


def check(feed: Feed, context: Context) -> Iterator[Verdict]:
    source = source_voltage(feed.terminal)
    taken, assumed = voltage_taken(feed.load, context.spec.practice)
    related = (
        Related(feed.load.at("voltage"), f"{feed.item.name} takes {taken.text}"),
        Related(feed.terminal.output.at("voltage"), f"{feed.terminal.label} gives {source.text}"),
    )
    step = Step(
        "voltage taken",
        f"{taken.text} {assumed}".strip(),
        f"{Measure(taken.low, 'voltage')} to {Measure(taken.high, 'voltage')}",
        (Term("stated voltage", taken.text, feed.load.at("voltage")),),
        "data sheet" if not assumed else "common practice where the sheet states no tolerance",
    )
    above = source.high - taken.high
    below = taken.low - source.low
    repairs = tuple(_repairs(feed, context)) if max(above, below) > 0 else ()
    what = f"voltage of {feed.terminal.label}"
    if below > 0 and below >= above:
        yield at_least(
            what,
            Measure(source.low, "voltage"),
            Measure(taken.low, "voltage"),
            feed.place,
            limit_name=f"lowest that {feed.item.name} takes,",
            related=related,
            working=(step,),
            repairs=repairs,
        )
    else:
        yield at_most(
            what,
            Measure(source.high, "voltage"),
            Measure(taken.high, "voltage"),
            feed.place,
            limit_name=f"highest that {feed.item.name} takes,",
            related=related,
            working=(step,),
            repairs=repairs,
        )


def _repairs(feed: Feed, context: Context) -> Iterator[Repair]:
    yield from setting_repairs(feed.item)
    yield from other_sources(feed, context.spec)
    yield from other_products(feed.item, context.spec)
