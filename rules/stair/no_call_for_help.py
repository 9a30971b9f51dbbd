"""Locked stair doors in a high-rise: whoever stands in the stair can call somebody."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import codes
from doorlint.context import Context
from doorlint.outcome import Cited, Level, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.model import Opening

from ..failure.doors import lock_place, locks_of
from .demands import CAUTION, building_of, gives_reentry, no_floor_door

RULE = Rule(
    "stair/no-call-for-help",
    title="Nobody can call for help from a locked stair of a high-rise",
    level=Level.ERROR,
    over=Opening,
    applies=lambda opening: bool(locks_of(opening)),
    scope="openings with an electric lock",
    basis=(Cited("International Building Code", "2015 to 2024", "403.5.3.1", "stairway communication system"),),
    evidence=("high-rise", "two-way communication"),
    why="Somebody is locked in the stair on a Sunday, and no telephone works behind concrete.",
    cure="Give the stair two-way communication to a place that is always attended, at every fifth floor or oftener.",
    limits="On which floors the telephones hang is not in the spec. " + CAUTION,
    life_safety=True,
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    reason = no_floor_door(opening)
    settled = () if reason else tuple(gives_reentry(opening, context))
    if reason or settled:
        yield from settled or (not_applicable(reason),)
        return
    building = building_of(context.spec.project)
    if not known(building, "high_rise", bool):
        yield not_applicable("the building is no high-rise")
        return
    limit = codes.lookup(context.spec.project, "building", "stair_reentry/communication_interval")
    at = opening.at("two_way_communication")
    if known(opening, "two_way_communication", bool):
        yield ok(f"people can call for help (at least every {limit.text}th floor)", at, basis=(limit.basis,))
    else:
        related = (Related(building.at("high_rise"), "a high-rise"), Related(lock_place(opening), "locked stair side"))
        text = f"nobody can call for help from the stair; at least every {limit.text}th floor is asked for"
        yield failed(text, at, related=related, basis=(limit.basis,))
