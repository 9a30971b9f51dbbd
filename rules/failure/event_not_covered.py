"""Whether the spec says enough to tell what the door does in every event."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from doorlint.context import Context
from doorlint.events import EVENTS, Event, Ingress, Row
from doorlint.outcome import Level, Practice, Verdict, failed, ok
from doorlint.rulebook import Rule
from doorlint.spec.model import Opening

from .doors import WORN, lock_place, locks_of, open_for, way

RULE = Rule(
    "failure/event-not-covered",
    title="The sequence of operation of a door has a gap",
    level=Level.WARNING,
    over=Opening,
    applies=lambda opening: bool(locks_of(opening)),
    scope="openings with an electric lock",
    basis=(
        Practice(
            "a sequence of operation tells for each event what lock, latch, egress and ingress do, what is reported "
            "and how the door becomes locked again"
        ),
    ),
    evidence=("event", "what is not settled", "state in normal operation"),
    why="What the sequence is silent about is argued over at commissioning, or found out on the day.",
    cure="State the fields named: wiring, rest state, fail mode, what a controller does offline and when it hangs.",
    limits="An event that the list of events does not have is not looked at. " + WORN,
)

CELLS = ("lock", "latch", "egress", "ingress_without", "ingress_with")


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    rows = context.matrix(opening).rows
    unsettled = [row for row in rows if any(getattr(row, cell) is None for cell in CELLS)]
    normal = rows[EVENTS.index(Event.NORMAL)]
    if normal.ingress_without is Ingress.YES:
        text = way(normal.event.title, normal.because, "anybody walks in: the electric lock locks nothing")
        yield failed(text, lock_place(opening))
    if unsettled:
        yield open_for(_widest_first(unsettled), opening)
    elif normal.ingress_without is not Ingress.YES:
        yield ok(f"all {len(EVENTS)} events are settled", lock_place(opening))


def _widest_first(rows: Iterable[Row]) -> list[Row]:
    """The rows with most open cells first, so that the message names what matters most."""
    return sorted(rows, key=lambda row: -sum(getattr(row, cell) is None for cell in CELLS))
