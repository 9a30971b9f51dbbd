"""A lock that holds people in, and what the fire alarm does to it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from doorlint import codes
from doorlint.context import Context
from doorlint.outcome import Cited, Kind, Level, Verdict, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec.model import Building, Opening

from .lists import (
    CAUTION,
    add_contact,
    case_of,
    from_fire_alarm,
    nobody_leaves,
    nothing_holds,
    on_fire_alarm,
    unlocked_in,
)

RULE = Rule(
    "egress/fire-alarm-does-not-release",
    title="A lock that holds people in is not released by the fire alarm",
    level=Level.ERROR,
    over=Opening,
    basis=(Cited("NFPA 72", "2010 to 2022", "21.9", "electrically locked doors", from_memory=True),),
    evidence=("event", "why", "state of the lock"),
    why="The alarm sounds, everybody comes to the door, and the magnet holds.",
    cure="Take a contact of the fire alarm, energised at rest, into the feed of the lock.",
    limits="Only locks against the direction of egress; free egress by hardware needs no link. " + CAUTION,
    life_safety=True,
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    case = case_of(opening, context)
    if nobody_leaves(opening):
        yield not_applicable("nobody leaves through this opening")
        return
    if not case.holding:
        yield not_applicable(nothing_holds(case))
        return
    building = case.project.building
    if isinstance(building, Building) and building.fire_alarm is False:
        yield not_applicable("the building has no fire alarm", building.at("fire_alarm"))
        return
    setting = codes.lookup(case.project, "fire_alarm", "fire_alarm/connection")
    verdict = on_fire_alarm(case, unlocked_in)
    if verdict.kind is Kind.PASS:
        yield ok(verdict.message, verdict.place, basis=(setting.basis,))
    else:
        relays = case.of_kind("fire_alarm_relay")
        wired = [use for item in case.holding for use in from_fire_alarm(case, item)]
        cures = add_contact(case.holding[0], relays[0]) if len(case.holding) == 1 and relays and not wired else ()
        related = (*verdict.related, setting.related)
        yield replace(verdict, basis=(setting.basis,), related=related, repairs=cures)
