"""An interlock and the people between its doors: override, faults, help, another way, purge."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Kind, Level, Practice, Verdict, failed, ok, to_authority
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import UNKNOWN, Undecided, known
from doorlint.spec.model import Interlock, Opening

from ..egress.lists import (
    BY_HAND,
    CAUTION,
    Case,
    Requirement,
    breaks_directly,
    by_practice,
    case_of,
    free_in,
    on_fire_alarm,
    stated,
)

RULE = Rule(
    "interlock/people-locked-between",
    title="An interlock can lock people in between its doors",
    level=Level.ERROR,
    over=Opening,
    applies=lambda opening: opening.interlocked_with is not None,
    scope="openings that are interlocked with others",
    basis=(
        Practice(
            "each door of an interlock has a direct override, opens on fire alarm and loss of power; a fault of door "
            "position lets people out; the authority approves it in writing",
            physics="two doors that wait for each other stay locked for ever",
        ),
    ),
    evidence=("override", "chain of events", "fault of door position", "way out"),
    why="A cart holds the outer door, the inner one stays locked, and somebody in between feels unwell.",
    cure="Put an override on each side into the feed of the lock, and let every fault end in doors that open.",
    limits="The model codes up to 2024 have no section on interlocks: each one needs its own approval. " + CAUTION,
    life_safety=True,
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    case = case_of(opening, context)
    unknown = [name for name in known(opening, "interlocked_with", tuple) if name not in context.spec.openings]
    if unknown:
        raise Undecided(
            f"the opening {unknown[0]} that it is interlocked with", opening.at("interlocked_with"), stated=False
        )
    yield from by_practice(REQUIREMENTS, case)


def _interlock(case: Case) -> Interlock:
    return known(case.opening, "interlock", Interlock)


def _override(case: Case) -> Verdict:
    if not case.holding:
        return ok(f"people get out without it: {case.arrangement.why}", case.opening.place.key)
    return breaks_directly(case, BY_HAND, "an override", "secured")


def _alarm(case: Case) -> Verdict:
    if not case.holding:
        return ok("nothing holds people in", case.opening.place.key)
    return on_fire_alarm(case, free_in)


def _power(case: Case) -> Verdict:
    return free_in(case, "lock_cable_cut", "standby_exhausted", "controller_dead")


def _position_fault(case: Case) -> Verdict:
    interlock = _interlock(case)
    word, at = known(interlock, "on_position_fault", str), interlock.at("on_position_fault")
    if word == "frees":
        return ok("a fault of door position lets people out", at)
    says = "keeps the doors locked" if word == "locks" else "is not noticed, and the doors wait for each other"
    return failed(f"a fault of door position {says}", at)


def _help(case: Case) -> Verdict:
    call = stated(case.opening, "two_way_communication", "people between can call", "people between cannot call")
    if call.kind is Kind.FAIL:
        return call
    interlock = _interlock(case)
    return stated(interlock, "vision", "people between can call and are seen", "people between are not seen")


def _other_way(case: Case) -> Verdict:
    at = case.opening.at("alternative_exit")
    if known(case.opening, "alternative_exit", bool):
        return ok("there is another way out", at)
    if case.opening.authority_approval is True:
        return ok("it is the only way out, and the authority has approved it", case.opening.at("authority_approval"))
    if case.opening.authority_approval is UNKNOWN:
        known(case.opening, "authority_approval", bool)
    return failed("it is the only way out", at)


def _purge(case: Case) -> Verdict:
    interlock = _interlock(case)
    if interlock.purge is None:
        return ok("no air purge holds the doors", interlock.place)
    time = known(interlock, "purge", Quantity)
    at = interlock.at("purge_delays_egress")
    if known(interlock, "purge_delays_egress", bool):
        return failed(f"people on the way out wait {time.text} for the purge", at)
    return ok("nobody on the way out waits for the purge", at)


def _approval(case: Case) -> Verdict:
    at = case.opening.at("authority_approval")
    if case.opening.authority_approval is True:
        return ok("approved in writing", at)
    return to_authority("no section of the model codes covers an interlock: the authority's approval is needed", at)


REQUIREMENTS = (
    Requirement("override", "", _override),
    Requirement("fire alarm", "", _alarm),
    Requirement("loss of power or controller", "", _power),
    Requirement("fault of door position", "", _position_fault),
    Requirement("call for help", "", _help),
    Requirement("other way out", "", _other_way),
    Requirement("purge", "", _purge),
    Requirement("approval", "", _approval),
)
