"""The way from the floor into the stair, and from the stair out at its foot, is free at all times."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.events import Egress, Event
from doorlint.outcome import Cited, Level, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import UNKNOWN, known
from doorlint.spec.model import Opening

from ..failure.doors import lock_place, open_for, row_of, way
from ..fire.doors import grounds
from .demands import CAUTION

RULE = Rule(
    "stair/way-into-stair-locked",
    title="The way into a stair, or out of it at its foot, is not free",
    level=Level.ERROR,
    over=Opening,
    applies=lambda opening: opening.stair in (True, UNKNOWN) or opening.stair_discharge in (True, UNKNOWN),
    scope="stair doors",
    basis=(
        Cited("International Building Code", "2015 to 2024", "stairway doors", "clause by edition"),
        Cited("NFPA 101", "2012 to 2024", "re-entry from stair enclosures", "clause by edition"),
    ),
    evidence=("event", "egress"),
    why="Both sides are locked until the alarm comes, and the alarm comes late.",
    cure="Leave the floor side, and the stair side of the door at the foot, to a lever or bar that is always free.",
    limits="A stair door with a delay, or with staff, is judged by the rule on that as well. " + CAUTION,
    life_safety=True,
)

EVENTS = (Event.NORMAL, Event.FIRE_ALARM)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    if opening.egress is not None and getattr(opening.egress, "side", None) == "none":
        yield not_applicable("nobody leaves through this opening")
        return
    if opening.stair is not True and opening.stair_discharge is not True:
        known(opening, "stair" if opening.stair is UNKNOWN else "stair_discharge", bool)
    foot = opening.stair_discharge is True
    basis = grounds(context.spec.project, "stair_reentry/discharge_free", "sections/stair_reentry")
    rows = [row_of(opening, context, event) for event in EVENTS]
    shut = [row for row in rows if row.egress is not None and row.egress is not Egress.FREE]
    unknown = [row for row in rows if row.egress is None]
    if shut:
        row, where = shut[0], "out of the stair" if foot else "into the stair"
        end = f"the way {where} is not free (egress {row.egress})"
        yield failed(way(row.event.title, row.because, end), lock_place(opening), basis=basis)
    elif unknown:
        yield open_for(unknown, opening)
    else:
        yield ok(f"the way {'out of' if foot else 'into'} the stair is free", lock_place(opening), basis=basis)
