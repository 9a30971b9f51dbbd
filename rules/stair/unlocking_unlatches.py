"""Unlocking a stair door must leave it latched, or the stair fills with smoke."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.context import Context
from doorlint.events import Event, Latch, Lock
from doorlint.outcome import Cited, Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec.model import Opening

from ..failure.doors import lock_place, locks_of, open_for, row_of, way
from ..fire.doors import grounds
from .demands import CAUTION, no_floor_door

RULE = Rule(
    "stair/unlocking-unlatches",
    title="Unlocking a stair door unlatches it",
    level=Level.ERROR,
    over=Opening,
    applies=lambda opening: bool(locks_of(opening)),
    scope="openings with an electric lock",
    basis=(
        Cited("International Building Code", "2015 to 2024", "stairway doors", "clause by edition"),
        Practice("a stair door stays latched when it is unlocked", physics="an unlatched door gives way to pressure"),
    ),
    evidence=("event", "lock", "latch"),
    why="The release lets people back in, and the fire with them, for the strike lets the latch go as well.",
    cure="Unlock the lever or trim, not the latch: a fail-safe lock whose latchbolt stays engaged.",
    limits="Whether the door then closes and latches again is tried on site. " + CAUTION,
    life_safety=True,
    incomplete=uncounted.devices,
)

RELEASES = (Event.FIRE_ALARM, Event.STANDBY_EXHAUSTED, Event.LOCK_CABLE_CUT, Event.CREDENTIAL, Event.OUTPUT_STUCK)
"""What unlocks the door, for whatever reason; an output stuck in release shows what any command does."""


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    reason = no_floor_door(opening)
    if reason:
        yield not_applicable(reason)
        return
    rows = [row_of(opening, context, event) for event in RELEASES]
    basis = grounds(context.spec.project, "stair_reentry/without_unlatching", "fire_door/active_latch")
    unlatched = [row for row in rows if row.lock is Lock.UNLOCKED and row.latch is Latch.UNLATCHED]
    unknown = [row for row in rows if row.lock is None or (row.lock is Lock.UNLOCKED and row.latch is None)]
    if unlatched:
        row = unlatched[0]
        related = tuple(Related(lock.place.key, f"{lock.name} is what lets go") for lock in locks_of(opening)[1:3])
        text = way(row.event.title, row.because, "unlocked and unlatched")
        yield failed(text, lock_place(opening), related=related, basis=basis)
    elif unknown:
        yield open_for(unknown, opening)
    else:
        yield ok("the latch stays engaged when the door is unlocked", lock_place(opening), basis=basis)
