"""A supply or panel on one PoE port that several doors depend on."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.circuit.poe_links import PoeSource
from doorlint.context import Context
from doorlint.outcome import Level, Practice, Related, Verdict, failed, ok
from doorlint.rulebook import Rule
from doorlint.spec import PowerSource

RULE = Rule(
    "poe/doors-share-port",
    title="Several doors depend on one PoE port",
    level=Level.WARNING,
    over=PoeSource,
    applies=lambda poe: bool(poe.dependents),
    scope="PoE sources that feed another source of the spec",
    basis=(Practice("a device on a port serves one door, so that one patch cord pulled is one door lost"),),
    evidence=("doors that depend on the port",),
    why="One patch cord is pulled, or one port fails, and four doors are lost.",
    cure="Give each door its controller and port, or feed the shared panel from a supply with standby.",
    limits="How many doors a project may lose with one fault is not in the spec; one is taken. Devices that the spec "
    "puts on the switch itself have a port each.",
    incomplete=lambda poe, context: [gap for one in poe.dependents for gap in uncounted.loads(one, context)],
)


def check(poe: PoeSource, context: Context) -> Iterator[Verdict]:
    for source in poe.dependents:
        doors, places = _doors(source, context)
        at = source.at("fed_from")
        if len(doors) > 1:
            text = f"{len(doors)} openings depend on {source.id}, which hangs on one port of {poe.source.id}"
            yield failed(f"{text}: {', '.join(doors[:6])}", at, related=places)
        else:
            yield ok(
                f"{source.id} hangs on one port of {poe.source.id} and serves {', '.join(doors) or 'no opening'}", at
            )


def _doors(source: PowerSource, context: Context) -> tuple[list[str], tuple[Related, ...]]:
    fed = [f for f in context.wiring.feeds if any(each.id == source.id for each in f.sources)]
    places = tuple(Related(feed.place, f"{feed.identity} is fed from it") for feed in fed[:3])
    return list(dict.fromkeys(feed.item.opening for feed in fed)), places
