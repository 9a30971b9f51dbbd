"""A fail-secure lock without a cylinder: nobody gets in when the power is gone."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.context import Context
from doorlint.events import Event, Ingress, Lock, Row
from doorlint.outcome import Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import UNKNOWN, Undecided
from doorlint.spec.model import Opening

from .doors import WORN, lock_place, locks_of, open_for, row_of, way

RULE = Rule(
    "failure/no-way-in-without-power",
    title="A fail-secure lock has no mechanical way in when power is gone",
    level=Level.WARNING,
    over=Opening,
    applies=lambda opening: bool(locks_of(opening)),
    scope="openings with an electric lock",
    basis=(
        Practice(
            "a door that stays locked without power has a cylinder, or another door into the room has one",
            physics="a lock that needs current to release stays locked when there is none",
        ),
    ),
    evidence=("event", "way in"),
    why="Nobody gets into the room of the dead electronics because the electronics are dead, and the door is drilled.",
    cure="Fit a cylinder with a key for the responders, or a second entrance with a supply of its own.",
    limits="Doors into the same room are found by the name of the room. " + WORN,
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    door = context.door(opening)
    if all(door.fail_mode(lock) == "safe" for lock in door.locks):
        yield not_applicable("every lock is fail-safe: without power the door is open")
        return
    rows = [row_of(opening, context, e) for e in (Event.STANDBY_EXHAUSTED, Event.LOCK_CABLE_CUT)]
    shut = [row for row in rows if row.lock is Lock.LOCKED and row.ingress_with is Ingress.NO]
    unknown = [row for row in rows if row.lock is None or row.ingress_with is None]
    if shut:
        yield _elsewhere(shut[0], opening, context)
    elif unknown:
        yield open_for(unknown, opening)
    else:
        yield ok(f"without power the way in is: {rows[0].ingress_with}", lock_place(opening))


def _elsewhere(row: Row, opening: Opening, context: Context) -> Verdict:
    room = _room(opening)
    others = [o for o in context.spec.openings.values() if o is not opening and room and room in (o.from_, o.to)]
    for other in others:
        way_in = row_of(other, context, row.event).ingress_with
        if way_in in (Ingress.KEY, Ingress.YES):
            return ok(f"{other.id} leads into {room} as well, by {way_in}", other.place.key)
    doubtful = [row_of(other, context, row.event) for other in others]
    if waiting := [one for one in doubtful if one.ingress_with is None]:
        return open_for(waiting, opening)
    uncounted.insist(_rooms_unknown(opening, context))
    related = tuple(Related(other.place.key, f"leads into {room} as well, and no better") for other in others[:3])
    return failed(way(row.event.title, row.because, "nobody gets in"), lock_place(opening), related=related)


def _rooms_unknown(opening: Opening, context: Context) -> list[Undecided]:
    """The rooms that are given as unknown, so that another way into the same room may not be seen."""
    own = [("unsecured_side", opening.unsecured_side), ("from", opening.from_), ("to", opening.to)]
    gaps = [Undecided(name, opening.place.child(name), stated=True) for name, value in own if value is UNKNOWN]
    for other in context.spec.openings.values():
        rooms = [("from", other.from_), ("to", other.to)] if other is not opening else []
        gaps += [Undecided(name, other.place.child(name), stated=True) for name, value in rooms if value is UNKNOWN]
    return gaps


def _room(opening: Opening) -> str:
    """The room behind the lock: people leave it through this opening, unless the spec says which side is unsecured."""
    room = opening.to if opening.unsecured_side == "from" else opening.from_
    return room if isinstance(room, str) else ""
