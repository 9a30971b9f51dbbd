"""Figures of a circuit that only mean something above zero."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.circuit.feeds import Feed
from doorlint.context import Context
from doorlint.outcome import Level, Practice, Related, Verdict, failed, ok
from doorlint.quantity import Band, Quantity, WireSize
from doorlint.rulebook import Rule
from doorlint.spec.fields import Part

RULE = Rule(
    "supply/zero-figure",
    title="A figure of the circuit is zero",
    level=Level.ERROR,
    over=Feed,
    basis=(
        Practice(
            "a winding without resistance, a load without current and a source without voltage do not exist",
            physics="Ohm's law: nothing can be computed from them",
        ),
    ),
    evidence=("the figure",),
    why="A blank of a data sheet was typed in as 0, and every sum that it enters looks better than it is.",
    cure="Write `unknown` until the data sheet or a measurement gives the value.",
    limits="A length of 0 m is taken as given: the device stands at what feeds it.",
)

_LOAD = ("voltage", "current", "power", "resistance", "pull_in_voltage")
_SOURCE = ("voltage", "current")
_CABLE = ("conductor", "resistance")


def check(feed: Feed, context: Context) -> Iterator[Verdict]:
    item, terminal = feed.item, feed.terminal
    parts: list[tuple[str, Part, tuple[str, ...]]] = [
        (item.name, feed.load, _LOAD),
        (terminal.label, terminal.output, _SOURCE),
    ]
    if item.cable_sheet is not None:
        parts.append((f"cable {item.cable_sheet.id}", item.cable_sheet, _CABLE))
    if item.sheet is not None:
        parts.append((item.sheet.id, item.sheet, ("efficiency",)))
    zeros = [
        (owner, part, name) for owner, part, names in parts for name in names if _is_zero(getattr(part, name, None))
    ]
    for owner, part, name in zeros:
        text = f"{name.replace('_', ' ')} of {owner} is given as zero"
        yield failed(text, part.at(name), related=(Related(feed.place, f"it counts for the feed of {item.name}"),))
    if not zeros:
        yield ok(f"no figure of the circuit of {item.name} is zero", feed.place)


def _is_zero(value: object) -> bool:
    if isinstance(value, Quantity):
        return value.value <= 0
    if isinstance(value, Band):
        return value.high <= 0
    return isinstance(value, WireSize) and value.area_mm2 is not None and value.area_mm2 <= 0
