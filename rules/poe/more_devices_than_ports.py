"""How many devices are on a PoE source against how many ports it has."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.circuit.poe_links import PoeSource
from doorlint.context import Context
from doorlint.outcome import Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import known

RULE = Rule(
    "poe/more-devices-than-ports",
    title="More devices are on the PoE source than it has powered ports",
    level=Level.ERROR,
    over=PoeSource,
    applies=lambda poe: bool(poe.links),
    scope="sources with devices on them",
    basis=(
        Practice(
            "each device has a port of its own",
            physics="a port detects and classifies one device: two in parallel give no valid signature",
        ),
    ),
    evidence=("devices", "ports"),
    why="The last doors of the schedule have no port on the day of installation.",
    cure="Use a source with more ports, or another source.",
    limits="Only devices that the spec lists are counted.",
    incomplete=uncounted.loads,
)


def check(poe: PoeSource, context: Context) -> Iterator[Verdict]:
    source, count = poe.source, len(poe.links)
    if count == 1 and source.ports is None:
        yield not_applicable(f"one device is on {source.id}")
        return
    ports = known(source, "ports", int)
    text = f"{count} devices are on {source.id}, which has {ports} powered ports"
    if count <= ports:
        yield ok(text, source.at("ports"))
    else:
        related = tuple(Related(link.place, f"{link.identity} is on it") for link in poe.links[ports : ports + 3])
        yield failed(text, source.at("ports"), related=related)
