"""The fire alarm releases through a controller: what if the controller is dead, hung or cut off at that time?"""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.events import Event, Lock
from doorlint.events.circuit import Case
from doorlint.outcome import Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec.model import Opening

from ..egress.lists import CAUTION
from .doors import leads_out, lock_place, locks_of, open_because, open_for, row_of, together, way

RULE = Rule(
    "failure/fire-release-through-controller",
    title="The fire alarm releases the lock only through a controller",
    level=Level.ERROR,
    over=Opening,
    applies=lambda opening: bool(locks_of(opening)),
    scope="openings with an electric lock",
    basis=(
        Practice(
            "the fire alarm breaks the feed of the lock itself, with no processor or network between",
            physics="software releases nothing while the controller is dead, hung or cut off",
        ),
    ),
    evidence=("what happens together with the fire alarm", "state of the lock"),
    why="Fire takes the network room first; the alarm then tells a controller that no longer runs.",
    cure="Take a contact of the fire alarm into the feed of the lock.",
    limits="A lock that no fire alarm releases at all is a rule of its own, so is one on PoE alone. " + CAUTION,
    life_safety=True,
)

TOGETHER = (
    ("fire alarm while the controller hangs", Case(fire=True, hung=True)),
    ("fire alarm while the controller is dead", Case(fire=True, dead=True)),
    ("fire alarm while the network is lost", Case(fire=True, network_lost=True)),
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    if not leads_out(opening, context):
        yield not_applicable("nothing holds people in electrically")
        return
    normal, fire = (row_of(opening, context, e) for e in (Event.NORMAL, Event.FIRE_ALARM))
    if fire.lock is None:
        yield open_for((fire,), opening)
        return
    if fire.lock is Lock.LOCKED or normal.lock is Lock.UNLOCKED:
        yield not_applicable("the fire alarm does not change the lock")
        return
    for title, case in TOGETHER:
        found = together(opening, context, case)
        if found.lock.value is None:
            yield open_because(found.lock.gaps, f"cannot be decided for: {title}", opening)
            return
        if found.lock.value:
            told = [i for i in opening.items.values() if i.signals and i.sheet and i.sheet.kind == "fire_alarm_relay"]
            related = tuple(Related(item.at("signals"), f"{item.name} only tells the controller") for item in told)
            yield failed(way(title, found.lock.why, "still locked"), lock_place(opening), related=related)
            return
    yield ok("the fire alarm releases the lock whatever the controller does", lock_place(opening))
