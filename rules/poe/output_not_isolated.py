"""Whether what a PoE device passes on to a lock in a metal frame is isolated from the network."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.circuit.poe_links import PoeLink
from doorlint.context import Context
from doorlint.outcome import Cited, Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import known

RULE = Rule(
    "poe/output-not-isolated",
    title="A lock in an earthed frame is fed without isolation from the network",
    level=Level.WARNING,
    over=PoeLink,
    basis=(
        Cited("IEEE 802.3", "2022", "clauses 33 and 145", "isolation of 1500 V between network and other conductors",
              from_memory=True),
        Practice(
            "the output of a splitter is isolated from the cable, as the lock's 0 V meets the frame, which is earthed",
            physics="an earth on the device's side closes a second way back to the port",
        ),
    ),
    evidence=("isolation", "what is fed"),
    why="Link errors, a port that reports an earth fault, or a burnt port at the first storm.",
    cure="Use an isolated splitter or controller, or a lock whose coil is insulated from its body.",
    limits="Whether the lock's 0 V really meets the frame is not in the spec. A device other than a splitter is taken "
    "to be isolated, as the standard asks, unless its sheet says otherwise.",
)  # fmt: skip


def check(link: PoeLink, context: Context) -> Iterator[Verdict]:
    item, sheet = link.item, link.item.sheet
    fed = [each.feed for each in context.poe.demand(link).carried if each.feed.supply != "poe"]
    if not fed or sheet is None:
        yield not_applicable(f"{item.name} feeds no low-voltage device")
        return
    if sheet.isolated is None and sheet.kind != "poe_splitter":
        yield not_applicable(f"{item.name} is no splitter and its sheet does not deny isolation")
        return
    names = ", ".join(feed.item.name for feed in fed[:3])
    related = tuple(Related(feed.place, f"{feed.item.name} is fed from it") for feed in fed[:3])
    if known(sheet, "isolated", bool):
        yield ok(f"{item.name} isolates {names} from the network", sheet.at("isolated"), related=related)
    else:
        yield failed(
            f"{item.name} feeds {names} without isolation from the network", sheet.at("isolated"), related=related
        )
