"""The list of the locked elevator lobby: a way to an exit, or every item of the arrangement."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from doorlint.context import Context
from doorlint.outcome import Cited, Level, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import UNKNOWN, known
from doorlint.spec.model import Opening

from .lists import (
    CAUTION,
    Case,
    Requirement,
    approved,
    building_of,
    case_of,
    clauses,
    judged,
    listed,
    nothing_holds,
    on_fire_alarm,
    permission,
    stated,
    system,
    unlocked_in,
)

RULE = Rule(
    "egress/elevator-lobby-incomplete",
    title="People in a locked elevator lobby have no way to an exit",
    level=Level.ERROR,
    over=Opening,
    applies=lambda opening: opening.elevator_lobby in (True, UNKNOWN) or opening.arrangement == "elevator_lobby",
    scope="openings out of elevator lobbies",
    basis=(
        Cited("International Building Code", "2024", "elevator lobby exit access doors", from_memory=True),
        Cited(
            "NFPA 101",
            "2012 to 2024",
            "elevator lobby exit access door assemblies locking",
            "7.2.1.6.3, from 2021 7.2.1.6.4",
        ),
    ),
    evidence=("other way out", "chain of events", "items of the list"),
    why="The elevators are recalled, and who stands in the lobby is locked in with the smoke.",
    cure="Give the lobby a way to an exit that passes no locked door.",
    limits="Which detectors start the release, and whether a manual box alone does, is in the fire alarm's matrix. "
    + CAUTION,
    life_safety=True,
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    case = case_of(opening, context)
    if not case.holding:
        yield not_applicable(nothing_holds(case))
        return
    if opening.alternative_exit is True:
        yield ok("people in the lobby reach an exit without passing this opening", opening.at("alternative_exit"))
        return
    for field in ("elevator_lobby", "alternative_exit"):
        if getattr(opening, field) is UNKNOWN:
            known(opening, field, bool)
    if not clauses(case.project, "elevator_lobby")[
        0
    ]:  # no adopted code has such a list: only whether it may be is left
        verdict = approved(case, _permission(case))
        yield replace(verdict, message=f"permission: {verdict.message}")
        return
    yield from judged(REQUIREMENTS, case, "elevator_lobby")


def _sprinkler(case: Case) -> Verdict:
    building = building_of(case)
    word, at = known(building, "sprinkler", str), building.at("sprinkler")
    return ok("sprinklers throughout", at) if word == "throughout" else failed(f"sprinklers: {word}", at)


def _detection(case: Case) -> Verdict:
    building = building_of(case)
    word, at = known(building, "detection", str), building.at("detection")
    if word == "throughout" or case.of_kind("smoke_detector"):
        return ok("the lobby has smoke detection", at)
    case.insist_on_devices()
    return failed("the lobby has no smoke detection", at)


def _alarm(case: Case) -> Verdict:
    return stated(building_of(case), "fire_alarm", "the building has a fire alarm", "the building has no fire alarm")


def _permission(case: Case) -> Verdict:
    return permission(case, "elevator_lobby/permission", "a locked elevator lobby")


REQUIREMENTS = (
    Requirement("permission", "", _permission),
    Requirement("fire alarm system", "elevator_lobby/fire_alarm", _alarm),
    Requirement("sprinklers", "elevator_lobby/sprinkler", _sprinkler),
    Requirement("detection in the lobby", "elevator_lobby/lobby_detection", _detection),
    Requirement("release on fire alarm", "elevator_lobby/fire_release", on_fire_alarm),
    Requirement(
        "loss of lock power",
        "elevator_lobby/power_release",
        lambda case: unlocked_in(case, "lock_cable_cut", "standby_exhausted"),
    ),
    Requirement(
        "communication",
        "elevator_lobby/two_way_communication",
        lambda case: stated(case.opening, "two_way_communication", "people can call for help", "nobody can be called"),
    ),
    Requirement(
        "staff",
        "elevator_lobby/staff_present",
        lambda case: stated(case.opening, "staff_release", "staff can release it", "no staff can release it"),
    ),
    Requirement("listing", "elevator_lobby/listing", lambda case: listed(case, "elevator_lobby/listing", system(case))),
)
