"""A high-security opening where closed is taken for locked."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.events.door import kind_of
from doorlint.outcome import Cited, Level, Practice, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.model import Opening

from ..failure.doors import locks_of

RULE = Rule(
    "inputs/lock-state-not-monitored",
    title="Nobody knows whether the closed leaf is locked",
    level=Level.WARNING,
    over=Opening,
    applies=lambda opening: opening.security == "high",
    scope="openings of high security",
    basis=(
        Cited("IEC 60839-11-1", "2013", "monitoring by grade", from_memory=True),
        Practice("at high security the state of the lock is monitored, not only the position of the leaf"),
    ),
    why="The leaf rests on its latch and looks closed; a push opens it.",
    cure="Use a lock that monitors latch, bolt or bond, or a latch monitor.",
    limits="Whether the monitor is wired is seen only where a latch monitor is listed as a device.",
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    locks = locks_of(opening)
    monitors = [item for item in opening.items.values() if kind_of(item) == "latch_monitor"]
    if not locks:
        yield not_applicable("no electric lock is listed")
        return
    if monitors:
        yield ok(f"{monitors[0].name} monitors the latch", monitors[0].place.key)
        return
    for lock in locks:
        sheet = lock.sheet
        assert sheet is not None
        words = set(known(sheet, "monitors", tuple)) & {"latch", "bolt", "bond"}
        if words:
            yield ok(f"{lock.name} monitors its {' and '.join(sorted(words))}", sheet.at("monitors"))
        else:
            yield failed(f"nothing tells whether {lock.name} is locked", lock.at("product"))
