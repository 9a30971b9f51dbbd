"""The sequence of operation of every opening: what it does in each event, as its wiring makes it do."""

from __future__ import annotations

from collections.abc import Iterator

from ..context import Context
from ..events import Row
from ..events.states import Ingress
from ..report.sequence import prose
from ..reviewing import Result
from ..spec.model import Opening
from .tables import NONE, Cell, Column, Open, Table, optional, text, waiting, words

ARRANGEMENTS = tuple(map(Column, ("opening", "title", "arrangement", "why", "holds egress", "releases it")))
WORDS = tuple(map(Column, ("opening", "part", "sequence")))
EVENTS = tuple(
    map(
        Column,
        (
            "opening", "event", "lock", "latch", "egress", "entry without credential", "entry with credential",
            "reported", "locks again", "why",
        ),
    )
)  # fmt: skip

INGRESS = {
    Ingress.NO: "no",
    Ingress.YES: "yes",
    Ingress.GRANTED: "for the granted time",
    Ingress.KEY: "by mechanical key",
}
"""Whether somebody gets in, in words."""


def build(_: Result, context: Context) -> tuple[Table, ...]:
    """The arrangement of each opening, its sequence in words, and each opening in each event."""
    openings = tuple(context.spec.openings.values())
    return (
        Table(
            "arrangements",
            "Locking arrangement of each opening",
            ARRANGEMENTS,
            tuple(_arrangement(one, context) for one in openings),
            notes=("Told by devices and wiring, not by what the spec claims.",),
            cautions=("Whether an arrangement is permitted at an opening is decided by the adopted codes and the "
                      "authority having jurisdiction.",),
        ),
        Table(
            "words",
            "Sequence of operation in words",
            WORDS,
            tuple(
                (text(one.id, "id"), number, words(paragraph))
                for one in openings
                for number, paragraph in enumerate(prose(one, context), 1)
            ),
        ),
        Table(
            "events",
            "Each opening in each event",
            EVENTS,
            tuple(row for one in openings for row in _events(one, context)),
            notes=("Lock, latch and entry as met from the unsecured side; egress as met from inside.",),
        ),
    )  # fmt: skip


def _arrangement(one: Opening, context: Context) -> tuple[Cell, ...]:
    found = context.arrangement(one)
    kind: Cell = waiting(found.open_because) if found.kind is None else found.kind.replace("_", " ")
    return (
        text(one.id, "id"),
        optional(one.title),
        kind,
        words(found.why) if found.why else NONE,
        ", ".join(item.name for item in found.holding) or NONE,
        ", ".join(item.name for item in found.releasing) or NONE,
    )


def _events(one: Opening, context: Context) -> Iterator[tuple[Cell, ...]]:
    for row in context.matrix(one).rows:
        yield (
            text(one.id, "id"),
            row.event.title,
            *states(row),
            words("; ".join(row.alarms)) if row.alarms else "nothing",
            words(row.relock) if row.relock else relock(row),
            words("; ".join(row.because)) if row.because else NONE,
        )


def states(row: Row) -> tuple[Cell, Cell, Cell, Cell, Cell]:
    """Lock, latch, egress, entry without and with credential, as cells."""
    gap = waiting(row.open_because)
    return (
        gap if row.lock is None else row.lock.value,
        gap if row.latch is None else row.latch.value,
        gap if row.egress is None else row.egress.value,
        gap if row.ingress_without is None else INGRESS[row.ingress_without],
        gap if row.ingress_with is None else INGRESS[row.ingress_with],
    )


def relock(row: Row) -> Cell:
    """What stands for how the door locks again where nothing is said of it."""
    if row.lock is None:
        return Open(row.missing)
    return "is locked" if row.lock.value == "locked" else "not of itself"
