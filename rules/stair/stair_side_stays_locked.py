"""Whoever is in the stair must be able to come back: the stair side can be unlocked, and unlocks without power."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.events import Event, Lock
from doorlint.outcome import Cited, Level, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec.model import Opening

from ..failure.doors import lock_place, open_for, row_of, way
from .demands import CAUTION, demanding, gives_reentry, no_floor_door, remote_releases, unlocked_in

RULE = Rule(
    "stair/stair-side-stays-locked",
    title="The stair side of a door cannot be unlocked",
    level=Level.ERROR,
    over=Opening,
    basis=(
        Cited("International Building Code", "2015 to 2024", "stairway doors", "clause by edition"),
        Cited("NFPA 101", "2012 to 2024", "re-entry from stair enclosures", "clause by edition"),
    ),
    evidence=("event", "state of the stair side", "stories"),
    why="Smoke comes up the stair, and behind every door there is a floor that nobody in the stair can enter.",
    cure="Fit a fail-safe lock or trim, with a release from the command point in its feed.",
    limits="Which levels stay open in selected re-entry is not in the spec. " + CAUTION,
    life_safety=True,
)

WITHOUT_POWER = (Event.STANDBY_EXHAUSTED, Event.LOCK_CABLE_CUT)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    reason = no_floor_door(opening)
    settled = () if reason else tuple(gives_reentry(opening, context))
    if reason or settled:
        yield from settled or (not_applicable(reason),)
        return
    asking = demanding(context.spec.project, "stair_reentry/release")
    if not asking:
        yield ok("no adopted code demands re-entry for a stair of this height", lock_place(opening))
        return
    yield _judged(opening, context, {"basis": tuple(s.basis for s in asking), "related": (asking[0].related,)})


def _judged(opening: Opening, context: Context, ground: dict[str, object]) -> Verdict:
    door, at = context.door(opening), lock_place(opening)
    if not door.locks:
        latches = [item for leaf in door.leaves for item in leaf.latchers]
        place = latches[0].place.key if latches else at
        return failed("the stair side is locked mechanically: nothing unlocks it from a distance", place, **ground)
    powerless = tuple(row_of(opening, context, event) for event in WITHOUT_POWER)
    fire = row_of(opening, context, Event.FIRE_ALARM)
    unlocked = unlocked_in(powerless)
    if unlocked is False:
        row = next(row for row in powerless if row.lock is Lock.LOCKED)
        return failed(way(row.event.title, row.because, "the stair side stays locked"), at, **ground)
    if unlocked is None or fire.lock is None:
        return open_for((*powerless, fire), opening)
    if fire.lock is Lock.LOCKED and not remote_releases(opening, context):
        text = "neither the fire alarm nor a switch at another place breaks the feed of the lock"
        related = tuple(Related(lock.at("released_by"), f"the feed of {lock.name}") for lock in door.locks[:2])
        return failed(text, at, **{**ground, "related": related})
    return ok("the stair side unlocks from a distance and without power", at, **ground)
