"""Lockdown keeps people out; it must keep nobody in, and the fire alarm goes before it."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.context import Context
from doorlint.events import Egress, Event
from doorlint.events.circuit import Case
from doorlint.outcome import Cited, Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec.model import Opening

from ..egress.lists import CAUTION, nobody_leaves
from .doors import lock_place, locks_of, open_because, open_for, row_of, together, way

RULE = Rule(
    "failure/lockdown-stops-egress",
    title="Lockdown keeps people in",
    level=Level.ERROR,
    over=Opening,
    applies=lambda opening: bool(locks_of(opening)),
    scope="openings with an electric lock",
    basis=(
        Cited("International Building Code", "2015 to 2024", "doors readily openable", "clause by edition"),
        Practice("fire alarm goes before egress, egress before lockdown, lockdown before schedule"),
    ),
    evidence=("egress before and in lockdown",),
    why="Those inside flee from the attacker to a door that the lockdown has shut.",
    cure="Let lockdown refuse credentials on the unsecured side only; release the egress side by hardware.",
    limits="Staff who confine people on purpose do so by a procedure that is not in the spec. " + CAUTION,
    life_safety=True,
    incomplete=uncounted.together(uncounted.devices, uncounted.where_unknown("items.side")),
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    if nobody_leaves(opening):
        yield not_applicable("nobody leaves through this opening")
        return
    normal, locked_down = (row_of(opening, context, e) for e in (Event.NORMAL, Event.LOCKDOWN))
    fire = row_of(opening, context, Event.FIRE_ALARM)
    both = together(opening, context, Case(lockdown=True, fire=True))
    related = tuple(Related(i.place.key, f"{i.name} releases") for i in context.arrangement(opening).releasing[:3])
    unknown = [row for row in (normal, locked_down, fire) if row.egress is None]
    if unknown:
        yield open_for(unknown, opening)
        return
    assert normal.egress is not None and locked_down.egress is not None
    if locked_down.egress.rank > normal.egress.rank:
        end = f"egress {locked_down.egress}, {normal.egress} otherwise"
        yield failed(way(locked_down.event.title, locked_down.because, end), lock_place(opening), related=related)
    elif fire.egress is Egress.FREE and both.egress is not Egress.FREE:
        if both.egress is None:
            yield open_because(both.gaps, "cannot be decided for: lockdown and fire alarm at once", opening)
            return
        end = f"egress {both.egress} in spite of the fire alarm"
        yield failed(way("lockdown and fire alarm at once", both.because, end), lock_place(opening), related=related)
    else:
        yield ok(f"egress stays {normal.egress} in lockdown", lock_place(opening))
