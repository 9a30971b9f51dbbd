"""The ends at which the screen of a cable is earthed."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Change, Level, Practice, Related, Repair, Verdict, failed, ok
from doorlint.rulebook import Rule
from doorlint.spec import UNKNOWN, Item, known

RULE = Rule(
    "cable/screen-not-earthed-at-one-end",
    title="The cable's screen is earthed at both ends or at none",
    level=Level.WARNING,
    over=Item,
    applies=lambda item: (
        item.cable is UNKNOWN
        or (
            item.cable_sheet is not None
            and item.cable_sheet.kind != "category"
            and item.cable_sheet.screen not in (None, "none")
        )
    ),
    scope="items on a screened cable other than a network cable",
    basis=(
        Practice(
            "the screen of a reader or signal cable is earthed at exactly one end, that of the controller or supply: "
            "at both ends current flows in it, at none it screens nothing"
        ),
    ),
    evidence=("earthed ends",),
    why="Earth currents in the screen, or noise on the data line: reads fail now and then.",
    cure="Earth the screen at the end of the source, and insulate it at the device.",
    limits="Screens of network cables are bonded through their connectors and not judged.",
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    known(item, "cable", str)
    assert item.cable_sheet is not None
    known(item.cable_sheet, "screen", str)
    where = known(item, "screen_earthed", str)
    place = item.at("screen_earthed")
    if where in ("source", "device"):
        yield ok(f"the screen of the cable to {item.name} is earthed at one end, at the {where}", place)
        return
    words = "both ends" if where == "both" else "no end"
    yield failed(
        f"the screen of the cable to {item.name} is earthed at {words}",
        place,
        related=(Related(item.cable_sheet.at("screen"), f"the screen of {item.cable_sheet.id}"),),
        repairs=(Repair("earth the screen at the end of the source alone", (Change(place, "source"),)),),
    )
