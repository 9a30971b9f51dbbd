"""More load on one RS-485 bus than its drivers can carry."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint import uncounted
from doorlint.context import Context
from doorlint.outcome import Cited, Level, Step, Term, Verdict, failed, not_applicable, ok
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import Undecided, known
from doorlint.spec.model import Item, Project

MOST = 32

RULE = Rule(
    "reader/bus-overloaded",
    title="More devices are on the bus than its drivers can carry",
    level=Level.WARNING,
    over=Project,
    basis=(Cited("TIA-485-A", "1998", "unit loads", "a driver carries 32 unit loads", from_memory=True),),
    evidence=("unit loads",),
    why="The last reader added makes the first ones drop out.",
    cure="Split the bus, or use devices of a smaller unit load.",
    limits="The controller itself counts too: its load is part of the sum only where it is on the bus in the spec.",
    incomplete=uncounted.on_buses,
)


def check(project: Project, context: Context) -> Iterator[Verdict]:
    buses: dict[str, list[Item]] = {}
    for opening in context.spec.openings.values():
        for item in opening.items.values():
            if isinstance(item.bus, str):
                buses.setdefault(item.bus, []).append(item)
    if not buses:
        yield not_applicable("no bus is named")
    for name, items in sorted(buses.items()):
        load = sum((_load(item) for item in items), Fraction(0))
        first = min(items, key=lambda item: item.identity)
        terms = tuple(Term(item.identity, str(float(_load(item))), item.at("bus")) for item in items)
        step = Step(f"unit loads on {name}", "sum over its devices", f"{float(load):g}", terms)
        text = (
            f"bus {name} carries {len(items)} devices of {float(load):g} unit loads together; a driver carries {MOST}"
        )
        verdict = ok if load <= MOST else failed
        yield verdict(text, first.at("bus"), working=(step,))


def _load(item: Item) -> Fraction:
    if item.sheet is None:
        raise Undecided("product", item.at("product"), stated=item.product is not None)
    return Fraction(known(item.sheet, "unit_load", Quantity).value)
