"""The list of controlled egress: every item of it, for a lock that staff release in care."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from doorlint.context import Context
from doorlint.outcome import Cited, Kind, Level, Verdict, not_applicable, to_authority
from doorlint.rulebook import Rule
from doorlint.spec import UNKNOWN, known
from doorlint.spec.model import Egress, Occupancy, Opening

from ..egress.lists import (
    BY_HAND,
    CAUTION,
    Case,
    Requirement,
    breaks_directly,
    case_of,
    count,
    elsewhere,
    follows,
    free_in,
    judged,
    listed,
    on_fire_alarm,
    permission,
    protection,
    stated,
    system,
)

EXCEPTED = ("psychiatric_care", "nursery")

RULE = Rule(
    "controlled/requirements-not-met",
    title="The list of controlled egress is not complete",
    level=Level.ERROR,
    over=Opening,
    basis=(
        Cited(
            "International Building Code",
            "2015 to 2024",
            "controlled egress doors in Groups I-1 and I-2",
            "clause by edition",
        ),
        Cited(
            "NFPA 101", "2012 to 2024", "18/19.2.2.2.4 to 18/19.2.2.2.6", "health care, locked doors", from_memory=True
        ),
    ),
    evidence=("occupancy", "chain of events", "release by staff"),
    why="Outside care, or where staff cannot release it directly, the door traps everybody behind it.",
    cure="Complete the list, or use an arrangement with free egress.",
    limits="That all staff carry the means at all times, and know the procedure, is as good as the spec says. "
    + CAUTION,
    life_safety=True,
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    case = case_of(opening, context)
    if follows(case) != "controlled_egress":
        yield not_applicable(elsewhere(case))
        return
    yield from judged(REQUIREMENTS, case, "controlled_egress")


def _excepted(case: Case, verdict: Verdict) -> Verdict:
    """Where the lock itself keeps people from harm, some codes waive the automatic release: the authority says."""
    occupancy = case.opening.occupancy
    if verdict.kind is Kind.FAIL and isinstance(occupancy, Occupancy) and occupancy.use is UNKNOWN:
        known(occupancy, "use", str)
    if verdict.kind is Kind.FAIL and isinstance(occupancy, Occupancy) and occupancy.use in EXCEPTED:
        use = str(occupancy.use).replace("_", " ")
        text = f"{verdict.message}; an exception for {use} may waive this: ask the authority"
        return to_authority(text, verdict.place, related=verdict.related)
    return verdict


def _remote_switch(case: Case) -> Verdict:
    return breaks_directly(case, BY_HAND, "a switch at a staffed place", "remote")


def _needed(case: Case) -> bool:
    return known(case.opening, "clinical_need", bool)


def _egress(case: Case) -> Egress:
    return known(case.opening, "egress", Egress)


def _waived(*events: str) -> Callable[[Case], Verdict]:
    return lambda case: _excepted(case, free_in(case, *events))


REQUIREMENTS = (
    Requirement(
        "occupancy", "", lambda case: permission(case, "controlled_egress/permission", "controlled egress", _needed)
    ),
    Requirement(
        "clinical need",
        "",
        lambda case: stated(case.opening, "clinical_need", "care needs the lock", "no clinical need is claimed"),
    ),
    Requirement("sprinklers or detection", "controlled_egress/protection", protection),
    Requirement(
        "fire alarm", "controlled_egress/fire_release", lambda case: _excepted(case, on_fire_alarm(case, free_in))
    ),
    Requirement(
        "loss of lock power", "controlled_egress/power_release", _waived("lock_cable_cut", "standby_exhausted")
    ),
    Requirement("release from a staffed place", "controlled_egress/remote_release", _remote_switch),
    Requirement(
        "means of staff",
        "controlled_egress/staff_can_unlock",
        lambda case: stated(case.opening, "staff_release", "all staff can release it", "not all staff can release it"),
    ),
    Requirement(
        "emergency plan",
        "controlled_egress/emergency_plan",
        lambda case: stated(
            case.opening, "emergency_plan", "the plan tells the release", "the plan is silent on the release"
        ),
    ),
    Requirement(
        "locks on the way out",
        "controlled_egress/locks_in_path",
        lambda case: count(
            case, "controlled_egress/locks_in_path", "locks on the way out", _egress(case), "locks_in_path"
        ),
    ),
    Requirement(
        "emergency lighting",
        "controlled_egress/emergency_lighting",
        lambda case: stated(
            case.opening, "emergency_lighting", "the door is lit in an emergency", "the door is not lit in an emergency"
        ),
    ),
    Requirement(
        "listing", "controlled_egress/listing", lambda case: listed(case, "controlled_egress/listing", system(case))
    ),
)
