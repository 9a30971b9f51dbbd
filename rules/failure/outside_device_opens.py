"""The device outside is torn off, its cores shorted or opened: does the door stay locked?"""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.events import Event, Ingress, Lock
from doorlint.outcome import Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec.model import Opening

from .doors import WORN, lock_place, locks_of, open_for, resists, row_of, way

RULE = Rule(
    "failure/outside-device-opens",
    title="One device torn off outside opens the door",
    level=Level.ERROR,
    over=Opening,
    applies=lambda opening: bool(locks_of(opening)),
    scope="openings with an electric lock",
    basis=(
        Practice(
            "no failure of a device on the unsecured side unlocks a door that has to resist",
            physics="a cut pair carries no current, and a shorted pair is a closed contact",
        ),
    ),
    evidence=("device outside", "what it does to the lock"),
    why="Smash the reader, join or cut two wires, walk in.",
    cure="Switch the lock on the secured side; let the device outside carry data only.",
    limits="Force against leaf, frame and lock is another matter. " + WORN,
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    normal, torn = (row_of(opening, context, e) for e in (Event.NORMAL, Event.OUTSIDE_DEVICE_TORN_OFF))
    if normal.ingress_without is Ingress.YES or normal.lock is Lock.UNLOCKED:
        yield not_applicable("the door is not locked in normal operation either")
    elif torn.ingress_without is Ingress.NO:
        yield ok(way(torn.event.title, torn.because, "the door stays locked"), lock_place(opening))
    elif not resists(opening):
        yield not_applicable(f"the opening need not resist (security {opening.security})")
    elif torn.ingress_without is None:
        yield open_for((torn,), opening)
    else:
        reached = [e for e in context.exposed(opening) if e.unlocks and e.conductor.what != "mains"]
        at = reached[0].conductor.place if reached else lock_place(opening)
        related = tuple(Related(e.conductor.item.place.key, e.conductor.label) for e in reached[:3])
        yield failed(way(torn.event.title, torn.because, "anybody walks in"), at, related=related)
