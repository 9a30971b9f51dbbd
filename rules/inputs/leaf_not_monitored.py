"""A leaf whose position nobody reports."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.context import Context
from doorlint.events.door import READERS, kind_of, signals_to
from doorlint.outcome import Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.model import Item, Opening

from ..failure.doors import lock_place, locks_of
from ..tamper.doors import leaf_of

RULE = Rule(
    "inputs/leaf-not-monitored",
    title="The position of a leaf is not reported",
    level=Level.WARNING,
    over=Opening,
    applies=lambda opening: bool(locks_of(opening)),
    scope="openings with an electric lock",
    basis=(Practice("each leaf of a controlled opening has a position switch that reports"),),
    why="The inactive leaf stands open all night, and the controller knows nothing of it.",
    cure="Fit a position switch to each leaf, wired in series or to inputs of their own, and report it.",
    limits="A switch that is listed and wired may still be defeated or set wrong; other rules look at that.",
)


_MAY_REPORT = uncounted.together(
    uncounted.devices, uncounted.where_unknown("items.leaf", "items.signals", "items.sheet.monitors")
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    items = list(opening.items.values())
    if not any(kind_of(item) in READERS for item in items):
        yield not_applicable("no reader is listed: nobody is let in by the system")
        return
    count = known(leaf_of(opening), "count", int)
    watching = [item for item in items if _watches(item) and signals_to(item)]
    names = {item.leaf if isinstance(item.leaf, str) else "single" for item in watching}
    watched = len(watching) if names <= {"single"} else len(names - {"single"})
    related = tuple(Related(item.place.key, f"{item.name} reports") for item in watching[:3])
    if watched >= count:
        yield ok(f"the position of each leaf is reported ({count})", lock_place(opening), related=related)
    elif gaps := _MAY_REPORT(opening, context):
        raise gaps[0]
    else:
        text = f"the position of {watched} of {count} {'leaf' if count == 1 else 'leaves'} is reported"
        yield failed(text, lock_place(opening), related=related)


def _watches(item: Item) -> bool:
    monitors = item.sheet.monitors if item.sheet is not None else None
    return kind_of(item) == "door_position_switch" or (isinstance(monitors, tuple) and "door_position" in monitors)
