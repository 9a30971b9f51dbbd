"""A controller that hangs or dies must not take the way out with it."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.context import Context
from doorlint.events import Event
from doorlint.outcome import Cited, Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec.model import Opening

from ..egress.lists import CAUTION, nobody_leaves
from .doors import lock_place, locks_of, open_for, row_of, way

RULE = Rule(
    "failure/controller-failure-traps",
    title="Egress gets worse when a controller hangs, dies or loses the network",
    level=Level.ERROR,
    over=Opening,
    applies=lambda opening: bool(locks_of(opening)),
    scope="openings with an electric lock",
    basis=(
        Practice(
            "the way out does not hang on a processor",
            physics="an input of a controller that hangs or has no power has no effect on the lock",
        ),
        Cited("NFPA 101", "2012 to 2024", "7.2.1.6", "special locking arrangements", from_memory=True),
    ),
    evidence=("event", "egress before and after"),
    why="The program hangs, the last state stays, and the release that the program should have given never comes.",
    cure="Break the feed of the lock by the release device itself; let the controller only be told.",
    limits="How soon a watchdog restarts a controller is not in the spec. " + CAUTION,
    life_safety=True,
    incomplete=uncounted.together(uncounted.devices, uncounted.where_unknown("items.signals")),
)

FAILURES = (Event.NETWORK_LOST, Event.POE_PORT_LOST, Event.CONTROLLER_DEAD, Event.CONTROLLER_HUNG)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    if nobody_leaves(opening):
        yield not_applicable("nobody leaves through this opening")
        return
    normal = row_of(opening, context, Event.NORMAL)
    rows = [row_of(opening, context, event) for event in FAILURES]
    unknown = [row for row in (normal, *rows) if row.egress is None]
    if normal.egress is None:
        yield open_for((normal,), opening)
        return
    worse = [row for row in rows if row.egress is not None and row.egress.rank > normal.egress.rank]
    for row in worse:
        end = f"egress {row.egress}, {normal.egress} in normal operation"
        related = tuple(Related(i.place.key, f"{i.name} holds people in") for i in context.arrangement(opening).holding)
        yield failed(way(row.event.title, row.because, end), lock_place(opening), related=related[:3])
    if unknown:
        yield open_for(unknown, opening)
    elif not worse:
        yield ok(f"egress stays {normal.egress} without controller and without network", lock_place(opening))
