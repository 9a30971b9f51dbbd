"""An electric lock on an escape route by BS 7273-4: released by alarm, by faults of its category, and by hand."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import codes
from doorlint.context import Context
from doorlint.outcome import Cited, Level, Verdict, not_applicable
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.model import Opening

from .lists import (
    BY_HAND,
    CAUTION,
    Case,
    Requirement,
    breaks_directly,
    case_of,
    judged,
    nothing_holds,
    on_fire_alarm,
    unlocked_in,
)

RULE = Rule(
    "egress/escape-lock-release-incomplete",
    title="An electric lock on an escape route lacks one of its releases",
    level=Level.ERROR,
    over=Opening,
    basis=(
        Cited("BS 7273-4", "2015", "categories of actuation", from_memory=True),
        Cited("Approved Document B", "2019", "electrically operated locks on escape routes", from_memory=True),
    ),
    evidence=("release category", "chain of events", "release by hand"),
    why="Each of the three releases covers the failure of the other two.",
    cure="Release on fire alarm, on loss of power and the faults of the category, and by a local manual release.",
    limits="Which category a door needs is for the fire risk assessment; double-pole breaking is not in the spec. "
    + CAUTION,
    life_safety=True,
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    case = case_of(opening, context)
    if not str(context.spec.project.codes.get("fire_alarm", "")).upper().replace(" ", "-").startswith("BS-7273-4"):
        yield not_applicable("BS 7273-4 is not adopted")
        return
    if not case.holding:
        yield not_applicable(nothing_holds(case))
        return
    yield from judged(REQUIREMENTS, case, "fire_alarm_door_release", ("fire_alarm",))


def _faults(case: Case) -> Verdict:
    category = known(case.opening, "release_category", str)
    codes.lookup(case.project, "fire_alarm", "fire_alarm/release_category", group=category)
    if category == "A":
        return unlocked_in(case, "lock_cable_cut", "standby_exhausted", "controller_dead", "controller_hung")
    return unlocked_in(case, "lock_cable_cut", "standby_exhausted")


REQUIREMENTS = (
    Requirement("fire alarm", "fire_alarm/connection", on_fire_alarm),
    Requirement("release category and its faults", "", _faults),
    Requirement("loss of power", "", lambda case: unlocked_in(case, "standby_exhausted")),
    Requirement(
        "release by hand",
        "fire_alarm/manual_release",
        lambda case: breaks_directly(case, BY_HAND, "a local manual release", "secured"),
    ),
)
