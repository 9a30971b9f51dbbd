"""A credential that the reader accepts although anybody can copy it."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.events.door import READERS, kind_of
from doorlint.outcome import Cited, Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.model import Item

from ..failure.doors import resists

WORDS = {"serial_number": "the bare serial number of a card", "low_frequency_id": "a fixed number at 125 kHz"}

RULE = Rule(
    "reader/credential-can-be-copied",
    title="The reader accepts a credential that anybody can copy",
    level=Level.WARNING,
    over=Item,
    applies=lambda item: item.side == "unsecured" and kind_of(item) in READERS,
    scope="readers on the unsecured side",
    basis=(
        Cited("ISO/IEC 9798-2", "2019", "mutual authentication by symmetric keys", from_memory=True),
        Practice("a number that a card sends to any reader is no secret: cards without proof by a key can be copied"),
    ),
    why="A copy made in the queue opens the door, and the log shows its owner.",
    cure="Use cards that prove themselves with keys of their own, and switch the others off in the reader.",
    limits="What is switched off in a reader shows only when it is tested; how keys are made is not seen.",
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    opening, sheet = context.opening(item), item.sheet
    assert sheet is not None
    if not resists(opening):
        yield not_applicable(f"the opening need not resist (security {opening.security})")
        return
    at = sheet.at("credentials")
    weak = [WORDS[word] for word in known(sheet, "credentials", tuple) if word in WORDS]
    related = (Related(item.place.key, f"{item.name} of {item.opening}"),)
    if weak:
        yield failed(f"{item.name} of {item.opening} accepts {' and '.join(weak)}", at, related=related)
    else:
        yield ok(f"{item.name} accepts nothing that is copied by reading it", at, related=related)
