"""A door that a fault has unlocked should say so."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.context import Context
from doorlint.events import Event, Lock
from doorlint.outcome import Level, Practice, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec.model import Opening

from .doors import WORN, lock_place, locks_of, open_for, resists, row_of, way

RULE = Rule(
    "failure/unlocked-without-alarm",
    title="A fault unlocks the door and nothing reports it",
    level=Level.WARNING,
    over=Opening,
    applies=lambda opening: bool(locks_of(opening)),
    scope="openings with an electric lock",
    basis=(
        Practice(
            "a lock that a fault can release is monitored: bond, bolt or latch, or the line itself is supervised",
            physics="a fail-safe lock opens as soon as its cable is cut",
        ),
    ),
    evidence=("event", "what is reported"),
    why="The cut cable is found in the morning, with the door open all night.",
    cure="Wire the bond or latch monitor of the lock to the controller, or supervise the line.",
    limits="Whether somebody reacts to the report is not in the spec. " + WORN,
    incomplete=uncounted.devices,
)

FAULTS = (Event.STANDBY_EXHAUSTED, Event.OUTPUT_STUCK, Event.LOCK_CABLE_CUT, Event.OUTSIDE_DEVICE_TORN_OFF)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    rows = [row_of(opening, context, event) for event in FAULTS]
    silent = [row for row in rows if row.lock is Lock.UNLOCKED and not row.alarms]
    unknown = [row for row in rows if row.lock is None]
    if (silent or unknown) and not resists(opening):
        yield not_applicable(f"the opening need not resist (security {opening.security})")
        return
    if silent:
        uncounted.insist([*uncounted.devices(opening, context), *_reports(opening, context)])
    for row in silent:
        yield failed(way(row.event.title, row.because, "unlocked, and nothing reports it"), lock_place(opening))
    if unknown:
        yield open_for(unknown, opening)
    elif not silent:
        yield ok("every fault that unlocks the door is reported", lock_place(opening))


_reports = uncounted.where_unknown("items.sheet.monitors", "items.supervised", "items.signals")
"""What may report, where that is given as unknown."""
