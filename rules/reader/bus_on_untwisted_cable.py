"""A data line on cable without twisted pairs."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Cited, Level, Practice, Related, Verdict, failed, ok
from doorlint.rulebook import Rule
from doorlint.spec import Undecided, known
from doorlint.spec.model import Item

RULE = Rule(
    "reader/bus-on-untwisted-cable",
    title="The RS-485 line runs on cable without twisted pairs",
    level=Level.WARNING,
    over=Item,
    applies=lambda item: item.sheet is not None and item.sheet.interface == "rs_485",
    scope="devices on RS-485",
    basis=(
        Cited("TIA-485-A", "1998", "interconnecting cable", "twisted pair", from_memory=True),
        Practice(
            "RS-485 runs on twisted pair", physics="equal coupling into both wires cancels only where they are twisted"
        ),
    ),
    why="The old cable carried pulses for years; on the bus every tenth telegram is lost.",
    cure="Lay a twisted pair of 100 to 120 ohm.",
    limits="The impedance of the cable is not in the spec.",
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    if item.cable_sheet is None:
        raise Undecided("cable", item.at("cable"), stated=item.cable is not None)
    related = (Related(item.cable_sheet.at("twisted"), f"cable {item.cable}"),)
    if known(item.cable_sheet, "twisted", bool):
        yield ok(f"the line of {item.name} is a twisted pair", item.at("cable"), related=related)
    else:
        yield failed(f"the line of {item.name} runs on {item.cable}, not twisted", item.at("cable"), related=related)
