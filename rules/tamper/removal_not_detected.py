"""A reader or station outside that does not notice when it is taken off its wall."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.events.door import READERS, kind_of
from doorlint.outcome import Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.model import Item

from ..failure.doors import resists

STATIONS = READERS | {"intercom"}

RULE = Rule(
    "tamper/removal-not-detected",
    title="A device outside does not notice that it is taken off its wall",
    level=Level.WARNING,
    over=Item,
    applies=lambda item: item.side == "unsecured" and kind_of(item) in STATIONS,
    scope="readers and stations on the unsecured side",
    basis=(Practice("a reader or station on the unsecured side has a tamper switch or an optical tamper"),),
    why="Nobody sees that the reader hangs loose for a night, with a skimmer clipped to its wires.",
    cure="Use a device with a tamper switch or optical tamper, and have it reported.",
    limits="Whether the tamper signal is wired and answered is not seen here.",
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    if not resists(context.opening(item)):
        yield not_applicable(f"{item.opening} need not resist")
        return
    sheet = item.sheet
    assert sheet is not None
    related = (Related(sheet.at("monitors"), f"what {sheet.id} monitors"),)
    if "tamper" in known(sheet, "monitors", tuple):
        yield ok(f"{item.name} notices when it is taken off its wall", item.at("product"), related=related)
    else:
        text = f"{item.name} stands outside and does not notice when it is taken off its wall"
        yield failed(text, item.at("product"), related=related)
