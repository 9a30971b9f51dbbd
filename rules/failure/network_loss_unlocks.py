"""What becomes of the lock when the network or the head end is lost."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.context import Context
from doorlint.events import Event, Lock
from doorlint.outcome import Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec.model import Opening

from .doors import WORN, lock_place, locks_of, open_for, row_of, way

RULE = Rule(
    "failure/network-loss-unlocks",
    title="The door unlocks when the network is lost",
    level=Level.ERROR,
    over=Opening,
    applies=lambda opening: bool(locks_of(opening)),
    scope="openings with an electric lock",
    basis=(
        Practice(
            "a controller without network decides by its own list or keeps the door locked; it never unlocks",
            physics="whoever unplugs the network would open every such door",
        ),
    ),
    evidence=("controller", "what it does offline"),
    why="A pulled cable, or a switch that restarts, opens the door and nobody knows.",
    cure="Set the controller to decide by its local list when it is offline.",
    limits="How old and how long the local list may be is not in the spec. Whether staff still get out of a place of "
    "care is a rule of its own. " + WORN,
    incomplete=uncounted.devices,
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    normal, lost = (row_of(opening, context, e) for e in (Event.NORMAL, Event.NETWORK_LOST))
    if normal.lock is Lock.UNLOCKED:
        yield not_applicable("the door is not locked in normal operation either")
    elif normal.lock is None or lost.lock is None:
        yield open_for((lost if lost.lock is None else normal,), opening)
    elif lost.lock is Lock.LOCKED:
        yield ok(way(lost.event.title, lost.because, "the door stays locked"), lock_place(opening))
    else:
        deciders = [i for i in context.door(opening).items if i.sheet and i.sheet.offline == "unlocked"]
        related = tuple(Related(i.sheet.at("offline"), f"{i.name} unlocks offline") for i in deciders if i.sheet)
        at = deciders[0].place.key if deciders else lock_place(opening)
        yield failed(way(lost.event.title, lost.because, "the door unlocks"), at, related=related)
