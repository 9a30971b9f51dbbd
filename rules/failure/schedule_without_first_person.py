"""An unlock schedule that starts although nobody has come in."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Change, Level, Practice, Related, Repair, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.model import Opening

from .doors import WORN, locks_of, resists

RULE = Rule(
    "failure/schedule-without-first-person",
    title="An unlock schedule opens an empty building",
    level=Level.WARNING,
    over=Opening,
    applies=lambda opening: any(lock.unlock_schedule is not None for lock in locks_of(opening)),
    scope="openings that are unlocked by schedule",
    basis=(Practice("an unlock schedule starts only when the first person has come in with a credential"),),
    evidence=("schedule",),
    why="On a holiday, or on the day the snow keeps everybody at home, the door opens for nobody but the thief.",
    cure="Let the schedule start with the first person in, and give it the holidays.",
    limits="Holidays are not in the spec. " + WORN,
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    lock = next(lock for lock in locks_of(opening) if lock.unlock_schedule is not None)
    if opening.first_person_in is True:
        yield ok("the schedule waits for the first person in", opening.at("first_person_in"))
    elif not resists(opening):
        yield not_applicable(f"the opening need not resist (security {opening.security})")
    elif not known(opening, "first_person_in", bool):
        change = Change(opening.at("first_person_in"), "true")
        yield failed(
            f"{lock.name} is unlocked by schedule whether or not somebody has come in",
            opening.at("first_person_in"),
            related=(Related(lock.at("unlock_schedule"), "the schedule"),),
            repairs=(Repair("let the schedule wait for the first person in", (change,)),),
        )
