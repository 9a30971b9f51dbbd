"""Whether somebody inside can get out in every event; for critical openings, in every pair of faults as well."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.egress import Arrangement
from doorlint.events import EVENTS, FaultRow, Row
from doorlint.events import Egress as Way
from doorlint.outcome import Cited, Level, Practice, Verdict, failed, not_applicable, ok, undecided
from doorlint.rulebook import Rule
from doorlint.spec import UNKNOWN, known
from doorlint.spec.model import Opening

from .lists import CAUTION, chain, nobody_leaves

RULE = Rule(
    "egress/impossible-in-an-event",
    title="There is an event in which nobody gets out",
    level=Level.ERROR,
    over=Opening,
    basis=(
        Cited(
            "International Building Code",
            "2015 to 2024",
            "doors readily openable from the egress side",
            "clause by edition",
        ),
        Practice(
            "a way out opens whatever single device, cable or supply fails", physics="a lock without release stays shut"
        ),
    ),
    evidence=("event", "why", "egress"),
    why="Each event is an ordinary day of a building: a switch restarts, a cable is cut, a controller hangs.",
    cure="Put the release into the feed of the lock, or use hardware that opens without electricity.",
    limits="One fault at a time; pairs of faults only for openings marked critical, and of those not two release "
    "devices that both fail to react. " + CAUTION,
    life_safety=True,
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    if nobody_leaves(opening):
        yield not_applicable("nobody leaves through this opening")
        return
    rows = [context.matrix(opening).row(event) for event in EVENTS]
    yield from _verdicts(opening, rows, context.arrangement(opening))
    if opening.critical is UNKNOWN:
        known(opening, "critical", bool)
    if opening.critical is True:
        yield from _in_pairs(opening, context)


def _verdicts(opening: Opening, rows: list[Row], arrangement: Arrangement) -> Iterator[Verdict]:
    trapped = [row for row in rows if row.egress is Way("impossible")]
    unknown = [row for row in rows if row.egress is None]
    if trapped:
        row = min(trapped, key=lambda row: len(row.because))
        others = [other.event.title for other in trapped if other is not row]
        also = f"; so too when {'; '.join(others)}" if others else ""
        yield failed(chain(row, "egress impossible") + also, row.place.key)
    if unknown:
        gaps = arrangement.open_because or tuple(gap for row in unknown for gap in row.open_because)
        names = tuple(dict.fromkeys(gap.name for gap in gaps)) or ("wiring",)
        events = ", ".join(row.event.title for row in unknown[:3])
        more = f" and {len(unknown) - 3} more" if len(unknown) > 3 else ""
        place = gaps[0].place if gaps else opening.place.key
        yield undecided(f"cannot be decided for: {events}{more}; {', '.join(names)} not stated", names, place)
    elif not trapped:
        yield ok("people get out in every event", opening.place.key)


def _in_pairs(opening: Opening, context: Context) -> Iterator[Verdict]:
    rows = context.pairs(opening)
    # that all that is meant to release fails by itself at once is no pair of faults that a design can answer
    rows = tuple(row for row in rows if any(fault.event is not None for fault in row.faults))
    trapped = [row for row in rows if row.egress is Way("impossible")]
    for row in _shortest(trapped):
        faults = " and ".join(fault.title for fault in row.faults)
        yield failed(" -> ".join((f"two faults: {faults}", *row.because, "egress impossible")), row.place.key)
    unknown = [row for row in rows if row.egress is None]
    if unknown:
        gaps = [gap for row in unknown for gap in row.open_because]
        names = tuple(dict.fromkeys(gap.name for gap in gaps)) or ("wiring",)
        text = f"cannot be decided for {len(unknown)} pairs of faults; {', '.join(names)} not stated"
        yield undecided(text, names, gaps[0].place if gaps else opening.place.key)
    elif not trapped:
        yield ok("people get out under every pair of faults that is known", opening.place.key)


def _shortest(rows: list[FaultRow]) -> list[FaultRow]:
    """At most three, the shortest chains first: more say the same in other words."""
    return sorted(rows, key=lambda row: (len(row.because), [fault.title for fault in row.faults]))[:3]
