"""A fire door that is unlatched in a fire alarm, by the alarm itself or because nothing ends a schedule."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.events import Event, Latch
from doorlint.events.circuit import Case
from doorlint.outcome import Cited, Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import UNKNOWN, known
from doorlint.spec.fields import Undecided
from doorlint.spec.model import Opening

from ..failure.doors import lock_place, locks_of, open_because, open_for, row_of, together, way
from .doors import CAUTION, grounds, unrated

RULE = Rule(
    "fire/unlatched-in-fire-alarm",
    title="A fire door is unlatched while the fire alarm is active",
    level=Level.ERROR,
    over=Opening,
    applies=lambda opening: bool(locks_of(opening)),
    scope="openings with an electric lock",
    basis=(
        Cited("NFPA 80", "2016 to 2022", "6.4.4.3.3", "automatic latching on fire detection"),
        Cited("NFPA 80", "2010 to 2022", "latching of swinging fire doors"),
        Practice(
            "what holds a latch back lets it go in a fire alarm", physics="an unlatched door gives way to the pressure"
        ),
    ),
    evidence=("event", "latch", "schedule"),
    why="By day the strike is held open for convenience; in the fire it stays open, and the compartment with it.",
    cure="Break the feed of strike or retraction by a contact of the fire alarm, so that the latch is held again.",
    limits="A credential that toggles the lock is not in the spec unless an unlock schedule stands for it. " + CAUTION,
    life_safety=True,
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    if unrated(opening):
        yield not_applicable("the opening is not fire-rated")
        return
    normal, fire = (row_of(opening, context, e) for e in (Event.NORMAL, Event.FIRE_ALARM))
    basis = grounds(context.spec.project, "fire_door/latch_on_alarm", "fire_door/active_latch")
    if normal.latch is Latch.UNLATCHED:
        yield not_applicable("nothing latches the door in normal operation either")
    elif fire.latch is None:
        yield open_for((fire,), opening)
    elif fire.latch is Latch.UNLATCHED:
        known(opening, "fire_rating", str)
        yield failed(way(fire.event.title, fire.because, "unlatched"), lock_place(opening), basis=basis)
    else:
        yield _by_schedule(opening, context, basis)


def _by_schedule(opening: Opening, context: Context, basis: tuple[Cited, ...]) -> Verdict:
    held = [lock for lock in locks_of(opening) if lock.unlock_schedule is not None]
    if not held:
        return ok("latched in a fire alarm, and no schedule holds the latch back", lock_place(opening), basis=basis)
    # a schedule holds the output as one that is stuck in release does, whether or not a reader is listed
    found = together(opening, context, Case(stuck=True, fire=True))
    if found.latch.value is False:
        lock = held[0]
        if lock.unlock_schedule is UNKNOWN:
            raise Undecided("unlock_schedule", lock.at("unlock_schedule"), stated=True)
        known(opening, "fire_rating", str)
        related = (Related(lock.at("unlock_schedule"), "the schedule that holds the latch back"),)
        because = [f"the schedule holds {lock.name} released", *(why for why in found.lock.why if "stuck" not in why)]
        text = way("fire alarm in unlocked hours", because, "the latch stays held back")
        return failed(text, lock.place.key, related=related, basis=basis)
    if found.latch.value is None:
        return open_because(found.latch.gaps, "cannot be decided for: fire alarm in unlocked hours", opening)
    return ok("the fire alarm ends the schedule: the door latches", lock_place(opening), basis=basis)
