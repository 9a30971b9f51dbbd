"""A door that people leave by hardware, and that a fire alarm unlocks from outside for no need."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.events import Event, Ingress, Lock
from doorlint.outcome import Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec.model import Opening

from .doors import WORN, lock_place, locks_of, open_for, resists, row_of, way

RULE = Rule(
    "failure/fire-alarm-opens-free-egress-door",
    title="A fire alarm opens a door from outside that lets people out anyway",
    level=Level.WARNING,
    over=Opening,
    applies=lambda opening: bool(locks_of(opening)),
    scope="openings with an electric lock",
    basis=(Practice("the fire alarm does not unlock from outside a door that people leave by hardware"),),
    evidence=("event", "ingress"),
    why="Whoever pulls a manual station outside opens the whole perimeter, and people left by the lever anyway.",
    cure="Take the door out of the fire alarm's release, unless the fire service is to enter by it.",
    limits="Stair doors, and doors that the fire service wants open, are another matter. " + WORN,
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    arrangement = context.arrangement(opening)
    if arrangement.kind not in (None, "free_egress") or opening.stair is True:
        yield not_applicable(f"release on fire alarm has its reason here: {arrangement.why}")
        return
    normal, fire = (row_of(opening, context, e) for e in (Event.NORMAL, Event.FIRE_ALARM))
    if normal.lock is Lock.UNLOCKED:
        yield not_applicable("the door is not locked in normal operation either")
    elif fire.ingress_without is Ingress.NO or fire.lock is Lock.LOCKED:
        yield ok("a fire alarm does not open the door from outside", lock_place(opening))
    elif not resists(opening):
        yield not_applicable(f"the opening need not resist (security {opening.security})")
    elif fire.lock is None or arrangement.kind is None:
        yield open_for((fire,), opening)
    else:
        lock = locks_of(opening)[0]
        related = (Related(lock.at("released_by"), "what the fire alarm breaks or makes"),)
        text = way(fire.event.title, fire.because, "open from outside, although people leave by hardware")
        yield failed(text, lock_place(opening), related=related)
