"""The class that a port grants against the class that the device asks for."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.circuit.poe_cures import port_repairs
from doorlint.circuit.poe_links import PoeLink, rank
from doorlint.context import Context
from doorlint.outcome import Cited, Level, Practice, Related, Verdict, failed, ok
from doorlint.rulebook import Rule

RULE = Rule(
    "poe/class-below-request",
    title="The PoE port grants a lower class than the device asks for",
    level=Level.ERROR,
    over=PoeLink,
    applies=lambda link: not link.passive,
    scope="ports that give power by IEEE 802.3",
    basis=(
        Cited("IEEE 802.3", "2022", "clauses 33 and 145", "classification and demotion", from_memory=True),
        Practice(
            "a device is fed from a port of at least the class that it asks for",
            physics="a device that is granted less may draw no more than that",
        ),
    ),
    evidence=("class of the port", "class asked for", "class granted"),
    why="The device starts in a reduced mode: the reader reads and the lock output stays off.",
    cure="Use a port of the class asked for; let the switch grant it in hardware, not only after the link is up.",
    limits="Whether a switch grants its class by link-layer negotiation alone is not in the spec.",
    incomplete=uncounted.where_unknown("feed.terminal.owner.standard"),
)


def check(link: PoeLink, context: Context) -> Iterator[Verdict]:
    grant = context.poe.grant(link)
    name, port = link.item.name, link.feed.terminal.label
    related = (
        Related(grant.asked_place, f"{name} asks for class {grant.asked}"),
        Related(grant.port_place, f"{port} has class {grant.port}"),
    )
    if rank(grant.port) >= rank(grant.asked):
        yield ok(f"{name} asks for class {grant.asked} and {port} grants it", link.place, related=related)
        return
    if grant.granted is None:
        got = "which has no lower step to offer: it may stay off"
    else:
        got = f"which grants it class {grant.granted.number}: {grant.granted.pd_w:g} W at the device"
    text = f"{name} asks for class {grant.asked} and is on {port} of class {grant.port}, {got}"
    yield failed(text, link.place, related=related, repairs=tuple(port_repairs(link, context.poe)))
