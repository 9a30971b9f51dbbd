"""A source that puts voltage on the network cable without asking what is there."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.circuit.poe_links import PoeLink
from doorlint.circuit.tolerance import voltage_taken
from doorlint.context import Context
from doorlint.outcome import Level, Practice, Related, Verdict, failed, ok
from doorlint.quantity import Band
from doorlint.rulebook import Rule
from doorlint.spec import UNKNOWN, known

RULE = Rule(
    "poe/passive-source",
    title="A passive source feeds a device that expects a port by IEEE 802.3",
    level=Level.ERROR,
    over=PoeLink,
    applies=lambda link: link.passive or (link.source is not None and link.source.standard is UNKNOWN),
    scope="devices on passive PoE sources",
    basis=(
        Practice(
            "a passive source feeds only devices whose sheet states its very voltage",
            physics="voltage stands on the cable whatever is plugged in, without detection or limit by class",
        ),
    ),
    evidence=("voltage of the source", "what the device takes"),
    why="The next laptop, camera or controller plugged into that cable is burnt; the door device may be too.",
    cure="Use a source by IEEE 802.3 of the class that the device asks for.",
    limits="Which pairs carry the voltage is not in the spec.",
)


def check(link: PoeLink, context: Context) -> Iterator[Verdict]:
    source, name = link.source, link.item.name
    assert source is not None
    known(source, "standard", str)
    related: tuple[Related, ...] = (Related(source.at("standard"), f"{source.id} is passive"),)
    if link.load.poe_class is not None and link.load.voltage is None:
        related += (Related(link.load.at("poe_class"), f"{name} expects a port by IEEE 802.3"),)
        yield failed(
            f"{name} expects a port by IEEE 802.3 and is on {source.id}, which is passive", link.place, related=related
        )
        return
    taken, _ = voltage_taken(link.load, context.spec.practice)
    given = known(source, "voltage", Band)
    text = f"{source.id} is passive and gives {given.text}; {name} takes {taken.text}"
    related += (Related(link.load.at("voltage"), f"{name} takes {taken.text}"),)
    fits = taken.low <= given.low and given.high <= taken.high
    yield ok(text, link.place, related=related) if fits else failed(text, link.place, related=related)
