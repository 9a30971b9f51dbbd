"""A reader that does not tell people that the door is unlocked."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.events.door import READERS, kind_of
from doorlint.outcome import Level, Practice, Verdict, failed, ok
from doorlint.rulebook import Rule
from doorlint.spec import Item, Product, known

RULE = Rule(
    "access/no-sign-of-unlocking",
    title="The reader does not tell by light and sound that it unlocked",
    level=Level.NOTE,
    over=Item,
    applies=lambda item: (
        kind_of(item) in READERS and isinstance(item.sheet, Product) and item.sheet.feedback is not None
    ),
    scope="readers whose sheet states their feedback",
    basis=(Practice("a reader tells by light and by sound that it unlocked, for those who do not see or hear"),),
    evidence=("feedback",),
    why="People pull before the lock is free, or miss the few seconds in which it is.",
    cure="Use a reader with both, or add the other at the door.",
    limits="Loudness and colour are not in the spec; a motor lock that can be heard may do for the sound.",
)


def check(reader: Item, context: Context) -> Iterator[Verdict]:
    assert isinstance(reader.sheet, Product)
    has = known(reader.sheet, "feedback", tuple)
    lacking = [word for word in ("light", "sound") if word not in has]
    if lacking:
        yield failed(f"{reader.name} gives no {' and no '.join(lacking)}", reader.at("product"))
    else:
        yield ok(f"{reader.name} gives light and sound", reader.at("product"))
